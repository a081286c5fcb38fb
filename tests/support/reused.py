"""One PostgreSQL book lent to one test after another, emptied in between: copying a database takes far longer."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress

import psycopg

from tests.support.postgres import Server

# All that a test could change besides rows: a database that differs in any of it is not lent again.
_SHAPE = """
SELECT md5(string_agg(what, ';' ORDER BY what)) FROM (
  SELECT concat(conrelid::regclass, ' ', conname, convalidated) FROM pg_constraint
  UNION ALL SELECT concat(tgrelid::regclass, ' ', tgname, tgenabled) FROM pg_trigger
  UNION ALL SELECT concat(oid::regclass, ' ', relkind, relacl) FROM pg_class
    WHERE relnamespace = 'public'::regnamespace
  UNION ALL SELECT concat(attrelid::regclass, ' ', attname, ' ', atttypid, attnotnull) FROM pg_attribute
    WHERE attrelid IN (SELECT oid FROM pg_class WHERE relnamespace = 'public'::regnamespace)
  UNION ALL SELECT concat(proname, ' ', prosrc) FROM pg_proc WHERE pronamespace = 'public'::regnamespace
  UNION ALL SELECT concat(nspname, ' ', nspacl) FROM pg_namespace WHERE nspname NOT LIKE 'pg_%'
  UNION ALL SELECT concat(datacl, datconnlimit) FROM pg_database WHERE datname = current_database()
  UNION ALL SELECT setconfig::text FROM pg_db_role_setting
    WHERE setdatabase = (SELECT oid FROM pg_database WHERE datname = current_database())
) shape (what)
"""
_TABLES = "SELECT relname FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace ORDER BY relname"
_SEQUENCES = "SELECT quote_literal(sequencename), coalesce(last_value, 1), last_value IS NOT NULL FROM pg_sequences"


class ReusedBook:
    """Lends a copy of a template database; rows and sequences are brought back to the template's between tests."""

    def __init__(self, server: Server, template: str) -> None:
        self._server = server
        self._template = template
        self._name: str | None = None
        self._rows: dict[str, list[bytes]] = {}
        self._sequences = ""
        self._shape = ""

    @contextmanager
    def lend(self) -> Iterator[str]:
        """Yield the URL of a database that holds just what the template holds."""
        if self._name is None:
            self._name = self._server.make_copy(self._template)
            self._remember()
        yield self._server.url(self._name)
        self._server.disconnect_all(self._name)
        if not self._emptied():
            with suppress(psycopg.Error):
                self._server.drop(self._name)
            self._name = None

    def _connect(self) -> psycopg.Connection:
        return psycopg.connect(self._server.url(str(self._name)).replace("+psycopg", ""))

    def _remember(self) -> None:
        with self._connect() as connection, connection.cursor() as cursor:
            for (table,) in cursor.execute(_TABLES).fetchall():
                with cursor.copy(f"COPY {table} TO STDOUT".encode()) as copy:
                    self._rows[table] = [bytes(row) for row in copy]
            values = [f"setval({name}, {last}, {used})" for name, last, used in cursor.execute(_SEQUENCES).fetchall()]
            self._sequences = f"SELECT {', '.join(values)}"
            self._shape = cursor.execute(_SHAPE).fetchall()[0][0]

    def _emptied(self) -> bool:
        """Bring back the template's rows; False when the database is gone or is not shaped as it was."""
        try:
            with self._connect() as connection, connection.cursor() as cursor:
                if cursor.execute(_SHAPE).fetchall()[0][0] != self._shape:
                    return False
                deletes = "; ".join(f"DELETE FROM {table}" for table in self._rows)
                cursor.execute(f"SET LOCAL session_replication_role = replica; {deletes}".encode())
                for table, rows in self._rows.items():
                    if rows:
                        with cursor.copy(f"COPY {table} FROM STDIN".encode()) as copy:
                            for row in rows:
                                copy.write(row)
                cursor.execute(self._sequences.encode())
        except psycopg.Error:
            return False
        return True
