"""Filled books of every released schema, in a file or on a server, and what stands in them."""

from __future__ import annotations

import gzip
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from sqlalchemy.engine import Engine

from collection.store.copy import Shape, file_shape, replace_rows
from collection.store.engine import HEAD, fetch, open_engine
from collection.store.migrate import known_revisions, new_schema

_DATA = Path(__file__).parents[1] / "data"
RELEASED = sorted(known_revisions() - {HEAD})
LASTING = ("unit", "reading", "movement", "task", "service", "fault", "unit_entry", "act", "seal", "change")

Rows = dict[str, list[tuple[Any, ...]]]


def book_of(revision: str, file: Path) -> Path:
    """Write the kept book of a schema into a file."""
    with closing(sqlite3.connect(file)) as connection:
        connection.executescript(gzip.decompress((_DATA / f"book-{revision}.sql.gz").read_bytes()).decode())
    return file


def onto_server(file: Path, url: str, revision: str) -> str:
    """Put the kept book of a schema into an empty database."""
    with new_schema(url, revision) as target, open_engine(str(file)).connect() as source:
        replace_rows(source, target, file_shape(source))
    return url


def shape_of(file: Path) -> Shape:
    """Return the columns of a book in a file."""
    with open_engine(str(file)).connect() as connection:
        return file_shape(connection)


def rows_of(engine: Engine, shape: Shape, before: Rows | None = None) -> Rows:
    """Return the rows of the tables that no newer reference data touches, by the columns of `shape`.

    With `before` only as many as there were, since later acts append to them.
    """
    found: Rows = {}
    with engine.connect() as connection:
        for table in LASTING:
            columns = ", ".join(f'"{column}"' for column in shape[table])
            rows = fetch(connection, f"SELECT {columns} FROM {table} ORDER BY id")
            found[table] = rows[: len(before[table])] if before else rows
    return found


def schema_of(engine: Engine) -> set[str]:
    """Return every table, column, constraint, index and trigger of a book as the database tells it."""
    with engine.connect() as connection:
        return {str(fact) for sql in _FACTS[engine.dialect.name] for (fact,) in fetch(connection, sql)}


_FACTS = {
    "sqlite": ("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL",),
    "postgresql": (
        """SELECT conrelid\\:\\:regclass || ' ' || conname || ' ' || pg_get_constraintdef(oid) FROM pg_constraint
        WHERE connamespace = current_schema()\\:\\:regnamespace""",
        "SELECT pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal",
        "SELECT indexdef FROM pg_indexes WHERE schemaname = current_schema()",
        """SELECT concat_ws(' ', table_name, column_name, data_type, collation_name, is_nullable, column_default)
        FROM information_schema.columns WHERE table_schema = current_schema()""",
    ),
}
