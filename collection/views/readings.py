"""The last reading of every series, in the one order that readings have."""

from collections.abc import Callable
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.counts import counts


def reading_counts(alias: str) -> str:
    """Return the SQL condition under which a reading counts: its act not undone, and not set aside."""
    aside = f"SELECT 1 FROM reading_aside a WHERE a.reading_id = {alias}.id AND {counts('a')}"
    return f"{counts(alias)} AND NOT EXISTS ({aside})"


def newest_first(alias: str) -> str:
    """Return the SQL order of the readings of one series, the newest first.

    By day; inside a day by the order of entry, where all readings of a service stand at the place of its
    first and as left comes after as found, in whatever order they were entered.
    """
    first = (
        f"SELECT min(f.id) FROM reading f WHERE f.series_id = {alias}.series_id"
        f" AND f.taken_on = {alias}.taken_on AND f.service_id = {alias}.service_id"
    )
    left = f"CASE {alias}.stage WHEN 'as left' THEN 1 ELSE 0 END"
    return f"{alias}.taken_on DESC, coalesce(({first}), {alias}.id) DESC, {left} DESC, {alias}.id DESC"


def _newest(alias: str, column: str, series: str, skip: int) -> str:
    return (
        f"(SELECT {alias}.{column} FROM reading {alias} WHERE {alias}.series_id = {series}"
        f" AND {reading_counts(alias)} ORDER BY {newest_first(alias)} LIMIT 1 OFFSET {skip})"
    )


class Last(NamedTuple):
    """The last reading of a series: `value` in the measurement's unit, or `grade`.

    previous_grade: of the reading before, known only where this one is marginal.
    """

    unit_id: int
    measurement_id: int
    point: str
    taken_on: str
    value: float | None
    grade: str | None
    previous_grade: str | None
    stage: str
    instrument: str


# One seek per series along ix_reading_series_id: the cost goes with the series, not with the readings.
# A series counts even if the act that first used it is undone: it only names a place to measure.
LAST_READINGS_SQL = f"""
SELECT s.unit_id, s.measurement_id, s.point, r.taken_on, r.value, r.grade,
       CASE r.grade WHEN 'marginal' THEN {_newest("p", "grade", "r.series_id", 1)} END, r.stage, i.name
FROM (SELECT s.id, s.unit_id, s.measurement_id, s.point, {_newest("r", "id", "s.id", 0)} AS last_id
      FROM series s{{only}}) s
JOIN reading r ON r.id = s.last_id
JOIN instrument i ON i.id = r.instrument_id
"""


def last_readings(conn: Connection, unit_id: int | None = None) -> list[Last]:
    """Return the last counting reading of every series, of all units or of one; none for an empty series."""
    if unit_id is None:
        rows = fetch(conn, LAST_READINGS_SQL.format(only=""))
    else:
        rows = fetch(conn, LAST_READINGS_SQL.format(only=" WHERE s.unit_id = :unit"), unit=unit_id)
    make: Callable[[tuple[object, ...]], Last] = Last._make
    return list(map(make, rows))
