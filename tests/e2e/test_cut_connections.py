"""A server that goes in the middle of an act: code 5, two lines, and the act is there as a whole or not at all.

An ordinary run cuts few connections, SPINDLEBOOK_KILLS=500 many.
"""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import cycle
from pathlib import Path
from typing import Any

import psycopg
import pytest
import sqlalchemy as sa

from collection.store.engine import open_engine
from tests.support.books import scalar
from tests.support.cli import run_cli
from tests.support.kills import KILLS, Children, Died, spread
from tests.support.postgres import Server
from tests.support.reused import LENDER, ReusedBook
from tests.support.whole_acts import Acts

CUTS = KILLS // 10
BROKE_OFF = "The connection to the book broke off: "
WAS_IT_DONE = "If it was to write, see whether it was done before you repeat it: spindlebook history"
_CUT = f"""
SELECT pg_terminate_backend(pid) FROM pg_stat_activity
WHERE datname LIKE 'test%' AND backend_type = 'client backend' AND application_name <> '{LENDER}'
"""


@pytest.mark.kills
def test_an_act_whose_connection_is_cut_is_there_as_a_whole_or_not_at_all(
    forks: Children, postgres: Server, demo_on_server: ReusedBook, tmp_path: Path
) -> None:
    """Whoever sees the act fail is told so in two lines, whatever kind of act it was, and the next try works."""
    acts = Acts(forks, demo_on_server.lend, tmp_path, "cut")
    deaths: list[Died] = []
    with psycopg.connect(postgres.url("postgres").replace("+psycopg", ""), autocommit=True) as admin:

        def cut(lines: list[list[str]], since: str, wait: float) -> Died:
            return forks.strike(lines, lambda _: admin.execute(_CUT.encode()), at=1, since=since, wait=wait)

        moments = zip(cycle(("write", "begin", "commit")), sorted(spread("cut", CUTS)), strict=False)
        for (since, fraction), name in zip(moments, acts.each(), strict=False):
            deaths.append(acts.disturbed(name, cut, since, fraction))
    failed = [answer for died in deaths for answer in died.answers if answer[0] != 0]
    assert failed
    assert all(_is_told(code, err) for code, _out, err in failed), failed


def _is_told(code: int, err: str) -> bool:
    first, hint = err.splitlines()[-2:]
    return code == 5 and first.startswith(BROKE_OFF) and hint == WAS_IT_DONE and "psycopg" not in err


def test_an_act_that_was_kept_though_nobody_heard_so_is_found_in_the_history(postgres_book: str) -> None:
    """The connection breaks off between the server's commit and its answer: the words claim neither."""
    url = sa.make_url(postgres_book)
    with _deaf_to_commit((str(url.host), int(url.port or 5432))) as port:
        place = url.set(host="127.0.0.1", port=port).render_as_string(hide_password=False)
        ran = run_cli(["person", "add", "Ansa"], db=place)

    assert _is_told(ran.code, ran.err), ran
    assert 2 == len(ran.err.splitlines())
    assert 1 == scalar(open_engine(postgres_book), "SELECT count(*) FROM person WHERE name = 'Ansa'")
    assert "person add" in run_cli(["history"], db=postgres_book).out


@contextmanager
def _deaf_to_commit(server: tuple[str, int]) -> Iterator[int]:
    """Yield the port of a stand-in for the server that passes everything on but the answer to a COMMIT."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        thread = threading.Thread(target=_pass_on, args=(listener, server))
        thread.start()
        yield listener.getsockname()[1]
        thread.join(timeout=10)
        assert not thread.is_alive()


def _pass_on(listener: socket.socket, server: tuple[str, int]) -> None:
    client, _ = listener.accept()
    with client, socket.create_connection(server) as other:
        heard = threading.Event()
        back = threading.Thread(target=_answer, args=(other, client, heard))
        back.start()
        while not heard.is_set() and (told := client.recv(65536)):
            if b"COMMIT" in told:
                heard.set()
            other.sendall(told)
        back.join()


def _answer(other: Any, client: Any, heard: threading.Event) -> None:
    """Pass on what the server says, until it has answered the COMMIT."""
    with suppress(OSError):
        while told := other.recv(65536):
            if heard.is_set():
                return
            client.sendall(told)
