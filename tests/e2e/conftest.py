"""What only tests of whole commands need: a book to type on, processes to break, and the demo."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from collection.store.engine import open_engine
from tests.support.bench import set_up_bench
from tests.support.cli import run_cli
from tests.support.kills import Children, children
from tests.support.times import NOW, TODAY

if TYPE_CHECKING:
    from tests.support.postgres import Server
    from tests.support.reused import ReusedBook
    from tests.support.whole_acts import Lender


@pytest.fixture
def book(sqlite_book: Path) -> Path:
    """Return the path of a book with a small shelf in it; a file of tests may have another of its own."""
    engine = open_engine(str(sqlite_book))
    set_up_bench(engine, TODAY, NOW)
    engine.dispose()
    return sqlite_book


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


@pytest.fixture(scope="session")
def kept_of_demo(built_demo: Path) -> Path:
    """Return a folder with what the program keeps of the demo's book once its slow lists have been looked at."""
    folder = built_demo.with_name("kept")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(folder))
        for words in (["due"], ["reorder"], ["drift"], ["instrument", "list"]):
            assert 0 == run_cli(words, db=built_demo).code
    return folder


@pytest.fixture
def looked_at(kept_of_demo: Path, own_home: None, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Let a test begin where the demo's book was looked at before, so that its slow lists are not computed anew."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(shutil.copytree(kept_of_demo, tmp_path / "kept of the demo")))


@pytest.fixture(scope="session")
def demo_on_server(postgres: Server, built_demo: Path) -> Iterator[ReusedBook]:
    """Yield what lends the demo's book on the server to one act after another."""
    from tests.support.reused import ReusedBook

    name = "demo_template"
    ran = run_cli(["move-to", postgres.create(name)], db=built_demo)
    assert 0 == ran.code, ran.err
    lender = ReusedBook(postgres, name)
    yield lender
    lender.close()


@pytest.fixture(params=["sqlite", "postgresql"])
def lend(request: pytest.FixtureRequest, built_demo: Path, tmp_path: Path) -> Lender:
    """Return what lends a fresh copy of the demo's book, once in a file and once on the server."""
    if request.param == "postgresql":
        lender: ReusedBook = request.getfixturevalue("demo_on_server")
        return lender.lend

    @contextmanager
    def file() -> Iterator[str]:
        yield str(shutil.copy(built_demo, tmp_path / "book"))

    return file
