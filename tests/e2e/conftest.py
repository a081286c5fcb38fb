"""What only tests of whole commands need: processes to break."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.support.kills import Children, children


@pytest.fixture(scope="session")
def forks(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Children]:
    """Yield what children are forked from."""
    with children(tmp_path_factory.mktemp("home")) as made:
        yield made
