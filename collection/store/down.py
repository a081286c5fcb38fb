"""The way back to an older schema, for as long as nothing that only the newer one can keep stands in the book.

The rows are copied into a new file of the older schema, so its own rules judge each of them, and that file takes the
place of the book as a backup does; no table is altered. What would be lost is looked for beforehand: rows of tables and
values of columns that the older schema lacks, and acts in the journal that name them, which an older program could
neither check nor take back.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from collection.errors import Refused
from collection.schema import TABLES
from collection.store.copy import copy_rows, file_shape, replace_rows
from collection.store.engine import fetch, opened
from collection.store.migrate import create_schema, migrate_to

_NAMED = """
SELECT min(act_id) FROM change WHERE table_name = :table AND (before LIKE :word OR after LIKE :word)
"""
_KEPT = "The state before the upgrade is kept: spindlebook backup list"


def copy_back(source: Connection, file: Path, revision: str) -> None:
    """Write the book that ``source`` sees into an empty ``file`` as one of an older schema; refused where it has more.

    Raises Refused that names what would be lost.
    """
    create_schema(str(file), revision)
    with (
        opened(str(file), enforce_references=False) as engine,
        engine.connect().execution_options(spindlebook_write=True) as target,
        target.begin(),
    ):
        shape = file_shape(target)
        for lost in _lost(source, {name: set(columns) for name, columns in shape.items()}):
            raise Refused(
                f"The book cannot go back to schema {revision}: {lost}; nothing was changed.",
                _KEPT,
            )
        try:
            copy_rows(source, target, shape)
        except sa.exc.IntegrityError as error:
            raise Refused(
                f"The book cannot go back to schema {revision}, which does not take what it holds ({error.orig}).",
                _KEPT,
            ) from None


def replace_book(older: Connection, target: Connection, revision: str) -> None:
    """Put the older book in the place of all tables of a book on a server, in the caller's transaction."""
    target.exec_driver_sql(f"DROP TABLE {', '.join(TABLES)}, alembic_version CASCADE")
    target.exec_driver_sql("DROP FUNCTION book_refuse()")
    migrate_to(target, revision)
    replace_rows(older, target, file_shape(older))


def _lost(source: Connection, kept: dict[str, set[str]]) -> Iterator[str]:
    """Yield what the tables and columns that are kept have no place for."""
    for name, table in TABLES.items():
        if name in kept:
            for column in table.c:
                if column.name not in kept[name]:
                    yield from _lost_of(source, column)
            continue
        found = fetch(source, f"SELECT count(*) FROM {name}")[0][0]
        if found:
            yield f"that one has no table {name}, and {_rows(found)} would be lost"


def _lost_of(source: Connection, column: sa.Column[Any]) -> Iterator[str]:
    name, table = column.name, column.table.name
    usual = getattr(column.server_default, "arg", "NULL")
    differs = "IS NOT" if source.dialect.name == "sqlite" else "IS DISTINCT FROM"
    found = fetch(source, f"SELECT count(*) FROM {table} WHERE {name} {differs} {usual}")[0][0]
    if found:
        yield f"that one has no column {name} in its table {table}, which {_rows(found)} would lose"
    act = fetch(source, _NAMED, table=table, word=f'%"{name}"%')[0][0]
    if act is not None:
        yield f"that one has no column {name} in its table {table}, which act {act} names"


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count:,} rows"
