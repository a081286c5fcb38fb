"""What only tests of whole commands need: processes to break, and the demo."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.cli import run_cli
from tests.support.kills import Children, children


@pytest.fixture(scope="session")
def forks(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Children]:
    """Yield what children are forked from."""
    with children(tmp_path_factory.mktemp("home")) as made:
        yield made


@pytest.fixture(scope="session")
def built_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo's book, built once; nobody may write to it, and whoever wants to takes a copy."""
    folder = tmp_path_factory.mktemp("demo")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("HOME", str(folder / "home"))
        assert 0 == run_cli(["demo"], db=folder / "demo").code
    return folder / "demo"
