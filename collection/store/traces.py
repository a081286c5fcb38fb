"""What a database leaves of a value that was written over: old bytes in its file, which a forgotten person must not be.

SQLite leaves them in free space of a page until "secure_delete" is on, and in older free pages until the file is
written anew ("PRAGMA secure_delete" and "VACUUM", sqlite.org). PostgreSQL keeps the row's former versions until they
are vacuumed ("Routine Vacuuming", PostgreSQL manual).
"""

from __future__ import annotations

from typing import Any

from sqlalchemy.engine import Connection, Engine
from sqlalchemy.exc import DBAPIError


def overwrite_what_is_deleted(connection: Connection) -> None:
    """Let this connection put zeros in the place of what it writes over."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("PRAGMA secure_delete = ON").close()


def sweep(engine: Engine) -> bool:
    """Drop former versions of rows from the database's files; returns whether it could be done now.

    SQLite writes the whole file anew, which needs it alone and as much room again. PostgreSQL lets the owner of the
    table do it, and only warns anybody else.
    """
    on_server = engine.dialect.name == "postgresql"
    said: list[Any] = []
    try:
        raw = engine.raw_connection()
    except DBAPIError:
        return False
    try:
        if on_server:
            driver: Any = raw.driver_connection
            raw.detach()  # what is set here must not meet whoever is given the connection next
            driver.autocommit = True
            driver.add_notice_handler(said.append)
        raw.cursor().execute("VACUUM person" if on_server else "VACUUM")
    except engine.dialect.loaded_dbapi.Error:
        return False
    finally:
        raw.close()
    return not said
