"""Whether anything stands in a database, be it a book or not."""

from sqlalchemy.engine import Connection

# Everything with a name of its own but what the server itself and its extensions bring ("pg_class", "pg_depend",
# PostgreSQL manual). information_schema would leave out what this account has no right to.
_STANDS = """
SELECT n.nspname || '.' || c.relname FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
WHERE n.nspname <> 'information_schema' AND left(n.nspname, 3) <> 'pg_'
AND NOT EXISTS (SELECT 1 FROM pg_depend d WHERE d.classid = 'pg_class'::regclass AND d.objid = c.oid
AND d.deptype = 'e') ORDER BY 1 LIMIT 1
"""


def what_stands(connection: Connection) -> str | None:
    """The name of something that stands in a database; None when it is empty."""
    sql = "SELECT name FROM sqlite_master LIMIT 1" if connection.dialect.name == "sqlite" else _STANDS
    name = connection.exec_driver_sql(sql).scalar()
    return None if name is None else str(name)
