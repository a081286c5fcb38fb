"""The readings by which two references can be held against each other: of one unit and series, on one whole day."""

from __future__ import annotations

from datetime import date

from sqlalchemy.engine import Connection

from collection.analysis.checks import Read
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.readings import reading_counts

_WHOLE_DAY = 10  # characters of 2025-10-03; of a day known only to its month nobody knows that it was the same
_SQL = f"""
SELECT s.unit_id, s.measurement_id, s.point, r.taken_on, {{by}}
FROM reading r JOIN series s ON s.id = r.series_id JOIN instrument i ON i.id = r.instrument_id
WHERE r.taken_on >= :since AND length(r.taken_on) = {_WHOLE_DAY} AND {{only}} AND {reading_counts("r")}
"""


def instrument_readings(conn: Connection, measurement_id: int, since: date) -> list[Read]:
    """Return the counting readings of a measurement from a day on, by the name of their instrument."""
    sql = _SQL.format(by="i.name", only="s.measurement_id = :measurement")
    return [Read(*row) for row in fetch(conn, sql, since=since.isoformat(), measurement=measurement_id)]


def disk_readings(conn: Connection, since: date) -> list[Read]:
    """Return the counting readings that name a disk from a day on, by its folded name."""
    sql = _SQL.format(by="r.disk", only="r.disk IS NOT NULL")
    return [Read._make([*row[:4], fold(row[4])]) for row in fetch(conn, sql, since=since.isoformat())]


def was_read_with(conn: Connection, instrument_id: int, measurement_id: int) -> bool:
    """Say whether a measurement was ever read with an instrument."""
    sql = (
        "SELECT 1 FROM reading r JOIN series s ON s.id = r.series_id WHERE r.instrument_id = :instrument"
        f" AND s.measurement_id = :measurement AND {reading_counts('r')} LIMIT 1"
    )
    return bool(fetch(conn, sql, instrument=instrument_id, measurement=measurement_id))
