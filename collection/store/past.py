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

_WORD = re.compile(r"\w+")
_BATCH = 5_000


def end_of(conn: Connection, day: date) -> datetime:
    """Return the instant at which a day ends in the time zone of the book."""
    zone = ZoneInfo(open_book(conn).settings.time_zone)
    return datetime.combine(day + timedelta(days=1), time(), tzinfo=zone)


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
        began = fetch(source, "SELECT min(at) FROM act")[0][0][:10]
        raise Refused(
            f"The book was begun on {began} and knew nothing before.", "What it knows of that day now: --as-of DAY"
        )
    return int(last)


class _Copy:
    """Fills the tables of the copy, each once."""

    def __init__(self, source: Connection, target: sqlite3.Connection, last: int | None, day: str | None) -> None:
        from collection.schema import TABLES

        self._source, self._target, self._last, self._day = source, target, last, day
        self._waiting = set(TABLES)
        self._earlier = Earlier(source, last)
        target.create_function("bytes_of", 1, self._bytes_of)

    def before_statement(self, _conn: Any, _cursor: Any, statement: str, *_more: Any) -> None:
        """Copy the tables that a statement names."""
        for name in self._waiting.intersection(_WORD.findall(statement)):
            self._need(name)

    def _need(self, name: str) -> None:
        if name not in self._waiting:
            return
        self._waiting.discard(name)
        if self._day is not None:
            for other in needed_for(name):
                self._need(other)
        columns = self._make(name)
        if name == "undone":
            dead = enumerate(self._earlier.dead().items(), 1)
            self._insert(name, columns, [(number, f"undone {number}", *pair) for number, pair in dead])
        elif name != "counter":  # what is kept by its counters is about the present book
            self._copy(name, columns)

    def _make(self, name: str) -> list[str]:
        """Make an empty table without rules, which its rows have kept already; return the columns to fill."""
        from collection.schema import TABLES

        table = TABLES[name]
        columns = [column.name for column in table.c]
        made = name
        if name == "attachment_content":  # bytes never change and may be large: each is read when it is asked for
            columns.remove("content")
            made = f"{name}_rows"
            shown = f"SELECT {', '.join(columns)}, bytes_of(id) AS content FROM {made}"
            self._target.execute(f"CREATE VIEW {name} AS {shown}")
        types = {column.name: column.type.compile(dialect=sqlite.dialect()) for column in table.c}
        told = ["id INTEGER PRIMARY KEY", *(f"{each} {types[each]}" for each in columns if each != "id")]
        self._target.execute(f"CREATE TABLE {made} ({', '.join(told)})")
        for index in table.indexes:
            among = ", ".join(column.name for column in index.columns)
            self._target.execute(f"CREATE INDEX {index.name} ON {made} ({among})")
        return columns

    def _copy(self, name: str, columns: Sequence[str]) -> None:
        put_back = self._earlier.of(name, columns)
        sql, given = self._selected(name, columns)
        result = self._source.execute(sa.text(sql), given)
        while rows := result.cursor.fetchmany(_BATCH):
            self._insert(name, columns, [put_back(row) for row in rows] if put_back else rows)
        result.close()
        if self._day is not None:
            self._cut(name, self._day)

    def _selected(self, name: str, columns: Sequence[str]) -> tuple[str, dict[str, str]]:
        tests, given = [], {}
        if self._last is not None:
            tests.append(f"{'id' if name == 'act' else 'act_id'} <= {self._last}")
        if self._day is not None and (test := where_it_is_read(name)):
            tests.append(test)
            given["day"] = self._day
        where = f" WHERE {' AND '.join(tests)}" if tests else ""
        return f"SELECT {', '.join(columns)} FROM {name}{where} ORDER BY id", given

    def _insert(self, name: str, columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
        made = "attachment_content_rows" if name == "attachment_content" else name
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
