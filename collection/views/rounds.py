"""A round: the units it visits, in the order of the shelves, and what the book knows of each before the visit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.limits import Limit
from collection.analysis.schedule import tag_order
from collection.errors import Refused, fold
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.due import LAST_DONE_SQL, due_view
from collection.views.limits import Limits
from collection.views.measuring import Measurement, find_measurement, spell_point
from collection.views.procedures import Procedure, find_procedures
from collection.views.readings import LAST_READINGS_SQL, Last, with_mechanisms
from collection.views.recheck import recheck_dates
from collection.views.unit_list import Wanted, listed_units
from collection.views.units import Unit, find_unit, unit_list, unit_on

_ALL = Wanted()
NOT_VISITED = ("on loan", "away", "missing", "gone", "donor")


@dataclass(frozen=True, slots=True)
class Subject:
    """What a round measures, at which point, or does; both where the value read is that of the work as left."""

    measurement: Measurement | None
    point: str
    procedure: Procedure | None


@dataclass(frozen=True, slots=True)
class Chosen:
    """Which units are visited: named by their tags, else all that pass. due: only those on the due list."""

    tags: tuple[str, ...] = ()
    wanted: Wanted = _ALL
    due: bool = False


class Stop(NamedTuple):
    """One unit of a round. last, limit: of the series that is read. last_done: day of the procedure, or ""."""

    unit: Unit
    point: str
    last: Last | None
    limit: Limit | None
    last_done: str


class Stops(NamedTuple):
    """The units that are visited, and those that would be but are not at hand, or are donors."""

    at: tuple[Stop, ...]
    left_out: tuple[Unit, ...]


def subject_of(conn: Connection, measurement: str, point: str, procedure: str) -> Subject:
    """Return what a round is of. Raises Refused for unknown names, and where neither is named."""
    if not measurement and not procedure:
        raise Refused("What the round is of is not said.", 'Add --of "spindle speed", or --did "clean head".')
    return Subject(
        find_measurement(conn, measurement) if measurement else None,
        point,
        find_procedures(conn, [procedure])[0] if procedure else None,
    )


def stops_of(conn: Connection, subject: Subject, chosen: Chosen, on: date) -> Stops:
    """Return the units of a round as of a day, in the order of their places, then of their tags.

    Without tags a unit passes that the procedure is for, or that has a limit or a reading of the measurement; donors
    and those that are not at hand are left out. Raises Refused for unknown names and where no unit is left.
    """
    known = _Known(conn, subject, on)
    if chosen.tags:
        ids = dict.fromkeys(find_unit(conn, tag).id for tag in chosen.tags)
        units = [unit_on(conn, unit_id, on) for unit_id in ids]
    else:
        units = _passing(conn, subject, chosen, on)
    at_hand = [unit for unit in units if chosen.tags or unit.standing not in NOT_VISITED]
    stops = [stop for unit in sorted(at_hand, key=shelf_order(conn)) if (stop := known.stop(unit, bool(chosen.tags)))]
    away = [unit for unit in units if not chosen.tags and unit.standing in NOT_VISITED and known.concerns(unit)]
    if not stops:
        raise Refused("No unit at hand is in this round.", "Name units by their tags, or see: spindlebook unit list")
    return Stops(tuple(stops), tuple(away))


def shelf_order(conn: Connection) -> Callable[[Unit], tuple[object, ...]]:
    """Return the key that sorts units by place, each inside the place that holds it, then by tag; no place is last."""
    rows = fetch(conn, "SELECT id, name, inside_id FROM location WHERE void = 0")
    names, inside = {row[0]: row[1] for row in rows}, {row[0]: row[2] for row in rows}
    paths = {fold(name): _path(place, names, inside) for place, name in names.items()}

    def key(unit: Unit) -> tuple[object, ...]:
        return (not unit.location, paths.get(fold(unit.location), ()), tag_order(unit.tag))

    return key


def _path(place: int | None, names: dict[int, str], inside: dict[int, int | None]) -> tuple[object, ...]:
    path: list[object] = []
    seen = set[int]()
    while place in names and place not in seen:
        seen.add(place)
        path.insert(0, tag_order(names[place]))
        place = inside[place]
    return tuple(path)


def _passing(conn: Connection, subject: Subject, chosen: Chosen, on: date) -> list[Unit]:
    """Return the units that pass the filters, and with `due` are on the due list: for the procedure, or at all."""
    if chosen.wanted == _ALL:
        units = unit_list(conn, on)
    else:
        units = [row.unit for row in listed_units(conn, on, chosen.wanted)]
    if not chosen.due:
        return units
    named = subject.procedure.name if subject.procedure else ""
    rechecks = recheck_dates(conn, on, open_book(conn).settings.risk)
    rows = due_view(conn, on, rechecks=rechecks).due.rows
    due = {row.unit_id for row in rows if not named or named in (item.procedure for item in row.items)}
    return [unit for unit in units if unit.id in due]


class _Known:
    """What is known before the visit, read once for all units."""

    def __init__(self, conn: Connection, subject: Subject, on: date) -> None:
        self.conn, self.subject, self.on = conn, subject, on
        self.limits = Limits(conn)
        measurement, procedure = subject.measurement, subject.procedure
        self.last = _last(conn, measurement.id) if measurement else {}
        self.read = {unit_id for unit_id, _ in self.last}
        self.done = _done(conn, procedure.id) if procedure else {}

    def concerns(self, unit: Unit) -> bool:
        """Say whether the round is for such a unit."""
        measurement, procedure = self.subject.measurement, self.subject.procedure
        if procedure is not None:
            return procedure.fits(unit)
        assert measurement is not None  # noqa: S101  a subject has one of the two
        return unit.id in self.read or bool(
            self.limits.candidates(unit.id, unit.model_id, measurement.id, self.subject.point)
        )

    def stop(self, unit: Unit, named: bool) -> Stop | None:
        """Return the visit to a unit, None where the round is not for it and nobody named it."""
        if not named and not self.concerns(unit):
            return None
        measurement = self.subject.measurement
        if measurement is None:
            return Stop(unit, "", None, None, self.done.get(unit.id, ""))
        point, _ = spell_point(self.conn, unit, measurement, self.subject.point)
        limit = self.limits.on(self.on.isoformat(), unit.id, unit.model_id, measurement.id, point)
        return Stop(unit, point, self.last.get((unit.id, point)), limit, self.done.get(unit.id, ""))


def _last(conn: Connection, measurement_id: int) -> dict[tuple[int, str], Last]:
    sql = LAST_READINGS_SQL.format(only=" WHERE s.measurement_id = :measurement")
    rows = with_mechanisms(conn, [Last(*row) for row in fetch(conn, sql, measurement=measurement_id)])
    return {(last.unit_id, last.point): last for last in rows if last.measurement_id == measurement_id}


def _done(conn: Connection, procedure_id: int) -> dict[int, str]:
    sql = LAST_DONE_SQL.format(only=" AND t.procedure_id = :procedure")
    return {row[0]: row[2] for row in fetch(conn, sql, procedure=procedure_id)}
