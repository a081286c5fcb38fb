"""The one connection to a server that an engine keeps: nothing of one use is left on it for the next."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import psycopg
import pytest
import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from collection.errors import Refused
from collection.store.engine import fetch, open_engine, opened, reading, writing
from collection.store.traces import sweep
from tests.support.books import act, add_person
from tests.support.cli import run_cli
from tests.support.reused import LENDER

_STATE = """
SELECT pg_backend_pid(), current_setting('transaction_isolation'), current_setting('transaction_read_only'),
       current_setting('lock_timeout')
"""


@pytest.fixture
def server(postgres_book: str) -> Iterator[Engine]:
    """Yield an engine on a book on a server."""
    with opened(postgres_book) as engine:
        yield engine


def _state(connection: Connection) -> tuple[int, tuple[str, ...]]:
    """Return which connection of the server it is, and what holds on it."""
    process, *holds = connection.exec_driver_sql(_STATE).one()
    return process, tuple(holds)


def _kept(url: str, wanted: int) -> int:
    """Return how many connections to a book there are, once those that were closed have ended."""
    ask = (
        "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
        f" AND backend_type = 'client backend' AND application_name <> '{LENDER}'"
    )
    with psycopg.connect(url.replace("+psycopg", ""), autocommit=True) as admin:
        for _ in range(100):
            (found,) = admin.execute(ask.encode()).fetchone() or (0,)
            if found == wanted:
                break
            admin.execute("SELECT pg_sleep(0.02)")
    return int(found)


def test_each_use_of_the_one_connection_begins_as_on_a_new_one(server: Engine) -> None:
    """A view is a snapshot that cannot write, an act can; what was kept, refused or cut short leaves no more."""
    looks, writes, plain = (
        ("repeatable read", "on", "0"),
        ("read committed", "off", "5s"),
        ("read committed", "off", "0"),
    )
    seen = []
    for name in ("Ada Quill", "Ilva Tarn"):
        with reading(server) as connection:
            seen.append(_state(connection))
        with writing(server) as connection:
            seen.append(_state(connection))
        with suppress(sa.exc.DBAPIError), reading(server) as connection:
            connection.exec_driver_sql("DELETE FROM person")
        with suppress(Refused), act(server) as work:
            add_person(work, "nobody")
            raise Refused("said.")
        with act(server) as work:
            add_person(work, name)
            work.commit("added")
        with server.connect() as connection:
            seen.append(_state(connection))

    assert [looks, writes, plain] * 2 == [holds for _, holds in seen]
    assert 1 == len({process for process, _ in seen})
    with reading(server) as connection:
        assert 2 == connection.exec_driver_sql("SELECT count(*) FROM person").scalar()


def test_a_view_within_an_act_has_a_connection_of_its_own_that_is_not_kept(server: Engine, postgres_book: str) -> None:
    """It does not see what the act wrote and may still take back; one connection is left."""
    with writing(server) as writer, reading(server) as view:
        writer.exec_driver_sql("UPDATE book SET name = 'other'")
        assert [("other",)] != fetch(view, "SELECT name FROM book")
        assert _state(writer)[0] != _state(view)[0]

    assert 1 == _kept(postgres_book, 1)


def test_a_connection_that_the_server_ended_meanwhile_is_made_anew(server: Engine, postgres_book: str) -> None:
    """As a server does that is started again, or that ends what was idle for long; the act is none the wiser."""
    with reading(server) as connection:
        before = _state(connection)[0]
    with psycopg.connect(postgres_book.replace("+psycopg", ""), autocommit=True) as admin:
        admin.execute("SELECT pg_terminate_backend(%s, 5000)", (before,))

    with act(server) as work:
        add_person(work, "Ada Quill")
        work.commit("added")

    with reading(server) as connection:
        assert before != _state(connection)[0]
        assert 1 == connection.exec_driver_sql("SELECT count(*) FROM person").scalar()


def test_what_sweeps_leaves_no_connection_that_keeps_each_statement_at_once(server: Engine) -> None:
    """An act after it is rolled back as ever."""
    assert sweep(server)
    with suppress(Refused), act(server) as work:
        add_person(work, "Ada Quill")
        raise Refused("said.")

    with reading(server) as connection:
        assert 0 == connection.exec_driver_sql("SELECT count(*) FROM person").scalar()


@pytest.mark.parametrize("words", [("person", "list"), ("person", "add", "Ada Quill"), ("unit", "show", "D99")])
def test_a_command_lets_go_of_the_book_however_it_ends(postgres_book: str, words: tuple[str, ...]) -> None:
    """Somebody may wait to drop or to rename the database."""
    run_cli(words, db=postgres_book)

    assert 0 == _kept(postgres_book, 0)


def test_what_was_opened_for_a_block_is_closed_after_it_though_it_failed(postgres_book: str) -> None:
    """Whoever goes on after a failure keeps no connection."""
    with suppress(Refused), opened(postgres_book) as engine, reading(engine):
        raise Refused("said.")

    assert 0 == _kept(postgres_book, 0)


def test_a_file_is_not_kept_open(sqlite_book: Path) -> None:
    """Another program may put another in its place."""
    engine = open_engine(str(sqlite_book))
    with reading(engine):
        pass

    assert isinstance(engine.pool, sa.NullPool)
