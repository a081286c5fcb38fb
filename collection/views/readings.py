"""The last reading of every series, in the one order that readings have."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.mechanisms import Span
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.mechanisms import goes_along, listed, mechanisms


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

    previous_grade: of the reading before, known only where this one is marginal. here_since: the day from which
    it speaks of this unit, where it was read of the mechanism in another one before; else "".
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
    here_since: str = ""


# One seek per series along ix_reading_series_id: the cost goes with the series, not with the readings.
# A series counts even if the act that first used it is undone: it only names a place to measure.
LAST_READINGS_SQL = f"""
SELECT s.unit_id, s.measurement_id, s.point, r.taken_on, r.value, r.grade,
       CASE r.grade WHEN 'marginal' THEN {_newest("p", "grade", "r.series_id", 1)} END, r.stage, i.name, ''
FROM (SELECT s.id, s.unit_id, s.measurement_id, s.point, {_newest("r", "id", "s.id", 0)} AS last_id
      FROM series s{{only}}) s
JOIN reading r ON r.id = s.last_id
JOIN instrument i ON i.id = r.instrument_id
"""


# Newest first over all series of the units asked for, so that spans of several units can be read as one history.
_OF_UNITS_SQL = f"""
SELECT s.unit_id, s.measurement_id, s.point, r.taken_on, r.value, r.grade, NULL, r.stage, i.name, ''
FROM reading r JOIN series s ON s.id = r.series_id JOIN instrument i ON i.id = r.instrument_id
WHERE s.unit_id IN ({{units}}) AND s.measurement_id IN ({{measurements}}) AND {reading_counts("r")}
ORDER BY {newest_first("r")}
"""
_make: Callable[[tuple[object, ...]], Last] = Last._make


def last_readings(conn: Connection, unit_id: int | None = None) -> list[Last]:
    """Return the last counting reading of every series, of all units or of one; none for an empty series.

    What a mechanism takes along is read of the mechanism that is in the unit now, wherever it was read.
    """
    return with_mechanisms(conn, last_by_series(conn, unit_id), unit_id)


def last_by_series(conn: Connection, unit_id: int | None = None) -> list[Last]:
    """Return the last counting reading of every series as they were taken, whatever was swapped since."""
    if unit_id is None:
        rows = fetch(conn, LAST_READINGS_SQL.format(only=""))
    else:
        rows = fetch(conn, LAST_READINGS_SQL.format(only=" WHERE s.unit_id = :unit"), unit=unit_id)
    return list(map(_make, rows))


def with_mechanisms(conn: Connection, taken: list[Last], unit_id: int | None = None) -> list[Last]:
    """Return last readings with those of swapped mechanisms in the place of what was read of former ones."""
    moved = mechanisms(conn)
    touched = [each for each in moved.touched if unit_id in (None, each)]
    if not touched:
        return taken
    along = goes_along(conn)
    kept = [last for last in taken if not (last.unit_id in touched and last.measurement_id in along)]
    last = _last_of(conn, {each: moved.history_of(each) for each in touched}, along)
    return kept + [_since(each, moved.fitted_on(each.unit_id)) for each in last]


def _last_of(conn: Connection, histories: Mapping[int, Sequence[Span]], along: Iterable[int]) -> list[Last]:
    """Return the last readings of each unit over the spans that make its history."""
    spans: dict[int, list[tuple[int, Span]]] = {}
    for unit_id, history in histories.items():
        for span in history:
            spans.setdefault(span.unit_id, []).append((unit_id, span))
    found: dict[tuple[int, int, str], list[Last]] = {}
    for row in map(_make, fetch(conn, _OF_UNITS_SQL.format(units=listed(spans), measurements=listed(along)))):
        for unit_id, span in spans[row.unit_id]:
            newest = found.setdefault((unit_id, row.measurement_id, row.point), [])
            if len(newest) < 2 and span.holds(row.taken_on, row.stage):
                newest.append(row._replace(unit_id=unit_id))
    return [_with_previous(*newest) for newest in found.values() if newest]


def _since(last: Last, fitted_on: str) -> Last:
    return last._replace(here_since=fitted_on) if last.taken_on < fitted_on else last


def _with_previous(last: Last, before: Last | None = None) -> Last:
    """Tell a marginal reading what the one before it said."""
    return last._replace(previous_grade=before.grade) if before and last.grade == "marginal" else last
