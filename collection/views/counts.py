"""What counts: rows of undone acts stay in the book and count for nothing."""

from sqlalchemy.engine import Connection

from collection.store.engine import fetch


def counts(alias: str) -> str:
    """Return the SQL condition under which a row of an append-only table counts."""
    return f"{alias}.act_id NOT IN (SELECT act_id FROM undone)"


def how_many_units(connection: Connection) -> int:
    """Return how large the book is: its units, those of undone acts included."""
    return int(fetch(connection, "SELECT count(*) FROM unit")[0][0])
