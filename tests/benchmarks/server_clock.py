"""The seconds of the processor that a throw-away PostgreSQL server has spent, read from /proc (proc_pid_stat(5))."""

from __future__ import annotations

import os
import time
from pathlib import Path

import psycopg

_USER, _SYSTEM, _CHILDREN_USER, _CHILDREN_SYSTEM = 11, 12, 13, 14  # counted from the field behind the name


class ServerClock:
    """The clock of the server that a database stands on; it is on this machine."""

    def __init__(self, url: str) -> None:
        self._url = url.replace("+psycopg", "")
        with psycopg.connect(self._url) as connection:
            (folder,) = connection.execute("SHOW data_directory").fetchone() or ("",)
        self._process = int((Path(folder) / "postmaster.pid").read_text().split()[0])

    def seconds(self) -> float:
        """Return what the server has spent so far, once all processes that served a connection have ended."""
        with psycopg.connect(self._url) as connection:
            others = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> %s"
            while connection.execute(others, (connection.info.backend_pid,)).fetchone() != (0,):
                time.sleep(0.01)
        time.sleep(0.2)  # this one's own end
        fields = Path(f"/proc/{self._process}/stat").read_text().rpartition(")")[2].split()
        ticks = sum(int(fields[at]) for at in (_USER, _SYSTEM, _CHILDREN_USER, _CHILDREN_SYSTEM))
        return ticks / os.sysconf("SC_CLK_TCK")
