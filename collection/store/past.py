"""The book as it stood at an instant: the rows that a view asks for, put back by the journal, in memory.

Rows of later acts are left out, and editable rows get back what the first later change of each column found there
(the journal keeps every value before and after). Personal data stand in the journal as hashes alone; what a person was
called then is the oldest of the states that later acts kept of them.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from collection.errors import Refused
from collection.store.chain import dead_acts
from collection.store.engine import fetch

_CHANGES = """
SELECT table_name, row_id, kind, before FROM change
WHERE act_id > :last AND kind IN ('update', 'void', 'restore') ORDER BY id
"""
# What no view of the past reads out of the copy, since it never changes and may be large; with what stands in for it.
_LEFT = {("attachment_content", "content"): b""}
_Before = dict[tuple[str, int], dict[str, Any]]


@contextmanager
def as_it_stood(source: Connection, instant: datetime, tables: Collection[str]) -> Iterator[Connection]:
    """Yield a connection to the rows of some tables as they stood just before an instant; views read it as a book.

    tables: by name, that of undone acts besides. Attached files are there without their bytes, which never change: they
    are read from `source`.
    Raises Refused where the book had not begun.
    """
    last = _last_act(source, instant)
    before = _values_before(source, last)
    engine = sa.create_engine("sqlite://", poolclass=sa.StaticPool, hide_parameters=True)
    try:
        with engine.connect() as target:
            _fill(source, target, last, before, tables)
            yield target
    finally:
        engine.dispose()


def _last_act(source: Connection, instant: datetime) -> int:
    """Return the last act before an instant, which names its time zone."""
    at = instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    last = fetch(source, "SELECT max(id) FROM act WHERE at < :at", at=at)[0][0]
    if last is None:
        began = fetch(source, "SELECT min(at) FROM act")[0][0][:10]
        raise Refused(f"The book was begun on {began} and knew nothing before.", "Add --as-known-now.")
    return int(last)


def _values_before(source: Connection, last: int) -> _Before:
    """Return by table and row what the columns held that later acts changed."""
    before: _Before = defaultdict(dict)
    for table, row_id, kind, values in fetch(source, _CHANGES, last=last):
        held = before[table, row_id]
        if kind == "update":
            for name, value in json.loads(values).items():
                held.setdefault(name, value)
        else:
            held.setdefault("void", int(kind == "restore"))
    _name_people(source, last, before)
    return before


def _name_people(source: Connection, last: int, before: _Before) -> None:
    """Put what people said of themselves in the place of its hashes."""
    from collection.schema.people import PERSONAL

    names = ("salt", *PERSONAL)
    sql = f"SELECT former_of_id, {', '.join(names)} FROM person WHERE former_of_id IS NOT NULL AND act_id > :last"
    known: dict[int, dict[str, Any]] = {}
    for person, *values in fetch(source, f"{sql} ORDER BY id", last=last):
        known.setdefault(person, dict(zip(names, values, strict=True)))
    for (table, row_id), held in before.items():
        if table == "person":
            for name in PERSONAL:
                held.pop(name, None)
            held.update(known.get(row_id, {}))


def _fill(source: Connection, target: Connection, last: int, before: _Before, tables: Collection[str]) -> None:
    from collection.schema import METADATA, TABLES

    METADATA.create_all(target, tables=[TABLES[name] for name in (*tables, "undone")])
    for name in tables:
        columns = [column.name for column in TABLES[name].c]
        read = ["NULL" if (name, column) in _LEFT else column for column in columns]
        light = {column: _LEFT[name, column] for column in columns if (name, column) in _LEFT}
        sql = f"SELECT {', '.join(read)} FROM {name} WHERE act_id <= :last ORDER BY id"
        rows = [_put_back(row, columns, before.get((name, row[0]), light)) for row in fetch(source, sql, last=last)]
        _insert(target, name, columns, rows)
    acts = fetch(source, "SELECT id, undoes_id FROM act WHERE id <= :last", last=last)
    dead = [(number, f"undone {number}", *pair) for number, pair in enumerate(dead_acts(acts).items(), 1)]
    _insert(target, "undone", ("id", "key", "act_id", "by_id"), dead)


def _put_back(row: Sequence[Any], columns: Sequence[str], held: dict[str, Any]) -> tuple[Any, ...]:
    if not held:
        return tuple(row)
    return tuple(held.get(name, value) for name, value in zip(columns, row, strict=True))


def _insert(target: Connection, table: str, columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
    if rows:
        marks = ", ".join("?" * len(columns))
        target.exec_driver_sql(f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})", list(rows))
