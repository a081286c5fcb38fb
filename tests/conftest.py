"""Fixtures of every test: a book on each database, frozen time, a home that is not the person's own."""

from __future__ import annotations

import gc
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from compileall import compile_dir
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.support.times import NOW, TODAY

if TYPE_CHECKING:
    from sqlalchemy.engine import Engine

    from tests.support.postgres import Server
    from tests.support.reused import ReusedBook

_TEMPLATE = "template_book"
_IN_MEMORY = Path("/dev/shm")  # noqa: S108  only this run's own folders are made there
_ROOM = 3_000_000_000  # bytes that the books and the two servers of a run may need


def pytest_configure(config: pytest.Config) -> None:
    """Put books and servers into memory where there is room: thousands of commits would wait for the disk."""
    if "TMPDIR" not in os.environ and os.access(_IN_MEMORY, os.W_OK) and shutil.disk_usage(_IN_MEMORY).free > _ROOM:
        os.environ["TMPDIR"] = str(_IN_MEMORY)
        tempfile.tempdir = None  # asked again, it is now this folder
    # Every core has a worker of its own: threads of one would wait for those of the others, spinning.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(20_000, 20, 20)  # at the usual 700, reading the tests takes nearly twice as long
    # Where nobody keeps bytecode, each of the hundred processes of a run would compile the whole program for itself.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False
    if config.getoption("numprocesses", default=None):
        _end_without_server()  # a worker could only crash; the process that shares out the tests can say why
        compile_dir(Path(__file__).parents[1] / "collection", quiet=2, workers=0)  # before all workers do it at once


def pytest_collection_finish() -> None:
    """Leave the thousands of collected tests out of every later search for garbage: they stay to the end."""
    gc.freeze()


def _end_without_server() -> None:
    from tests.support.postgres import NoServerError, binaries

    try:
        binaries()
    except NoServerError as trouble:
        pytest.exit(f"{trouble}\nTests without a database run alone: pytest -n0 tests/unit", returncode=1)


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    """Yield the server of this run; without one the run ends: half a run must not look like a whole one."""
    from tests.support.postgres import NoServerError, running_server

    try:
        with running_server() as server:
            yield server
    except NoServerError as trouble:
        pytest.exit(str(trouble), returncode=1)


@pytest.fixture(scope="session")
def postgres_template(postgres: Server) -> str:
    """Return the name of a database with an empty book in it."""
    _start(postgres.create(_TEMPLATE))
    return _TEMPLATE


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the path of a file with an empty book in it."""
    file = tmp_path_factory.mktemp("template") / "book.sqlite3"
    _start(str(file))
    return file


def _start(location: str) -> None:
    from collection.acts.start import start_book
    from collection.store.book import BookSettings

    start_book(location, BookSettings(), today=TODAY, now=NOW)


@pytest.fixture
def sqlite_book(sqlite_template: Path, tmp_path: Path) -> Path:
    """Return the path of a fresh book with reference data, a file of this test alone."""
    return Path(shutil.copy(sqlite_template, tmp_path / "book.sqlite3"))


@pytest.fixture(scope="session")
def reused_book(postgres: Server, postgres_template: str) -> Iterator[ReusedBook]:
    """Yield what lends one database to one test after another."""
    from tests.support.reused import ReusedBook

    lender = ReusedBook(postgres, postgres_template)
    yield lender
    lender.close()


@pytest.fixture
def postgres_book(reused_book: ReusedBook) -> Iterator[str]:
    """Yield the URL of a fresh book with reference data, which no other test sees meanwhile."""
    with reused_book.lend() as url:
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def book_url(request: pytest.FixtureRequest) -> str:
    """Return where a fresh book stands, once a file name and once a PostgreSQL URL: what --db takes."""
    return str(request.getfixturevalue("sqlite_book" if request.param == "sqlite" else "postgres_book"))


@pytest.fixture
def engine(book_url: str) -> Iterator[Engine]:
    """Yield an engine on a fresh book, on each database."""
    from collection.store.engine import open_engine

    made = open_engine(book_url)
    yield made
    made.dispose()


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Yield a place where nothing stands yet, once a file name and once the URL of an empty database."""
    if request.param == "sqlite":
        yield str(tmp_path / "new.sqlite3")
    else:
        with request.getfixturevalue("postgres").copy("template0") as url:
            yield url


@pytest.fixture
def today() -> date:
    """Return the day of every test."""
    return TODAY


@pytest.fixture
def now() -> datetime:
    """Return the instant of every test."""
    return NOW


@pytest.fixture(autouse=True)
def connections_let_go() -> Iterator[None]:
    """Close what a test left open on a server: an engine keeps one connection until it is disposed of."""
    from sqlalchemy import QueuePool, event

    opened: list[Any] = []

    def remember(connection: object, _record: object) -> None:
        opened.append(connection)

    event.listen(QueuePool, "connect", remember)
    yield
    event.remove(QueuePool, "connect", remember)
    for connection in opened:
        connection.close()


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Give every test an empty home, so that no test reads or writes a person's own book or log."""
    for name in (
        "SPINDLEBOOK_DB",
        "SPINDLEBOOK_TODAY",
        "SPINDLEBOOK_WHO",
        "NO_COLOR",
        "COLUMNS",
        "XDG_DATA_HOME",
        "XDG_STATE_HOME",
        "XDG_CACHE_HOME",
    ):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
