"""Bringing a database to this program's schema: one transaction for the whole way, checked before it is kept.

SQLite is migrated on a connection without foreign keys, because its way to change a table copies and renames it
("ALTER TABLE" 7, sqlite.org); afterwards foreign_key_check and quick_check must be clean or everything is rolled back.
"""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import TYPE_CHECKING, Any

from sqlalchemy.engine import Connection, Engine

from collection.errors import NoBook, Refused
from collection.store.engine import APPLICATION_ID, HEAD, opened, schema_version
from collection.store.shipped import shipped
from collection.store.stands import what_stands

if TYPE_CHECKING:
    from alembic.config import Config


def create_schema(location: str, revision: str = HEAD) -> None:
    """Make every table in an empty database; refused when anything stands there already."""
    with new_schema(location, revision):
        pass


@contextmanager
def new_schema(location: str, revision: str = HEAD) -> Iterator[Connection]:
    """Make every table in an empty database, in the transaction of the block; refused as ``create_schema``."""
    with (
        opened(location, enforce_references=False) as engine,
        engine.connect().execution_options(spindlebook_write=True) as connection,
        connection.begin(),
    ):
        _refuse_when_not_empty(connection)
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
        migrate_to(connection, revision)
        yield connection


def refuse_filled(location: str) -> None:
    """Refuse a database in which anything stands already."""
    with opened(location) as engine, engine.connect() as connection:
        _refuse_when_not_empty(connection)


def upgrade_schema(engine: Engine, keep: Callable[[str], None]) -> str:
    """Bring a known older book to the present schema; returns the revision it had.

    keep: makes a verified backup of the book at its revision; it is called under the writer's lock before anything is
    changed, and not at all where nothing is to be changed. Raises NoBook for a foreign or newer database.
    """
    with (
        _without_references(engine) as bare,
        bare.connect().execution_options(spindlebook_write=True) as connection,
        connection.begin(),
    ):
        before = schema_version(connection)
        if before is None:
            raise NoBook("This is not a book of this program; it was left as it is.", "Type: spindlebook where")
        if before not in known_revisions():
            raise NoBook(
                f"A newer version made this book (schema {before}, this program has {HEAD}); nothing was changed.",
                "Install the newer program.",
            )
        if before != HEAD:
            keep(before)
            migrate_to(connection, HEAD)
    return before


def _without_references(engine: Engine) -> AbstractContextManager[Engine]:
    url = engine.url
    on_file = url.get_backend_name() == "sqlite"
    place = str(url.database) if on_file else url.render_as_string(hide_password=False)
    return opened(place, enforce_references=False)


def known_revisions() -> set[str]:
    """Every schema revision that this program can upgrade from, its own included."""
    from alembic.script import ScriptDirectory

    return {script.revision for script in ScriptDirectory.from_config(_config()).walk_revisions()}


def _refuse_when_not_empty(connection: Connection) -> None:
    if what_stands(connection) is not None:
        name = connection.engine.url.render_as_string(hide_password=True)
        raise Refused(f"{name} holds tables already; a new book needs an empty place.", "Choose another with --db")


def migrate_to(connection: Connection, revision: str) -> None:
    """Bring a database to a later schema than it has, or make it where it has none, in the caller's transaction."""
    from alembic import command

    config = _config()
    config.attributes["connection"] = connection
    command.upgrade(config, revision)
    if connection.dialect.name == "sqlite":
        _check_sqlite(connection)


def _check_sqlite(connection: Connection) -> None:
    broken: list[Any] = list(connection.exec_driver_sql("PRAGMA foreign_key_check").fetchmany(3))
    damage = connection.exec_driver_sql("PRAGMA quick_check").scalar()
    if broken or damage != "ok":
        raise Refused(f"The migrated book would be damaged ({broken or damage}); it was left as it was.", "")


def _config() -> "Config":
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(shipped("migrations")).replace("%", "%%"))
    return config
