"""How units came in as found, by procedure: since when it had been done, and whether all was within limits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.limits import OUT, Limit, verdict
from collection.analysis.mechanisms import Mechanisms
from collection.analysis.procedures import ProcedureRule
from collection.errors import Refused, fold
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.findings import Measurement, in_words
from collection.views.interval_corrected import Corrected
from collection.views.limits import Limits
from collection.views.mechanisms import goes_along, mechanisms
from collection.views.readings import reading_counts
from collection.views.units import Unit

_FOUND_SQL = f"""
SELECT unit_id, measurement_id, point, taken_on, value, grade, instrument, service_id, before FROM (
  SELECT s.unit_id, s.measurement_id, s.point, r.taken_on, r.value, r.grade, i.name AS instrument, r.service_id,
         r.stage, r.id, lag(r.grade) OVER (PARTITION BY r.series_id ORDER BY r.taken_on, r.id) AS before
  FROM reading r JOIN series s ON s.id = r.series_id JOIN instrument i ON i.id = r.instrument_id
  WHERE s.measurement_id IN ({{measurements}}) AND {reading_counts("r")}) every_reading
WHERE stage = 'as found' ORDER BY unit_id, taken_on, id
"""
_DONE_SQL = f"""
SELECT s.unit_id, t.procedure_id, t.done_on FROM task t JOIN service s ON s.id = t.service_id
WHERE s.void = 0 AND {counts("t")}
UNION SELECT b.unit_id, b.procedure_id, b.last_done FROM baseline b
WHERE b.last_done IS NOT NULL AND {counts("b")}
"""
_DAYS_A_MONTH = 365.25 / 12


class Found(NamedTuple):
    """One reading as found, corrected, and what it says.

    out: outside its limits; None where none counts that day. at: where it lies between them, -1 on the lower and 1 on
    the upper one, None without both. said: the result as a person reads it.
    """

    unit_id: int
    measurement_id: int
    point: str
    day: str
    service_id: int
    out: bool | None
    at: float | None
    said: str


@dataclass(slots=True)
class CameIn:
    """A unit that came in, so many months after the procedure was done on it, or what it sets was set otherwise.

    founds: what was read of what the procedure reads or sets. within: all of it.
    """

    unit_id: int
    day: str
    since: str
    months: float
    founds: list[Found] = field(default_factory=list)

    @property
    def within(self) -> bool:
        """Say whether nothing that was read lay outside its limits."""
        return not any(found.out for found in self.founds)


def founds_of(
    conn: Connection,
    units: Mapping[int, Unit],
    known: Mapping[int, Measurement],
    wanted: Collection[int],
    corrected: Corrected,
) -> list[Found]:
    """Return every reading as found of these measurements, held against the limits of its day, by unit and day."""
    limits, made = Limits(conn), []
    ids = ", ".join(map(str, sorted(wanted)))
    for row in fetch(conn, _FOUND_SQL.format(measurements=ids)) if wanted else ():
        unit_id, measurement_id, point, day, value, grade, instrument, service_id, before = row
        if unit_id not in units:
            continue
        limit = None
        if value is not None:
            value = corrected(measurement_id, instrument, day, value)
            limit = limits.on(day, unit_id, units[unit_id].model_id, measurement_id, point)
        says = verdict(grade if value is None else value, limit, before)
        out = None if says == "no limit" else says in OUT
        said = in_words(value, grade, known[measurement_id].measured_in, limit, says)
        made.append(Found(unit_id, measurement_id, point, day, service_id, out, _place(value, limit), said))
    return made


def _place(value: float | None, limit: Limit | None) -> float | None:
    if value is None or limit is None or limit.lower is None or limit.upper is None or limit.lower == limit.upper:
        return None
    lower, upper = sorted((limit.lower, limit.upper))
    return (2 * value - lower - upper) / (upper - lower)


class Doings:
    """When each procedure was done on each unit, and what else began a level of a measurement anew."""

    def __init__(self, conn: Connection, rules: Iterable[ProcedureRule], known: Mapping[int, Measurement]) -> None:
        self._moved: Mechanisms = mechanisms(conn)
        self._along = goes_along(conn) if self._moved.touched else frozenset()
        by_name = {fold(each.name): id_ for id_, each in known.items()}
        self.reads = {rule.id: _measurements(rule, by_name) for rule in rules}
        resets = {
            rule.id: {by_name[reset.measurement] for reset in rule.resets if reset.measurement in by_name}
            for rule in rules
        }
        self._done: dict[tuple[int, int], list[str]] = defaultdict(list)
        self._reset: dict[tuple[int, int], list[str]] = defaultdict(list)
        for unit_id, procedure_id, day in fetch(conn, _DONE_SQL):
            self._done[unit_id, procedure_id].append(day)
            for measurement_id in resets.get(procedure_id, ()):
                self._reset[unit_id, measurement_id].append(day)

    def since(self, unit_id: int, procedure_id: int, measurement_id: int, day: str) -> str:
        """Return the last day before this one on which the procedure was done or the measurement set; "" for none.

        "" as well where another mechanism was in the unit then.
        """
        days = [*self._done.get((unit_id, procedure_id), ()), *self._reset.get((unit_id, measurement_id), ())]
        last = max((each for each in days if each < day), default="")
        if last and measurement_id in self._along:
            then = self._moved.at(unit_id, last, "as left")
            return last if then == self._moved.at(unit_id, day, "as found") else ""
        return last


def _measurements(rule: ProcedureRule, by_name: Mapping[str, int]) -> frozenset[int]:
    """Return what a procedure reads or sets."""
    names = {*rule.retests, *(reset.measurement for reset in rule.resets)}
    return frozenset(by_name[name] for name in names if name in by_name)


def came_in(founds: Sequence[Found], doings: Doings, procedure_id: int) -> list[CameIn]:
    """Return how units came in, one element for each time from one doing of a procedure to the next.

    Of several visits within one such time the first that was outside counts, else the last.
    """
    of_visit: dict[tuple[int, int], CameIn] = {}
    for found in founds:
        if found.out is None or found.measurement_id not in doings.reads[procedure_id]:
            continue
        since = doings.since(found.unit_id, procedure_id, found.measurement_id, found.day)
        months = _months(since, found.day)
        if months is None:
            continue
        visit = of_visit.setdefault((found.unit_id, found.service_id), CameIn(found.unit_id, found.day, since, months))
        if months < visit.months:
            visit.since, visit.months = since, months
        visit.founds.append(found)
    kept: dict[tuple[int, str], CameIn] = {}
    for visit in of_visit.values():
        before = kept.get((visit.unit_id, visit.since))
        if before is None or before.within:
            kept[visit.unit_id, visit.since] = visit
    return list(kept.values())


def _months(since: str, day: str) -> float | None:
    """Return the months between two (partial) days; None where one of them is known to its year only."""
    try:
        first, last = parse_day(since), parse_day(day)
    except Refused:
        return None
    if min(len(since), len(day)) == len("2025"):
        return None
    return (last.first - first.first).days / _DAYS_A_MONTH
