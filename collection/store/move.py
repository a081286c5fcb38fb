"""Another place for a book: what may stand there, a copy that is there as a whole or not at all, digests to compare."""

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import URL, Connection

from collection.errors import NoBook, Refused
from collection.schema import TABLES
from collection.store.book import open_book
from collection.store.chain import rows_digest
from collection.store.copy import copy_into_file, in_batches, replace_rows
from collection.store.engine import HEAD, book_url, must_exist, open_engine, opened, reading, schema_version
from collection.store.migrate import new_schema
from collection.store.place import beside, put_in_place
from collection.store.stands import what_stands

Contents = dict[str, tuple[int, str]]
_KEPT_EMPTY = "nothing was copied."
_ANOTHER = "Choose a place where nothing stands: another file, or a database just made for the book."
# Class 08: the connection; 28: not let in; 57P: the server went ("PostgreSQL Error Codes", manual, appendix A).
_CUT = ("08", "28", "57P")


def target_url(location: str) -> URL:
    """Where the copy shall stand; what cannot be read is refused as in --db, without showing it."""
    try:
        return book_url(location)
    except NoBook as error:
        raise NoBook(error.what.replace("--db: ", "move-to: "), error.hint.replace("--db", "move-to")) from None


def shown(url: URL) -> str:
    """The place as a person may read it: a file's name, or a URL without its password."""
    if url.get_backend_name() == "sqlite":
        return str(url.database)
    return url._replace(password=None).render_as_string()  # set() takes None for "as it is"


def contents(connection: Connection) -> Contents:
    """How many rows each table has, and the SHA-256 of all their values in the order of their ids."""
    return {name: _content(connection, name, [column.name for column in table.c]) for name, table in TABLES.items()}


def _content(connection: Connection, table: str, columns: list[str]) -> tuple[int, str]:
    counts: list[int] = []

    def counted() -> Iterator[list[tuple[Any, ...]]]:
        for rows in in_batches(connection, table, ", ".join(columns)):
            counts.append(len(rows))
            yield rows

    digest = rows_digest(counted())
    return sum(counts), digest


def refuse_unfit(url: URL, lock: Connection) -> None:
    """Refuse a place in which anything stands, the book's own, or one where this account may make nothing.

    lock: a connection to the book, in a transaction. Raises NoBook where there is no connection to the place.
    """
    if url.get_backend_name() == "sqlite":
        _refuse_file(Path(str(url.database)), lock)
        return
    place = url.render_as_string(hide_password=False)
    with opened(place) as engine, told_when_cut(f"to {shown(url)}"), engine.connect() as connection:
        _refuse_same(connection, lock, url)
        first = what_stands(connection)
        if first is not None:
            raise _taken(url, _held(connection, lock, f"{first} and perhaps more, of another program"))
        _refuse_powerless(connection, url)


@contextmanager
def copied(source: Connection, url: URL) -> Iterator[Connection]:
    """Copy every row that ``source`` sees; the block sees the copy, which is kept when the block ends well.

    A file gets its name only then, a database is filled in one transaction: a move that is cut short, or a block that
    raises, leaves the place as empty as it was.
    """
    if url.get_backend_name() == "sqlite":
        file = Path(str(url.database))
        with beside(file) as aside:
            copy_into_file(source, str(aside))
            with opened(str(aside)) as engine, reading(engine) as copy:
                yield copy
            try:
                put_in_place(aside, file)
            except FileExistsError:
                raise _taken(url, "something that came meanwhile") from None
        return
    with new_schema(url.render_as_string(hide_password=False)) as copy:
        replace_rows(source, copy)
        yield copy


@contextmanager
def told_when_cut(where: str) -> Iterator[None]:
    """Say of which place it is that the connection failed; other errors pass."""
    try:
        yield
    except sa.exc.OperationalError as error:
        state = getattr(error.orig, "sqlstate", None)
        if hasattr(error.orig, "sqlite_errorcode") or not (state is None or state.startswith(_CUT)):
            raise
        lines = [line.strip(" -\t") for line in str(error.orig).splitlines() if line.strip()]
        said = lines[1] if lines[0].startswith("Multiple connection attempts") else lines[0]
        raise NoBook(f"There is no connection {where}: {said.rstrip('.')}; {_KEPT_EMPTY}", _way_in(said)) from None


def _way_in(said: str) -> str:
    if "authentication failed" in said or "no password" in said:
        return "The password stands in the URL, as USER:PASSWORD@HOST, or in the file .pgpass in your home."
    if "database" in said and "does not exist" in said:
        return "Whoever keeps the server makes an empty database first, as: createdb --owner USER NAME"
    return "Check the address and that the server runs, then type it again: the place is as empty as before."


def _refuse_file(file: Path, lock: Connection) -> None:
    if not file.parent.is_dir():
        raise Refused(f"There is no folder {file.parent}.", "Make it first, or choose another place.")
    if not os.path.lexists(file):
        return
    url = URL.create("sqlite", database=str(file))
    if lock.dialect.name == "sqlite" and file.exists() and file.samefile(str(lock.engine.url.database)):
        raise _same(url)
    engine = open_engine(str(file))
    try:
        must_exist(engine)
    except NoBook:
        raise _taken(url, "something that is no book of this program") from None
    with engine.connect() as connection:
        raise _taken(url, _held(connection, lock, "something that is no book of this program"))


def _refuse_same(connection: Connection, lock: Connection, url: URL) -> None:
    """An advisory lock belongs to one database ("Advisory Locks", PostgreSQL manual): whoever meets it is there."""
    if lock.dialect.name != "postgresql":
        return
    number = secrets.randbits(62)
    lock.exec_driver_sql(f"SELECT pg_advisory_xact_lock({number})")
    if not connection.exec_driver_sql(f"SELECT pg_try_advisory_xact_lock({number})").scalar():
        raise _same(url)


def _same(url: URL) -> Refused:
    return Refused(f"The book stands in {shown(url)} already; {_KEPT_EMPTY}", _ANOTHER)


def _taken(url: URL, what: str) -> Refused:
    return Refused(f"{shown(url)} holds {what}; {_KEPT_EMPTY}", _ANOTHER)


def _held(connection: Connection, lock: Connection, otherwise: str) -> str:
    version = schema_version(connection)
    if version is None:
        return otherwise
    if version != HEAD:
        return f"a book of {'an older' if version < HEAD else 'a newer'} version (schema {version})"
    same = open_book(connection).key == open_book(lock).key
    return "a copy of this book" if same else "another book"


def _refuse_powerless(connection: Connection, url: URL) -> None:
    sql = (
        "SELECT current_user, current_schema(), has_schema_privilege(current_schema(), 'CREATE'),"
        " current_setting('server_encoding')"
    )
    user, schema, may_create, encoding = connection.exec_driver_sql(sql).one()
    if not may_create:
        what = f"The account may make no tables in {shown(url)}"
        raise Refused(
            f"{what}; {_KEPT_EMPTY}", f"Its owner types there: GRANT CREATE ON SCHEMA {schema or 'public'} TO {user}"
        )
    if encoding != "UTF8":
        raise Refused(
            f"{shown(url)} keeps texts as {encoding}, a book is in UTF8; {_KEPT_EMPTY}",
            "Make the database anew, as: createdb --encoding UTF8 --template template0 NAME",
        )
