"""What a year saw at the bench: services, how units came in, faults."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.limits import OUT, verdict
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.limits import Limits
from collection.views.readings import reading_counts

_SERVICES_SQL = """
SELECT id, unit_id, closed_on, minutes FROM service
WHERE void = 0 AND substr(closed_on, 1, 4) = :year AND closed_on <= :last ORDER BY id
"""
_TASKS_SQL = f"""
SELECT p.name, count(*) FROM task t JOIN procedure p ON p.id = t.procedure_id JOIN service s ON s.id = t.service_id
WHERE s.void = 0 AND substr(t.done_on, 1, 4) = :year AND t.done_on <= :last AND {counts("t")} GROUP BY p.id, p.name
"""
_FOUND_SQL = f"""
SELECT s.unit_id, u.model_id, s.measurement_id, m.name, s.point, r.taken_on, r.value, r.grade, r.service_id,
  (SELECT b.grade FROM reading b WHERE b.series_id = r.series_id AND {reading_counts("b")}
   AND (b.taken_on < r.taken_on OR (b.taken_on = r.taken_on AND b.id < r.id))
   ORDER BY b.taken_on DESC, b.id DESC LIMIT 1)
FROM reading r JOIN series s ON s.id = r.series_id JOIN unit u ON u.id = s.unit_id
JOIN measurement m ON m.id = s.measurement_id
WHERE r.stage = 'as found' AND substr(r.taken_on, 1, 4) = :year AND r.taken_on <= :last AND {reading_counts("r")}
ORDER BY r.id
"""
_FAULTS_SQL = """
SELECT noticed_on, closed_on, no_fault_found FROM fault WHERE void = 0 AND noticed_on <= :last
"""


@dataclass(frozen=True, slots=True)
class Services:
    """The services closed in a year: how many in each month, those of no known month apart; on how many units.

    minutes: over `timed` of them. procedures: how often each was done, the most frequent first.
    """

    months: tuple[int, ...]
    no_month: int
    units: int
    minutes: int
    timed: int
    procedures: tuple[tuple[str, int], ...]

    @property
    def total(self) -> int:
        """How many there were."""
        return sum(self.months) + self.no_month


class Within(NamedTuple):
    """How many readings as found, of those that have a limit, lay within it."""

    within: int
    judged: int


@dataclass(frozen=True, slots=True)
class AsFound:
    """How units came in: by measurement, of all readings, and in how many openings everything was within."""

    by_measurement: dict[str, Within]
    readings: Within
    openings: Within


class Faults(NamedTuple):
    """Faults of a year: noticed in it, closed in it, of these without a fault found; open on its last day."""

    noticed: int
    closed: int
    none_found: int
    open: int


def services_of(conn: Connection, year: str, last: str) -> Services:
    """Return the services that were closed in a year, until its last day that is over."""
    rows = fetch(conn, _SERVICES_SQL, year=year, last=last)
    months = Counter(row[2][5:7] for row in rows)
    tasks = sorted(fetch(conn, _TASKS_SQL, year=year, last=last), key=lambda row: (-row[1], row[0]))
    return Services(
        months=tuple(months[f"{month:02}"] for month in range(1, 13)),
        no_month=months[""],
        units=len({row[1] for row in rows}),
        minutes=sum(row[3] or 0 for row in rows),
        timed=sum(row[3] is not None for row in rows),
        procedures=tuple((str(name), int(times)) for name, times in tasks),
    )


def as_found_of(conn: Connection, year: str, last: str) -> AsFound:
    """Return how units came in in a year, as read, against the limits of the day."""
    limits = Limits(conn)
    judged: defaultdict[str, list[bool]] = defaultdict(list)
    openings: defaultdict[int, list[bool]] = defaultdict(list)
    for row in fetch(conn, _FOUND_SQL, year=year, last=last):
        unit, model, measurement, name, point, day, value, grade, service, before = row
        says = verdict(grade or value, limits.on(day, unit, model, measurement, point), before)
        if says == "no limit":
            continue
        judged[name].append(says not in OUT)
        if service is not None:
            openings[service].append(says not in OUT)
    by_measurement = {name: _within(judged[name]) for name in sorted(judged)}
    every = [each for name in judged for each in judged[name]]
    return AsFound(by_measurement, _within(every), _within([all(each) for each in openings.values()]))


def _within(judged: list[bool]) -> Within:
    return Within(sum(judged), len(judged))


def faults_of(conn: Connection, year: str, last: str) -> Faults:
    """Return the faults of a year; open are those that were on its last day, of whatever year."""
    rows = fetch(conn, _FAULTS_SQL, last=last)
    closed = [row for row in rows if row[1] and row[1].startswith(year) and row[1] <= last]
    return Faults(
        noticed=sum(row[0].startswith(year) for row in rows),
        closed=len(closed),
        none_found=sum(bool(row[2]) for row in closed),
        open=sum(not row[1] or row[1] > last for row in rows),
    )
