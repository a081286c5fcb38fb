"""The throw-away PostgreSQL of a test run: one server, and a copy of a template database for each test."""

from __future__ import annotations

import itertools
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg

_KEEPER = Path(__file__).with_name("keep_postgres.py")


class NoServerError(Exception):
    """There is no PostgreSQL on this machine, or it does not start; the text says what to do."""


def binaries() -> Path:
    """Return the folder that holds initdb and postgres, the newest where there are several."""
    found = shutil.which("initdb")
    if found and (Path(found).parent / "postgres").exists():
        return Path(found).parent
    folders = [path.parent for path in Path("/usr/lib/postgresql").glob("*/bin/postgres")]
    if not folders:
        raise NoServerError(
            "The tests need the PostgreSQL server programs (initdb, postgres) and found none.\n"
            "Install them (Debian: apt-get install postgresql) or put their folder into PATH."
        )
    return max(folders, key=lambda folder: [int(number) for number in re.findall(r"\d+", str(folder))])


class Server:
    """A running server; every database of it is gone when it stops."""

    def __init__(self, address: str) -> None:
        self._address = address
        self._numbers = itertools.count(1)
        plain = address.replace("+psycopg", "") + "/postgres"
        self._admin = psycopg.connect(plain, autocommit=True)

    def url(self, database: str) -> str:
        """Return the URL of one of its databases."""
        return f"{self._address}/{database}"

    def create(self, database: str) -> str:
        """Make an empty database and return its URL."""
        self._run(f"CREATE DATABASE {database}")
        return self.url(database)

    @contextmanager
    def copy(self, template: str) -> Iterator[str]:
        """Yield the URL of a copy of a database to which nobody is connected; it is dropped afterwards."""
        name = self.make_copy(template)
        yield self.url(name)
        self.drop(name)

    def make_copy(self, template: str) -> str:
        """Make a copy of a database to which nobody is connected and return its name."""
        name = f"test_{next(self._numbers)}"
        self._run(f"CREATE DATABASE {name} TEMPLATE {template}")
        return name

    def drop(self, name: str) -> None:
        """Drop a database, whoever is connected."""
        self._run(f"DROP DATABASE {name} WITH (FORCE)")

    def disconnect_all(self, name: str) -> None:
        """End every connection to a database: one that a test left open could hold a lock."""
        self._run(f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'")

    def close(self) -> None:
        """Let go of the server."""
        self._admin.close()

    def _run(self, sql: str) -> None:
        self._admin.execute(sql.encode())


@contextmanager
def running_server() -> Iterator[Server]:
    """Run a server for as long as the block lasts; raises NoServerError."""
    command = [sys.executable, str(_KEEPER), str(binaries())]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, start_new_session=True
    ) as keeper:
        assert keeper.stdin is not None
        assert keeper.stdout is not None
        address = keeper.stdout.readline().strip()
        if not address:
            raise NoServerError(f"The PostgreSQL of {command[-1]} does not start; its log stands above.")
        server = Server(address)
        try:
            yield server
        finally:
            server.close()
            keeper.stdin.close()
            keeper.wait(timeout=60)
