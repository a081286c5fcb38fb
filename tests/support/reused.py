"""One PostgreSQL book lent to one test after another, brought back in between: copying a database takes far longer."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

import psycopg

from tests.support.postgres import Server

LENDER = "lender of the book"  # under this name the connection that stays is told from those of a test
# All that a test could change besides rows: a database that differs in any of it is not lent again.
_SHAPE = b"""
SELECT md5(string_agg(what, ';' ORDER BY what)) FROM (
  SELECT concat(conrelid, ' ', conname, convalidated) FROM pg_constraint
  UNION ALL SELECT concat(tgrelid, ' ', tgname, tgenabled) FROM pg_trigger
  UNION ALL SELECT concat(oid, ' ', relname, relkind, relacl) FROM pg_class
    WHERE relnamespace = 'public'::regnamespace
  UNION ALL SELECT concat(attrelid, ' ', attname, ' ', atttypid, attnotnull) FROM pg_attribute
    WHERE attrelid IN (SELECT oid FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'v'))
  UNION ALL SELECT concat(proname, ' ', prosrc) FROM pg_proc WHERE pronamespace = 'public'::regnamespace
  UNION ALL SELECT concat(nspname, ' ', nspacl) FROM pg_namespace WHERE nspname NOT LIKE 'pg_%'
  UNION ALL SELECT concat(datacl, datconnlimit) FROM pg_database WHERE datname = current_database()
  UNION ALL SELECT setconfig::text FROM pg_db_role_setting
    WHERE setdatabase = (SELECT oid FROM pg_database WHERE datname = current_database())
) shape (what)
"""
_TABLES = b"SELECT relname FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace ORDER BY relname"
_SEQUENCES = b"SELECT quote_literal(sequencename), coalesce(last_value, 1), last_value IS NOT NULL FROM pg_sequences"
# The first transaction that has not begun: what tests write from now on is written by it or by a later one.
_NEXT = b"SELECT pg_snapshot_xmax(pg_current_snapshot())::text::bigint"
_OTHERS = b"""
SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()
"""
_LENT_BETWEEN_VACUUMS = 50  # deleted rows stay in the way of every later test until their room is given back


class ReusedBook:
    """Lends a copy of a template database; rows and sequences are brought back to the template's between tests."""

    def __init__(self, server: Server, template: str) -> None:
        self._server = server
        self._template = template
        self._copy: _Copy | None = None

    @contextmanager
    def lend(self) -> Iterator[str]:
        """Yield the URL of a database that holds just what the template holds."""
        if self._copy is None:
            self._copy = _Copy(self._server.url(self._server.make_copy(self._template)))
        yield self._copy.url
        if not self._copy.brought_back():
            name = self._copy.url.rpartition("/")[2]
            self.close()
            with suppress(psycopg.Error):
                self._server.drop(name)

    def close(self) -> None:
        """Let go of the database."""
        if self._copy is not None:
            self._copy.close()
            self._copy = None


class _Copy:
    """A copy of the template with one connection that stays and remembers in temporary tables what was there.

    A row is the template's as long as the transaction that wrote it is older than the lending (PostgreSQL manual,
    "System Columns": xmin; an update writes a new row), so that only tables in which a test wrote are written again.
    """

    def __init__(self, url: str) -> None:
        self.url = url
        self._lent = 0
        self._rows: dict[str, int] = {}
        self._connection = psycopg.connect(
            url.replace("+psycopg", ""),
            autocommit=True,
            prepare_threshold=0,
            application_name=LENDER,
            options="-c session_replication_role=replica",  # no trigger stands in the way of bringing rows back
        )
        for (table,) in self._ask(_TABLES):
            self._ask(f"CREATE TEMPORARY TABLE kept_{table} AS TABLE public.{table}".encode())
            self._rows[table] = self._ask(f"SELECT count(*) FROM public.{table}".encode())[0][0]
        counts = [
            f"SELECT '{table}', count(*), count(*) FILTER (WHERE xmin::text::bigint < %(next)s) FROM public.{table}"
            for table in self._rows
        ]
        self._counts = " UNION ALL ".join(counts).encode()
        values = [f"setval({name}, {last}, {used})" for name, last, used in self._ask(_SEQUENCES)]
        self._sequences = f"SELECT {', '.join(values)}".encode()
        self._shape = self._ask(_SHAPE)
        self._next = self._ask(_NEXT)[0][0]

    def brought_back(self) -> bool:
        """Bring back the template's rows; False when the database is gone or is not shaped as it was."""
        try:
            self._ask(_OTHERS)  # a connection that a test left open could hold a lock
            if self._ask(_SHAPE) != self._shape:
                return False
            for table, rows, old in self._ask(self._counts, next=self._next):
                if rows != old or old != self._rows[table]:
                    self._bring_back(table, keep=old == self._rows[table])
            self._ask(self._sequences)
            self._lent += 1
            if self._lent % _LENT_BETWEEN_VACUUMS == 0:
                self._ask(b"VACUUM")
            self._next = self._ask(_NEXT)[0][0]
        except psycopg.Error:
            return False
        return True

    def close(self) -> None:
        """Let go of the database."""
        self._connection.close()

    def _bring_back(self, table: str, *, keep: bool) -> None:
        """Delete the rows of a test; where one of the template's is not as it was, write all of them again."""
        if keep:
            self._ask(f"DELETE FROM public.{table} WHERE xmin::text::bigint >= {self._next}".encode(), prepare=False)
            return
        self._ask(f"DELETE FROM public.{table}".encode())
        self._ask(f"INSERT INTO public.{table} SELECT * FROM kept_{table}".encode())

    def _ask(self, sql: bytes, *, prepare: bool | None = None, **values: int) -> list[tuple[Any, ...]]:
        cursor = self._connection.execute(sql, values or None, prepare=prepare)
        return cursor.fetchall() if cursor.description else []
