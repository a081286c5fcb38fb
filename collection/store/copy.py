"""Copying every row of a book between databases, ids, keys and journal included."""

from collections.abc import Iterator
from typing import Any

from sqlalchemy.engine import Connection

from collection.schema import METADATA, TABLES
from collection.store.engine import open_engine
from collection.store.migrate import create_schema

_BATCH = 5_000
_LARGE = 10  # rows that may hold 20 MB each


def copy_into_file(source: Connection, file: str) -> None:
    """Write the book that ``source`` sees into an empty file, as a SQLite book."""
    create_schema(file)
    engine = open_engine(file, enforce_references=False)
    with engine.connect().execution_options(spindlebook_write=True) as target, target.begin():
        copy_rows(source, target)
    engine.dispose()


def replace_rows(source: Connection, target: Connection) -> None:
    """Put the rows of ``source`` in the place of all rows of a PostgreSQL book, in the caller's transaction.

    References are dropped and made again: they run in circles, and making them again checks every row.
    """
    keys = [(table.name, key) for table in METADATA.tables.values() for key in table.foreign_key_constraints]
    for table, key in keys:
        target.exec_driver_sql(f"ALTER TABLE {table} DROP CONSTRAINT {key.name}")
    target.exec_driver_sql(f"TRUNCATE {', '.join(TABLES)}")
    copy_rows(source, target)
    for table, key in keys:
        column, parent = key.column_keys[0], key.referred_table.name
        target.exec_driver_sql(
            f"ALTER TABLE {table} ADD CONSTRAINT {key.name} FOREIGN KEY ({column}) REFERENCES {parent} (id)"
        )


def copy_rows(source: Connection, target: Connection) -> None:
    """Insert every row that ``source`` sees; the tables of ``target`` are empty."""
    mark = "?" if target.dialect.name == "sqlite" else "%s"
    for name, table in TABLES.items():
        columns = ", ".join(column.name for column in table.c)
        sql = f"INSERT INTO {name} ({columns}) VALUES ({', '.join([mark] * len(table.c))})"
        for rows in in_batches(source, name, columns):
            target.exec_driver_sql(sql, rows)
        if target.dialect.name == "postgresql":
            target.exec_driver_sql(
                f"SELECT setval(pg_get_serial_sequence('{name}', 'id'), (SELECT coalesce(max(id), 1) FROM {name}))"
            )


def in_batches(source: Connection, table: str, columns: str) -> Iterator[list[tuple[Any, ...]]]:
    """Every row of a table in the order of ids, so many at a time as a statement takes."""
    batch = _LARGE if table == "attachment_content" else _BATCH
    result = source.exec_driver_sql(f"SELECT {columns} FROM {table} ORDER BY id")
    while rows := result.cursor.fetchmany(batch):
        yield [tuple(row) for row in rows]
    result.close()
