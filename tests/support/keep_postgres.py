"""Keep a throw-away PostgreSQL server for as long as standard input stays open.

Run as a child process of the tests: `python keep_postgres.py BINARIES`. It prints one line with the server's
address when it takes connections. The end of its input means that the tests are over, however they ended;
then it stops the server and removes its files. It is started in a session of its own, so that Ctrl-C reaches
the tests and not the server.
"""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

_CLUSTER = ["-U", "spindle", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync"]
_FAST = [
    "fsync=off",
    "synchronous_commit=off",
    "full_page_writes=off",
    "max_wal_size=256MB",
    "autovacuum=off",
    "wal_level=minimal",
    "max_wal_senders=0",
    "jit=off",  # the books of tests are too small for compiled queries to pay
    "max_parallel_workers_per_gather=0",  # each core has a server of its own
]


def _person() -> pwd.struct_passwd | None:
    """Return the unprivileged account to run under when this is root, for the server refuses root."""
    if os.geteuid() != 0:
        return None
    accounts = {entry.pw_name: entry for entry in pwd.getpwall()}
    return accounts.get("postgres") or accounts["nobody"]


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def _started(binaries: Path, place: Path, port: int, account: dict[str, Any]) -> subprocess.Popen[bytes]:
    data = place / "data"
    making = [str(binaries / "initdb"), "-D", str(data), *_CLUSTER]
    subprocess.run(making, check=True, stdout=subprocess.DEVNULL, **account)
    settings = [part for setting in _FAST for part in ("-c", setting)]
    where = ["-c", "listen_addresses=127.0.0.1", "-p", str(port), "-c", "unix_socket_directories="]
    with (place / "log").open("wb") as log:
        return subprocess.Popen([binaries / "postgres", "-D", data, *settings, *where], stderr=log, **account)


def _is_ready(data: Path) -> bool:
    """Tell whether the last line of the server's lock file says so, as pg_ctl does."""
    lines = (data / "postmaster.pid").read_text().split() if (data / "postmaster.pid").exists() else []
    return lines[-1:] == ["ready"]


def main() -> int:
    """Start the server, say where it is, wait for the end of the input, stop the server, remove its files."""
    binaries = Path(sys.argv[1])
    place = Path(tempfile.mkdtemp(prefix="spindlebook-pg-"))
    person = _person()
    account: dict[str, Any] = {"cwd": place}
    if person is not None:
        os.chown(place, person.pw_uid, person.pw_gid)
        account |= {"user": person.pw_uid, "group": person.pw_gid, "extra_groups": []}
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    server = None
    try:
        port = _free_port()
        server = _started(binaries, place, port, account)
        while not _is_ready(place / "data"):
            if server.poll() is not None:
                sys.stderr.write((place / "log").read_text())
                return 1
            time.sleep(0.02)
        print(f"postgresql+psycopg://spindle@127.0.0.1:{port}", flush=True)  # noqa: T201  the parent reads it
        sys.stdin.read()
    finally:
        if server is not None:
            server.send_signal(signal.SIGINT)  # "fast shutdown", PostgreSQL manual, "Shutting Down the Server"
            server.wait(timeout=30)
        shutil.rmtree(place)
    return 0


if __name__ == "__main__":
    sys.exit(main())
