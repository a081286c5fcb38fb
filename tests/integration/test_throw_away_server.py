"""The databases that the other tests stand on."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import create_engine, inspect

from collection.store.engine import fetch, open_engine, reading
from tests.support import reused
from tests.support.books import act, add_unit
from tests.support.cli import environment, run_python
from tests.support.postgres import NoServerError, Server, binaries
from tests.support.reused import ReusedBook


def test_every_test_gets_a_book_of_its_own_on_each_database(book_url: str) -> None:
    """A fresh book has the tables and the settings of a book, and nobody's units."""
    engine = open_engine(book_url)
    with reading(engine) as connection:
        assert [(1,)] == fetch(connection, "SELECT count(*) FROM book")
        assert [(0,)] == fetch(connection, "SELECT count(*) FROM unit")
    engine.dispose()


def test_a_copy_is_gone_after_its_test(postgres: Server) -> None:
    """A database made for one test does not fill the disk for the others."""
    with postgres.copy("template0") as url:
        engine = create_engine(url)
        assert [] == inspect(engine).get_table_names()
        engine.dispose()
    gone = create_engine(url)
    with pytest.raises(Exception, match="does not exist"):
        inspect(gone)


@pytest.fixture
def lender(postgres: Server, postgres_template: str) -> Iterator[ReusedBook]:
    """Yield what lends a database that no other test has."""
    made = ReusedBook(postgres, postgres_template)
    yield made
    made.close()


@pytest.mark.parametrize("lent_between_vacuums", [1, 1000])
def test_a_lent_book_comes_back_as_it_was(
    lender: ReusedBook, monkeypatch: pytest.MonkeyPatch, lent_between_vacuums: int
) -> None:
    """Rows that were added, changed, taken away and moved on, sequences, and a transaction that was left open."""
    monkeypatch.setattr(reused, "_LENT_BETWEEN_VACUUMS", lent_between_vacuums)
    with lender.lend() as used:
        template = whole(used)
    for _ in range(2):
        with lender.lend() as url:
            spoil(url)
            spoilt = whole(url)
            open_still = psycopg.connect(plain(url))
            open_still.execute("LOCK TABLE supply; UPDATE counter SET value = 77")
        assert {"change", "unit", "act", "counter", "supply", "sequences"} <= different(template, spoilt)
        with lender.lend() as url:
            assert set() == different(template, whole(url))
            assert used == url
        open_still.close()


@pytest.mark.parametrize(
    "sql",
    [
        "ALTER TABLE unit ADD COLUMN more text",
        "ALTER TABLE unit DISABLE TRIGGER ALL",
        "CREATE TABLE more (id int)",
        "REVOKE ALL ON unit FROM CURRENT_USER",
    ],
)
def test_a_database_of_another_shape_is_not_lent_again(lender: ReusedBook, sql: str) -> None:
    """What a test did to a table does not reach the next."""
    with lender.lend() as used:
        template = whole(used)
    with lender.lend() as url:
        assert used == url
        run(url, sql)
    with lender.lend() as url:
        assert used != url
        assert template == whole(url)


def spoil(url: str) -> None:
    """Write an act, then what no act may write."""
    engine = open_engine(url)
    with act(engine) as work:
        add_unit(work)
        work.commit("D1 comes")
    engine.dispose()
    run(url, "SET session_replication_role = replica; UPDATE supply SET id = id + 1000; DELETE FROM change")
    run(url, "SELECT setval('person_id_seq', 400)")


def plain(url: str) -> str:
    """Return a URL as the driver takes it."""
    return url.replace("+psycopg", "")


def run(url: str, sql: str) -> None:
    """Run SQL behind the program's back."""
    with psycopg.connect(plain(url)) as connection:
        connection.execute(sql.encode())


def whole(url: str) -> dict[str, object]:
    """Return every row and the sequences of a database."""
    tables = "SELECT relname FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace"
    with psycopg.connect(plain(url)) as connection:
        found: dict[str, object] = {
            name: sorted(map(repr, connection.execute(f"SELECT * FROM {name}".encode())))
            for (name,) in connection.execute(tables).fetchall()
        }
        sequences = "SELECT sequencename, last_value FROM pg_sequences ORDER BY 1"
        return {**found, "sequences": connection.execute(sequences).fetchall()}


def different(one: dict[str, object], other: dict[str, object]) -> set[str]:
    """Return the names of what is not the same in both."""
    return {name for name in one.keys() | other.keys() if one.get(name) != other.get(name)}


def test_an_empty_path_is_told_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no server programs can be found the sentence says what to install."""
    monkeypatch.setattr("shutil.which", lambda name: None)
    monkeypatch.setattr(Path, "glob", lambda self, pattern: iter(()))

    with pytest.raises(NoServerError, match="apt-get install postgresql"):
        binaries()


def test_without_a_server_the_run_ends_and_says_so() -> None:
    """Half a test run never looks like a whole one: no skips, a code that is not zero, and what to install."""
    ran = run_python(
        _RUN_WITHOUT_A_SERVER, f"{__file__}::{test_every_test_gets_a_book_of_its_own_on_each_database.__name__}"
    )

    assert 1 == ran.code
    assert "Install them" in ran.out
    assert "skipped" not in ran.out


_RUN_WITHOUT_A_SERVER = """
import sys, pytest
import tests.support.postgres as support
def none():
    raise support.NoServerError("Install them.")
support.binaries = none
sys.exit(pytest.main(["-n0", "-p", "no:cacheprovider", *sys.argv[1:]]))
"""


@pytest.mark.kills
def test_the_server_stops_when_the_tests_are_killed(tmp_path: Path) -> None:
    """Killing a test run leaves no server and no files behind."""
    parent = subprocess.Popen(
        [sys.executable, "-c", _HOLD_A_SERVER],
        stdout=subprocess.PIPE,
        text=True,
        env=environment(),
    )
    assert parent.stdout is not None
    port = int(parent.stdout.readline())
    assert _servers_on(port)

    parent.send_signal(signal.SIGKILL)
    parent.wait()
    parent.stdout.close()

    deadline = time.monotonic() + 20
    while _servers_on(port) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not _servers_on(port)


_HOLD_A_SERVER = """
import time
from tests.support.postgres import running_server
with running_server() as server:
    print(server.url("postgres").rsplit(":", 1)[1].split("/")[0], flush=True)
    time.sleep(60)
"""


def _servers_on(port: int) -> bool:
    import socket

    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0
