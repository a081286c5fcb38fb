"""What was read in a service, before and after, against the limits of the day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.analysis.limits import OUT, Limit, Verdict, crossed, verdict
from collection.analysis.readiness import Left, Retest
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.findings import in_words, show_range, show_value
from collection.views.limits import Limits
from collection.views.procedures import Procedure
from collection.views.readings import newest_first, reading_counts
from collection.views.units import Unit

_SQL = f"""
SELECT r.id, r.series_id, m.id, m.name, m.measured_in, s.point, r.taken_on, r.value, r.grade, r.stage, i.name
FROM reading r JOIN series s ON s.id = r.series_id JOIN measurement m ON m.id = s.measurement_id
JOIN instrument i ON i.id = r.instrument_id
WHERE r.service_id = :service AND r.stage <> 'between' AND {reading_counts("r")} ORDER BY r.taken_on, r.id
"""
_GRADES_SQL = f"""
SELECT r.id, r.grade FROM reading r
WHERE r.series_id = :series AND r.taken_on <= :day AND {reading_counts("r")} ORDER BY {newest_first("r")}
"""


@dataclass(frozen=True, slots=True)
class Result:
    """One reading of a service: value or grade, what it says, and the instrument."""

    value: float | None
    grade: str | None
    measured_in: str
    says: Verdict
    instrument: str
    limit: Limit | None

    @property
    def shown(self) -> str:
        """The result as a person reads it, with as many digits as tell it from its limit."""
        return in_words(self.value, self.grade, self.measured_in, self.limit, self.says)


@dataclass(frozen=True, slots=True)
class BeforeAfter:
    """One series in a service: its first result as found, its last as left, the limit that counts."""

    measurement: str
    point: str
    found: Result | None
    left: Result | None
    limit: Limit | None

    @property
    def out_as_found(self) -> bool:
        """Say whether it was outside its limit, or failed, before the work."""
        return self.found is not None and self.found.says in OUT


def before_and_after(conn: Connection, unit: Unit, service_id: int) -> list[BeforeAfter]:
    """Return what was read in a service, one row per series, in the order of entry."""
    limits = Limits(conn)
    rows: dict[int, BeforeAfter] = {}
    for row in fetch(conn, _SQL, service=service_id):
        reading_id, series_id, measurement_id, name, measured_in, point, day, value, grade, stage, used = row
        limit = limits.on(day, unit.id, unit.model_id, measurement_id, point)
        previous = _grade_before(conn, reading_id, series_id, day) if grade == "marginal" else None
        says = verdict(grade or value, limit, previous)
        result = Result(value, grade, measured_in, says, used, limit)
        known = rows.get(series_id, BeforeAfter(name, point, None, None, limit))
        if stage == "as left":
            rows[series_id] = BeforeAfter(name, point, known.found, result, limit)
        elif known.found is None:
            rows[series_id] = BeforeAfter(name, point, result, known.left, limit)
    return list(rows.values())


def left_of(rows: Iterable[BeforeAfter]) -> list[Left]:
    """Return the results as left, as the rule of readiness reads them."""
    return [
        Left(row.measurement, row.point, row.left.shown, bound_of(row.left), row.left.says)
        for row in rows
        if row.left is not None
    ]


def bound_of(result: Result) -> str:
    """Return the bound that a result lies outside of, else the whole limit, or nothing."""
    if result.limit is None or result.value is None:
        return ""
    bound = crossed(result.value, result.limit)
    return show_value(bound) if bound is not None else show_range(result.limit)


def retests_of(
    conn: Connection, unit: Unit, service_id: int, procedures: Iterable[Procedure], on: date
) -> list[Retest]:
    """Return what procedures must measure as left on a unit at the end of a service.

    Wanted are the points that have a limit, and those read as found in the service or ever before it; where there
    are none, any point will do.
    """
    names = {fold(name): name for procedure in procedures for name in procedure.retests}
    known = {fold(name): (number, name) for number, name in _measurements(conn)}
    wanted = []
    for folded, name in names.items():
        number, spelt = known.get(folded, (0, name))
        points = [*_with_limit(conn, unit, number, on), *_read(conn, unit.id, number, service_id)]
        wanted.append(Retest(spelt, tuple(dict.fromkeys(points))))
    return wanted


def _measurements(conn: Connection) -> list[tuple[int, str]]:
    return [(row[0], row[1]) for row in fetch(conn, "SELECT id, name FROM measurement WHERE void = 0")]


def _read(conn: Connection, unit_id: int, measurement_id: int, service_id: int) -> list[str]:
    """Return the points at which a unit was read before a service, or as found in it."""
    sql = (
        "SELECT s.point FROM series s WHERE s.unit_id = :unit AND s.measurement_id = :measurement"
        f" AND EXISTS (SELECT 1 FROM reading r WHERE r.series_id = s.id AND {reading_counts('r')}"
        " AND (r.service_id IS NULL OR r.service_id <> :service OR r.stage = 'as found')) ORDER BY s.id"
    )
    return [row[0] for row in fetch(conn, sql, unit=unit_id, measurement=measurement_id, service=service_id)]


def _with_limit(conn: Connection, unit: Unit, measurement_id: int, on: date) -> list[str]:
    """Return the points that have a limit for this unit on a day, in the order in which they were written."""
    limits = Limits(conn)
    sql = "SELECT point FROM limit_range WHERE measurement_id = :measurement AND void = 0 ORDER BY id"
    points = dict.fromkeys(row[0] for row in fetch(conn, sql, measurement=measurement_id))
    day = on.isoformat()
    return [
        point for point in points if point and limits.on(day, unit.id, unit.model_id, measurement_id, point) is not None
    ]


def _grade_before(conn: Connection, reading_id: int, series_id: int, day: str) -> str | None:
    """Return the grade just before a reading in its series."""
    ordered = fetch(conn, _GRADES_SQL, series=series_id, day=day)
    at = next((place for place, row in enumerate(ordered) if row[0] == reading_id), len(ordered))
    return ordered[at + 1][1] if at + 1 < len(ordered) else None
