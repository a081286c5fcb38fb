"""Copying every row of a book between databases, ids, keys and journal included."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy.engine import Connection

from collection.schema import TABLES
from collection.store.engine import HEAD, opened
from collection.store.migrate import create_schema
from collection.store.stream import batches

_BATCH = 5_000
_LARGE = 10  # rows that may hold 20 MB each
Shape = Mapping[str, Sequence[str]]
# The columns of every table of a SQLite book, in the order in which they stand.
_COLUMNS = """
SELECT m.name, t.name FROM sqlite_master m JOIN pragma_table_info(m.name) t WHERE m.type = 'table'
AND m.name NOT LIKE 'sqlite!_%' ESCAPE '!' AND m.name <> 'alembic_version' ORDER BY m.name, t.cid
"""
_REFERENCES = """
SELECT c.conrelid::regclass::text, c.conname, pg_get_constraintdef(c.oid) FROM pg_constraint c
WHERE c.contype = 'f' AND c.connamespace = current_schema()::regnamespace
AND c.conrelid::regclass::text IN (%s) ORDER BY 1, 2
"""


def head_shape() -> Shape:
    """The columns of every table of this program's schema."""
    return {name: [column.name for column in table.c] for name, table in TABLES.items()}


def file_shape(connection: Connection) -> Shape:
    """The columns of every table of a SQLite book, whatever its schema."""
    shape: dict[str, list[str]] = {}
    for table, column in connection.exec_driver_sql(_COLUMNS):
        shape.setdefault(table, []).append(column)
    return shape


def copy_into_file(source: Connection, file: str, revision: str = HEAD) -> None:
    """Write the book that ``source`` sees into an empty file, as a SQLite book of the schema ``revision``."""
    create_schema(file, revision)
    with (
        opened(file, enforce_references=False) as engine,
        engine.connect().execution_options(spindlebook_write=True) as target,
        target.begin(),
    ):
        copy_rows(source, target, file_shape(target))


def replace_rows(source: Connection, target: Connection, shape: Shape | None = None) -> None:
    """Put the rows of ``source`` in the place of all rows of a PostgreSQL book, in the caller's transaction.

    shape: the columns of each table, this program's unless told. References are dropped and made again: they run in
    circles, and making them again checks every row. Rows are deleted, past the triggers that keep them: a view that
    was begun before would see an emptied table ("Caveats" of MVCC, PostgreSQL manual), but sees deleted rows still.
    """
    shape = shape or head_shape()
    names = ", ".join(f"'{name}'" for name in shape)
    references = target.exec_driver_sql(_REFERENCES % names).all()
    for table, name, _ in references:
        target.exec_driver_sql(f"ALTER TABLE {table} DROP CONSTRAINT {name}")
    for name in shape:
        target.exec_driver_sql(f"ALTER TABLE {name} DISABLE TRIGGER USER")
        target.exec_driver_sql(f"DELETE FROM {name}")
        target.exec_driver_sql(f"ALTER TABLE {name} ENABLE TRIGGER USER")
    copy_rows(source, target, shape)
    for table, name, definition in references:
        target.exec_driver_sql(f"ALTER TABLE {table} ADD CONSTRAINT {name} {definition}")


def copy_rows(source: Connection, target: Connection, shape: Shape) -> None:
    """Insert every row that ``source`` sees; the tables of ``target`` are empty."""
    mark = "?" if target.dialect.name == "sqlite" else "%s"
    for name, named in shape.items():
        columns = ", ".join(f'"{column}"' for column in named)
        sql = f"INSERT INTO {name} ({columns}) VALUES ({', '.join([mark] * len(named))})"
        for rows in in_batches(source, name, columns):
            target.exec_driver_sql(sql, rows)
        if target.dialect.name == "postgresql":
            target.exec_driver_sql(
                f"SELECT setval(pg_get_serial_sequence('{name}', 'id'), (SELECT coalesce(max(id), 1) FROM {name}))"
            )


def in_batches(source: Connection, table: str, columns: str) -> Iterator[list[tuple[Any, ...]]]:
    """Every row of a table in the order of ids, so many at a time as a statement takes."""
    return batches(
        source, f"SELECT {columns} FROM {table} ORDER BY id", _LARGE if table == "attachment_content" else _BATCH
    )
