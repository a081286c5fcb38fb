"""The one connection that an engine keeps to a server: used again as if it were new, and made anew when it is cut."""

from __future__ import annotations

from contextlib import AbstractContextManager

import psycopg
from sqlalchemy.engine import Connection

from collection.store.engine import fetch, opened, reading, writing
from tests.support.kills import settled

_STATE = """
SELECT pg_backend_pid(), current_setting('transaction_isolation'), current_setting('transaction_read_only'),
       current_setting('lock_timeout')
"""
_END = b"SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity WHERE datname = current_database() AND pid = %s"


def _state(used: AbstractContextManager[Connection]) -> tuple[int, tuple[str, str, str]]:
    with used as conn:
        pid, *rest = fetch(conn, _STATE)[0]
        isolation, read_only, patience = rest
    return pid, (isolation, read_only, patience)


def test_views_and_acts_share_a_connection_and_leave_nothing_on_it(postgres_book: str) -> None:
    """A view is read only and sees one snapshot, an act is and does not, in whichever order they come."""
    with opened(postgres_book) as engine:
        before = _state(writing(engine))
        states = [_state(used(engine)) for used in (reading, writing, reading, reading, writing)]

    view, act = ("repeatable read", "on", "0"), ("read committed", "off", "5s")
    assert [view, act, view, view, act] == [state for _, state in states]
    assert {before[0]} == {pid for pid, _ in states}
    assert act == before[1]


def test_a_view_inside_an_act_has_a_connection_of_its_own(postgres_book: str) -> None:
    """What the act wrote is not seen before it is kept; afterwards one connection is kept again."""
    with opened(postgres_book) as engine:
        with writing(engine) as act, reading(engine) as view:
            act.exec_driver_sql("UPDATE book SET name = 'other'")
            assert fetch(view, "SELECT name FROM book") != [("other",)]
        assert engine.pool.status().startswith("Pool size: 1  Connections in pool: 1")


def test_a_connection_that_was_cut_while_nobody_asked_is_made_anew(postgres_book: str) -> None:
    """A keeper who comes back to an open program after the server was started again goes on without a word."""
    with opened(postgres_book) as engine:
        first, _ = _state(reading(engine))
        with psycopg.connect(postgres_book.replace("+psycopg", ""), autocommit=True) as other:
            assert other.execute(_END, (first,)).fetchall() == [(1,)]

        again, _ = _state(writing(engine))

    assert first != again


def test_what_is_opened_is_let_go_of(postgres_book: str) -> None:
    """Nobody stays connected to a database that its keeper may want to drop."""
    with opened(postgres_book) as engine:
        _state(reading(engine))
    with opened(postgres_book) as other:
        settled(other)  # a connection that stays makes it fail
