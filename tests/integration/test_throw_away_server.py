"""The databases that the other tests stand on."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from sqlalchemy import create_engine, inspect

from tests.support.cli import environment, run_python
from tests.support.postgres import NoServerError, Server, binaries


def test_every_test_gets_a_book_of_its_own_on_each_database(book_url: str) -> None:
    """A fresh book has the tables and the settings of a book, and nobody's units."""
    from collection.store.engine import fetch, open_engine, reading

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
