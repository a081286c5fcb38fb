"""The readings that a guided service asks for, with their limits and what was read last."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.analysis.limits import Limit
from collection.analysis.readiness import Retest
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.findings import show_value
from collection.views.limits import Limits
from collection.views.measuring import Measurement, instruments_for, measurement_list
from collection.views.procedures import Procedure
from collection.views.readings import Last, last_readings, reading_counts
from collection.views.service_guide_work import procedures_done
from collection.views.service_readings import before_and_after, retests_of
from collection.views.units import Unit

_INSTRUMENT_SQL = f"""
SELECT i.name FROM reading r JOIN series s ON s.id = r.series_id JOIN instrument i ON i.id = r.instrument_id
WHERE s.measurement_id = :measurement AND r.service_id = :service AND {reading_counts("r")}
ORDER BY r.id DESC LIMIT 1
"""
_LIMIT_POINTS_SQL = "SELECT DISTINCT measurement_id, point FROM limit_range WHERE void = 0 ORDER BY measurement_id"


@dataclass(frozen=True, slots=True)
class AskedReading:
    """A reading that is asked for: its limit, the last one ("" where there is none), the instrument of that."""

    measurement: Measurement
    point: str
    limit: Limit | None
    last: str
    last_on: str
    instrument: str


def readings_as_found(conn: Connection, unit: Unit, on: date, due: Iterable[Procedure]) -> list[AskedReading]:
    """Return what is read before the work: what due procedures measure again, was read before, or has a limit.

    In this order; a measurement comes once, at every point that it was read at or has a limit for.
    """
    known = _Known(conn, unit, on)
    retested = [fold(name) for procedure in due for name in procedure.retests]
    first = [each for name in retested for each in known.measurements if fold(each.name) == name]
    read = [each for each in known.measurements if known.points_read(each.id)]
    limited = [each for each in known.measurements if known.limited(each)]
    asked = dict.fromkeys([*first, *read, *limited])
    return [known.asked(each, point) for each in asked for point in known.points(each)]


def readings_as_left(conn: Connection, unit: Unit, service_id: int, on: date) -> list[AskedReading]:
    """Return what must be read after the work: what its procedures measure again, and what was out as found."""
    retests = retests_of(conn, unit, service_id, procedures_done(conn, service_id), on)
    found = before_and_after(conn, unit, service_id)
    retests += [Retest(row.measurement, (row.point,)) for row in found if row.out_as_found]
    return readings_of(conn, unit, retests, on)


def readings_of(conn: Connection, unit: Unit, retests: Iterable[Retest], on: date) -> list[AskedReading]:
    """Return what is asked to measure what retests want, each series once; at its usual points where none is named."""
    known = _Known(conn, unit, on)
    by_name = {fold(each.name): each for each in known.measurements}
    wanted: dict[tuple[Measurement, str], None] = {}
    for retest in retests:
        measurement = by_name.get(fold(retest.measurement))
        if measurement is not None:
            points = retest.points or measurement.points or ("",)
            wanted.update(dict.fromkeys((measurement, point) for point in points))
    return [known.asked(*each) for each in wanted]


def instrument_in(conn: Connection, service_id: int | None, measurement_id: int) -> str:
    """Return the instrument with which a measurement was last read in a service, or ""."""
    rows = fetch(conn, _INSTRUMENT_SQL, service=service_id, measurement=measurement_id)
    return str(rows[0][0]) if rows else ""


class _Known:
    """What the book knows of the readings of one unit on a day."""

    def __init__(self, conn: Connection, unit: Unit, on: date) -> None:
        self.conn, self.unit, self.day = conn, unit, on.isoformat()
        self.measurements: Sequence[Measurement] = measurement_list(conn)
        self.limits = Limits(conn)
        self.last = {(each.measurement_id, each.point): each for each in last_readings(conn, unit.id)}
        self.pairs = fetch(conn, _LIMIT_POINTS_SQL)

    def limit(self, measurement_id: int, point: str) -> Limit | None:
        return self.limits.on(self.day, self.unit.id, self.unit.model_id, measurement_id, point)

    def points_read(self, measurement_id: int) -> list[str]:
        return [point for number, point in self.last if number == measurement_id]

    def limited(self, measurement: Measurement) -> list[str]:
        """Return the points that have a limit; "" for one that holds at every point."""
        points = dict.fromkeys(point for number, point in self.pairs if number == measurement.id)
        return [point for point in points if self.limit(measurement.id, point) is not None]

    def points(self, measurement: Measurement) -> list[str]:
        named = [point for point in self.limited(measurement) if point]
        return list(dict.fromkeys([*self.points_read(measurement.id), *named])) or [*measurement.points] or [""]

    def asked(self, measurement: Measurement, point: str) -> AskedReading:
        last = self.last.get((measurement.id, point))
        limit = None if measurement.graded else self.limit(measurement.id, point)
        shown = "" if last is None else _shown(last)
        return AskedReading(
            measurement, point, limit, shown, "" if last is None else last.taken_on, self._instrument(measurement, last)
        )

    def _instrument(self, measurement: Measurement, last: Last | None) -> str:
        """Return the instrument of the last reading there, else elsewhere on the unit, else the first of the book."""
        mine = [each.instrument for (number, _), each in self.last.items() if number == measurement.id]
        users = [each.name for each in instruments_for(self.conn, measurement)]
        return next(iter([*([last.instrument] if last else []), *mine, *users]), "")


def _shown(last: Last) -> str:
    return str(last.grade) if last.value is None else show_value(last.value)
