"""One engine factory for the whole program, and the two ways to use it: a snapshot to read, a transaction to write.

SQLite: the driver's own transaction handling is off and BEGIN is sent by us, IMMEDIATE for writers, because a
deferred transaction that turns into a writer fails at once or loses updates ("Transactions with SQLite and the sqlite3
driver", SQLAlchemy SQLite dialect documentation; "Transaction", sqlite.org). The rollback journal (DELETE) with
synchronous=EXTRA keeps a commit across a power cut right after it ("PRAGMA synchronous", sqlite.org). PostgreSQL:
readers see one snapshot (REPEATABLE READ), writers queue for one advisory lock, so that acts form a chain.
"""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from time import monotonic, sleep
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import URL, Connection, Engine

from collection.errors import Expected, NoBook
from collection.store.stands import what_stands

APPLICATION_ID = 0x5350424B  # "SPBK"
HEAD = "0005"
OLDEST_SQLITE = (3, 37, 0)  # first with STRICT tables ("STRICT Tables", sqlite.org)
WRITER_LOCK = 0x5350424B
_WRITE = "spindlebook_write"
_NO_RIGHT = "42501"  # insufficient_privilege ("PostgreSQL Error Codes", PostgreSQL manual, appendix A)
_NO_BOOK = (1, 26)  # SQLITE_ERROR (a table is missing), SQLITE_NOTADB ("Result and Error Codes", sqlite.org)
_FORM = "Form: postgresql+psycopg://USER@HOST/NAME"
_LET_IN = "Write it before the @, as USER:PASSWORD@HOST, or keep it in the file .pgpass in your home."
# What a person entered stays out of messages and logs.
_QUIETLY: dict[str, Any] = {"hide_parameters": True}
# To connect takes a server longer than an act does, so one connection is kept until the engine is disposed of; it is
# asked whether it still lives before it is used again. A file is opened anew each time: nobody else is kept waiting.
_KEPT: dict[str, Any] = {"poolclass": sa.QueuePool, "pool_size": 1, "max_overflow": -1, "pool_pre_ping": True}
_PATIENCE = 5.0  # seconds for which a writer waits for others, on either database
# One way to the server and back; the patience is set first, since what stands in FROM is asked for first.
TAKE_LOCK = f"SELECT pg_advisory_xact_lock({WRITER_LOCK}) FROM set_config('lock_timeout', '{_PATIENCE:.0f}s', true)"
_PRAGMAS = (
    f"busy_timeout = {_PATIENCE * 1000:.0f}",
    "recursive_triggers = ON",
    "journal_mode = DELETE",
    "synchronous = EXTRA",
    "trusted_schema = OFF",
    "cell_size_check = ON",
)

# What goes wrong while a connection is closed, as on Ctrl-C or a full disk, would else be printed besides.
for _library in ("sqlalchemy", "psycopg"):
    logging.getLogger(_library).addHandler(logging.NullHandler())


def is_url(location: str) -> bool:
    """Whether ``location`` is a database URL rather than a file."""
    return "://" in location


def book_url(location: str) -> URL:
    """The URL of a file name or of a database URL; only SQLite and PostgreSQL are served."""
    if not is_url(location):
        return URL.create("sqlite", database=_absolute(location))
    try:
        url = sa.make_url(location)
    except (sa.exc.ArgumentError, ValueError):
        raise NoBook("--db: this database URL cannot be read.", _FORM) from None
    if url.get_backend_name() == "postgresql":
        if location.count("@") > 1:  # part of a password, which nobody may see, would be taken for a host or a name
            raise NoBook(
                "--db: this database URL has more than one @; write %40 for any but the one before the host.", _FORM
            )
        if any("password" in name for name in url.query):  # only one before the @ is hidden where a URL is shown
            raise NoBook("--db: this database URL has a password after its ?; there it would be shown.", _LET_IN)
        return url.set(drivername="postgresql+psycopg")
    if url.get_backend_name() == "sqlite" and url.database and url.database != ":memory:" and not url.query:
        return url
    raise NoBook(
        f"--db: a book cannot stand in '{_place(url)}'; it is a file or a PostgreSQL database.",
        "Give a file name or postgresql+psycopg://USER@HOST/NAME",
    )


