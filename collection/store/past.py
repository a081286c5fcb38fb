"""The book of another day, in memory: as it stood by what is known, or by what was known then.

What was known then: rows of later acts are left out, and ``store/earlier.py`` tells what editable rows held. What was
so on a day: ``store/as_of.py`` tells what counts from which day on.

A table is copied when the first statement names it, so that a list costs what it reads.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import sqlalchemy as sa
from sqlalchemy.dialects import sqlite
from sqlalchemy.engine import Connection

from collection.errors import Refused
from collection.store.as_of import cuts, needed_for, units_not_yet, where_it_is_read
from collection.store.book import open_book
from collection.store.earlier import Earlier
from collection.store.engine import fetch
from collection.store.stream import batches

_WORD = re.compile(r"\w+")


def end_of(conn: Connection, day: date) -> datetime:
    """Return the instant at which a day ends in the time zone of the book."""
    return datetime.combine(day + timedelta(days=1), time(), tzinfo=_zone(conn))


def _zone(conn: Connection) -> ZoneInfo:
    return ZoneInfo(open_book(conn).settings.time_zone)


@contextmanager
def another_day(source: Connection, *, known_until: datetime | None, day: date | None) -> Iterator[Connection]:
    """Yield a connection to a copy of the book that views read as they read a book.

    known_until: leave out what was entered from this instant on; None for all that is known. day: leave out what
    came about after it; None for nothing. Raises Refused where the book had not begun.
    """
    last = None if known_until is None else _last_act(source, known_until)
    engine = sa.create_engine("sqlite://", poolclass=sa.StaticPool, hide_parameters=True)
    try:
        with engine.connect() as target:
            driver: Any = target.connection.driver_connection
            copy = _Copy(source, driver, last, None if day is None else day.isoformat())
            sa.event.listen(engine, "before_cursor_execute", copy.before_statement)
            yield target
    finally:
        engine.dispose()


def _last_act(source: Connection, instant: datetime) -> int:
    """Return the last act before an instant, which names its time zone."""
    at = instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    last = fetch(source, "SELECT max(id) FROM act WHERE at < :at", at=at)[0][0]
    if last is None:
        began = datetime.fromisoformat(fetch(source, "SELECT min(at) FROM act")[0][0])
        first = began.astimezone(_zone(source)).date()
        raise Refused(
            f"The book was begun on {first} and knew nothing before.", f"The first day that can be asked is {first}."
        )
    return int(last)


class _Copy:
    """Fills the tables of the copy, each once. A book in a file is looked at in its place where rows never change."""

    def __init__(self, source: Connection, target: sqlite3.Connection, last: int | None, day: str | None) -> None:
        from collection.schema import TABLES

        self._source, self._target, self._last, self._day = source, target, last, day
        self._waiting = set(TABLES)
        self._earlier = Earlier(source, last)
        self._in_place = source.dialect.name == "sqlite"
        self._there = "there." if self._in_place else ""
        if self._in_place:  # read from now on, it is what `source` sees: no writer gets past a reader
            target.execute("PRAGMA busy_timeout = 5000")
            target.execute("ATTACH DATABASE ? AS there", (source.engine.url.database,))
            target.execute("BEGIN")
            target.execute("SELECT id FROM there.book").fetchall()
        target.create_function("bytes_of", 1, self._bytes_of)

    def before_statement(self, _conn: Any, _cursor: Any, statement: str, *_more: Any) -> None:
        """Copy the tables that a statement names."""
        for name in self._waiting.intersection(_WORD.findall(statement)):
            self._need(name)

    def _need(self, name: str) -> None:
        from collection.schema import APPEND_ONLY, TABLES

        if name not in self._waiting:
            return
        self._waiting.discard(name)
        needed = () if self._day is None else needed_for(name)
        for other in needed:
            self._need(other)
        columns = [column.name for column in TABLES[name].c]
        if self._in_place and name in APPEND_ONLY and not needed:
            self._target.execute(f"CREATE TEMP VIEW {name} AS {self._selected(name, columns)}")
        elif name == "attachment_content":  # the bytes may be many: each is read when it is asked for
            columns.remove("content")
            self._copy(name, f"{name}_rows", columns)
            shown = f"SELECT {', '.join(columns)}, bytes_of(id) AS content FROM {name}_rows"
            self._target.execute(f"CREATE TEMP VIEW {name} AS {shown}")
        else:
            self._copy(name, name, columns)

    def _copy(self, name: str, made: str, columns: Sequence[str]) -> None:
        """Make a table without rules, which its rows have kept already, and fill it with those of that day."""
        from collection.schema import TABLES

        table = TABLES[name]
        types = {column.name: column.type.compile(dialect=sqlite.dialect()) for column in table.c}
        told = ["id INTEGER PRIMARY KEY", *(f"{each} {types[each]}" for each in columns if each != "id")]
        self._target.execute(f"CREATE TABLE {made} ({', '.join(told)})")
        if name == "undone":
            dead = enumerate(self._earlier.dead().items(), 1)
            self._insert(made, columns, [(number, f"undone {number}", *pair) for number, pair in dead])
        elif name != "counter":  # what is kept by its counters is about the present book
            self._fill(name, made, columns)
        for index in table.indexes:
            among = ", ".join(column.name for column in index.columns)
            self._target.execute(f"CREATE INDEX {index.name} ON {made} ({among})")

    def _fill(self, name: str, made: str, columns: Sequence[str]) -> None:
        if self._in_place:
            self._target.execute(f"INSERT INTO {made} ({', '.join(columns)}) {self._selected(name, columns)}")
        else:
            for rows in batches(self._source, self._selected(name, columns)):
                self._insert(made, columns, rows)
        for row_id, held in self._earlier.of(name).items():
            among = ", ".join(f"{column} = ?" for column in held)
            self._target.execute(f"UPDATE {made} SET {among} WHERE id = ?", (*held.values(), row_id))
        if self._day is not None:
            self._cut(name, self._day)

    def _selected(self, name: str, columns: Sequence[str]) -> str:
        tests = []
        if self._last is not None:
            tests.append(f"{'id' if name == 'act' else 'act_id'} <= {self._last}")
        if self._day is not None and (test := where_it_is_read(name, self._day, self._there)):
            tests.append(test)
        where = f" WHERE {' AND '.join(tests)}" if tests else ""
        return f"SELECT {', '.join(columns)} FROM {self._there}{name}{where}"

    def _insert(self, made: str, columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
        marks = ", ".join("?" * len(columns))
        self._target.executemany(f"INSERT INTO {made} ({', '.join(columns)}) VALUES ({marks})", rows)

    def _cut(self, name: str, day: str) -> None:
        for statement in cuts(name):
            self._target.execute(statement, {"day": day})
        if name == "unit":
            acquired = dict(self._target.execute("SELECT id, acquired_on FROM unit").fetchall())
            not_yet = units_not_yet(self._source, acquired, day, self._earlier.counts)
            self._target.executemany("DELETE FROM unit WHERE id = ?", [(unit,) for unit in not_yet])

    def _bytes_of(self, number: int) -> bytes:
        return bytes(fetch(self._source, "SELECT content FROM attachment_content WHERE id = :id", id=number)[0][0])
