"""Small books for tests, written through acts as the program writes them, and a digest of all that a book holds."""

import hashlib
from collections.abc import Iterator
from contextlib import AbstractContextManager
from functools import cache
from typing import Any

from sqlalchemy.engine import Connection, Engine

from collection.acts.work import Work, open_work
from collection.errors import fold
from collection.schema import EDITABLE, TABLES
from collection.store.engine import fetch, reading
from tests.support.times import NOW, TODAY


def act(engine: Engine, command: str = "test") -> AbstractContextManager[Work]:
    """Open a Work at the frozen time."""
    return open_work(engine, command, today=TODAY, now=NOW)


def named(name: str) -> dict[str, str]:
    """The columns of a name."""
    return {"name": name, "name_folded": fold(name)}


def add_unit(work: Work, tag: str = "D1", **values: Any) -> int:
    """A unit of a model of its own; returns its id."""
    model = work.insert("model", maker="Brenholt", maker_folded="brenholt", **named(f"BH-{tag}"), kind="drive")
    return work.insert("unit", tag=tag, tag_folded=fold(tag), model_id=model, **values)


def add_person(work: Work, name: str = "Ada Quill", **values: Any) -> int:
    """A person; returns its id."""
    return work.insert("person", **named(name), role="member", salt=f"salt of {name}", **values)


def digest(engine: Engine, *, effective: bool = False) -> str:
    """A digest of every row; with ``effective`` only of rows that count, without versions, journal and counters."""
    found = hashlib.sha256()
    queries = _queries(effective=effective)
    with reading(engine) as connection:
        for name, rows in zip(queries, answers(connection, list(queries.values())), strict=True):
            for row in rows:
                found.update(repr((name, row)).encode())
    return found.hexdigest()


@cache
def _queries(*, effective: bool) -> dict[str, str]:
    queries = {}
    for name, table in sorted(TABLES.items()):
        columns = [column.name for column in table.c]
        where = ""
        if effective:
            if name in ("act", "change", "seal", "undone", "counter", "series"):
                continue
            columns = [column for column in columns if column not in ("version", "void")]
            where = " WHERE void = 0" if name in EDITABLE else " WHERE act_id NOT IN (SELECT act_id FROM undone)"
        queries[name] = f"SELECT {', '.join(columns)} FROM {name}{where} ORDER BY id"
    return queries


def answers(connection: Connection, queries: list[str]) -> Iterator[list[tuple[Any, ...]]]:
    """Yield the rows of each query, asked by the driver's own cursor: hundreds of tests take two digests each."""
    cursor: Any = connection.connection.cursor()
    if connection.dialect.name == "sqlite":
        for query in queries:
            yield cursor.execute(query).fetchall()
        return
    cursor.execute("; ".join(queries), prepare=False)  # one journey to the server and back
    for _ in queries:
        yield cursor.fetchall()
        cursor.nextset()


def scalar(engine: Engine, sql: str, **parameters: Any) -> Any:
    """The one value that a query gives."""
    with reading(engine) as connection:
        return fetch(connection, sql, **parameters)[0][0]