def _absolute(location: str) -> str:
    try:
        return str(Path(location).expanduser().absolute())
    except RuntimeError:
        raise NoBook(f"{location}: nobody here has a home of that name.", "Give the full path of the book.") from None
    except FileNotFoundError:
        raise NoBook("The folder you are in is gone.", "Go to another, or give the full path of a book.") from None


def _place(url: URL) -> str:
    return url.render_as_string() if url.get_backend_name() == "sqlite" else url.get_backend_name()


def show_location(location: str) -> str:
    """The location with any password hidden."""
    return book_url(location).render_as_string(hide_password=True) if is_url(location) else location


def open_engine(location: str, *, enforce_references: bool = True) -> Engine:
    """An engine for ``location``; nothing is opened or created yet. Whoever asks for it disposes of it.

    ``enforce_references=False`` is for migrations only: SQLite's copy-and-rename of a table would otherwise delete or
    refuse the rows that refer to it ("ALTER TABLE" 7, sqlite.org).
    """
    url = book_url(location)
    if url.get_backend_name() == "sqlite":
        return _sqlite_engine(url, enforce_references)
    try:
        engine = sa.create_engine(url, **_QUIETLY, **_KEPT, connect_args={"connect_timeout": 5})
    except ModuleNotFoundError:
        raise NoBook("PostgreSQL needs its driver.", "Type: pip install 'spindlebook[postgresql]'") from None
    sa.event.listen(engine, "begin", _lock_out_other_writers)
    return engine


@contextmanager
def opened(location: str, *, enforce_references: bool = True) -> Iterator[Engine]:
    """The same engine for as long as the block lasts; then its connection to a server is closed."""
    engine = open_engine(location, enforce_references=enforce_references)
    try:
        yield engine
    finally:
        engine.dispose()


def _sqlite_engine(url: URL, enforce_references: bool) -> Engine:
    import sqlite3

    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        wanted = ".".join(map(str, OLDEST_SQLITE))
        raise Expected(f"SQLite {sqlite3.sqlite_version} is too old; {wanted} or newer is needed.", "Update Python.")
    engine = sa.create_engine(url, **_QUIETLY, poolclass=sa.NullPool)

    @sa.event.listens_for(engine, "connect")
    def prepare(connection: Any, _record: object) -> None:
        connection.isolation_level = None
        for pragma in (*_PRAGMAS, "foreign_keys = ON") if enforce_references else _PRAGMAS:
            connection.execute(f"PRAGMA {pragma}")

    @sa.event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        if connection.get_execution_options().get(_WRITE):
            _begin_after_others(connection)
        else:
            connection.exec_driver_sql("BEGIN")

    return engine


def _begin_after_others(connection: Connection) -> None:
    """Begin the writing transaction as soon as nobody else writes; who has waited longer asks more often.

    SQLite's own wait asks ever more rarely, so that those who come anew go before ("sqlite3_busy_timeout", sqlite.org,
    promises nobody a turn): of eight people who wrote at once, some waited in vain.
    """
    import sqlite3

    driver: Any = connection.connection.driver_connection
    driver.execute("PRAGMA busy_timeout = 0")
    begun = monotonic()
    try:
        while (waited := monotonic() - begun) < _PATIENCE:
            try:
                driver.execute("BEGIN IMMEDIATE")
                return
            except sqlite3.OperationalError as error:
                if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
                    break
            sleep(0.02 / (1 + 10 * waited))
        connection.exec_driver_sql("BEGIN IMMEDIATE")  # whatever is wrong is told in the usual way
    finally:
        driver.execute(f"PRAGMA {_PRAGMAS[0]}")


def _lock_out_other_writers(connection: Connection) -> None:
    if connection.get_execution_options().get(_WRITE):
        connection.exec_driver_sql(TAKE_LOCK)


def must_exist(engine: Engine) -> None:
    """Refuse a file that is not there, before the driver would create it, and one that is no book by its header.

    The header's first 16 bytes name the format, bytes 68 to 71 the application
    ("Database File Format" 1.3, sqlite.org).
    """
    if engine.dialect.name != "sqlite":
        return
    file = Path(str(engine.url.database))
    if not file.is_file():
        raise NoBook(f"There is no book at {file}.", "Type: spindlebook start (or: spindlebook demo)")
    with file.open("rb") as content:
        header = content.read(72)
    if not header:
        raise NoBook(f"{file} is an empty file, no book.", "Remove it, then type: spindlebook start")
    if header[:16] != b"SQLite format 3\0" or header[68:] != APPLICATION_ID.to_bytes(4, "big"):
        raise _foreign(str(file))


def _foreign(name: str) -> NoBook:
    return NoBook(
        f"{name} is not a book of this program; it was left as it is.",
        "Type: spindlebook where, then choose the book with --db FILE",
    )


def _nothing_yet(name: str) -> NoBook:
    return NoBook(
        f"{name} is empty: no book stands there yet.",
        "Type: spindlebook start; or bring one there with move-to or restore",
    )


def _is_taken(connection: Connection) -> bool:
    try:
        return what_stands(connection) is not None
    except sa.exc.DatabaseError:  # what was asked before has failed, so there is something
        return True


def recognise(connection: Connection, revision: str = HEAD) -> None:
    """Refuse whatever is not a book of this program's version, or of another ``revision`` that is asked for."""
    version = schema_version(connection)
    if version is None:
        raise _foreign(_name(connection)) if _is_taken(connection) else _nothing_yet(_name(connection))
    if version != revision:
        older = version < HEAD
        raise NoBook(
            f"{_name(connection)} was made by {'an older' if older else 'a newer'} version (schema {version}, this"
            f" program has {HEAD}); nothing was changed.",
            "Type: spindlebook upgrade" if older else "Install the newer program.",
        )


def schema_version(connection: Connection) -> str | None:
    """The schema revision a book stands at; None for anything that is not a book.

    A locked, damaged or unreachable book may be one: what the driver raises then is passed on.
    """
    try:
        if connection.dialect.name == "sqlite":
            if connection.exec_driver_sql("PRAGMA application_id").scalar() != APPLICATION_ID:
                return None
        elif None in connection.exec_driver_sql("SELECT to_regclass('seal'), to_regclass('alembic_version')").one():
            return None
        version = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
        return None if version is None else str(version)
    except sa.exc.DatabaseError as error:
        if _may_be_a_book(error):
            raise
        return None


def _may_be_a_book(error: sa.exc.DatabaseError) -> bool:
    code = getattr(error.orig, "sqlite_errorcode", None)
    if code is not None:
        return code & 0xFF not in _NO_BOOK
    return isinstance(error, sa.exc.OperationalError) or getattr(error.orig, "sqlstate", None) == _NO_RIGHT


def _name(connection: Connection) -> str:
    return connection.engine.url.render_as_string(hide_password=True).removeprefix("sqlite:///")


@contextmanager
def reading(engine: Engine, revision: str = HEAD) -> Iterator[Connection]:
    """A connection that cannot write and sees one snapshot; of a book of another schema only before its upgrade."""
    must_exist(engine)
    on_server = engine.dialect.name == "postgresql"
    options = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True} if on_server else {}
    with engine.connect().execution_options(**options) as connection:
        if not on_server:
            connection.connection.driver_connection.execute("PRAGMA query_only = ON")  # type: ignore[union-attr]
        with connection.begin():
            recognise(connection, revision)
            yield connection


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """A connection inside the one writing transaction; it is rolled back unless the caller commits."""
    must_exist(engine)
    with engine.connect().execution_options(**{_WRITE: True}) as connection:
        transaction = connection.begin()
        try:
            recognise(connection)
            yield connection
        finally:
            if transaction.is_active:
                transaction.rollback()


def fetch(connection: Connection, sql: str, **parameters: Any) -> list[tuple[Any, ...]]:
    """Raw rows of a SELECT with ``:name`` parameters; no per-value processing, for reads of any size."""
    result = connection.execute(_text(sql), parameters)
    rows: list[tuple[Any, ...]] = list(result.cursor.fetchall())
    result.close()
    return rows


@lru_cache(maxsize=1000)
def _text(sql: str) -> sa.TextClause:
    """A statement whose parameters are looked for once: acts ask the same again and again."""
    return sa.text(sql)
