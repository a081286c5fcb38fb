"""Per procedure and class: how often units came in within limits as found, and what that says of the interval."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.analysis.interval_words import needs, rests_on, sentence
from collection.analysis.intervals import LONGER, SHORTER, Place, Visit, propose
from collection.analysis.schedule import LEFT_OUT
from collection.errors import fold, typed
from collection.views.findings import Measurement, measurements
from collection.views.interval_corrected import corrections
from collection.views.interval_visits import CameIn, Doings, came_in, founds_of
from collection.views.procedures import Procedure, find_procedures, procedure_list
from collection.views.units import Unit, unit_list

_UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class IntervalRow:
    """A procedure on the units of one class: the interval it has, and what their results as found say of it.

    class_name: drive type, else kind. units: of this class that it is done on now. within of came: visits that found
    all within limits; share_low, share_high: exact 95 % interval of that share; months_after: the procedure was done
    last, of the visit in the middle; end_low, end_high: 95 % interval of the share within at the end of the interval;
    all None without a visit. sure_months: for how many the share within is surely as wanted. proposal: LONGER,
    SHORTER, SAME or TOO_LITTLE; months: what is proposed, equal to every_months unless longer or shorter; by: counts
    or numbers. visits: all that this rests on, the latest first.
    """

    procedure: str
    class_name: str
    every_months: int
    every_hours: float | None
    units: int
    within: int
    came: int
    share_low: float | None
    share_high: float | None
    months_after: float | None
    end_low: float | None
    end_high: float | None
    sure_months: int
    proposal: str
    months: int
    by: str
    sentence: str
    rests_on: str
    missing: str
    visits: tuple[VisitRow, ...]


@dataclass(frozen=True, slots=True)
class VisitRow:
    """One unit that came in: when, how long after, what was read, and whether it all lay within limits."""

    tag: str
    day: str
    since: str
    months: float
    within: bool
    found: str


@dataclass(frozen=True, slots=True)
class Intervals:
    """All rows, in the order of work. unmeasured: procedures with months that read nothing, so that nothing tells."""

    rows: tuple[IntervalRow, ...]
    unmeasured: tuple[str, ...]


def intervals(conn: Connection, today: date, risk: float, only: str | None = None) -> Intervals:
    """Return what the results as found say of every interval in months, or of one procedure's.

    risk: the accepted share of units outside their limits at the end of an interval. Raises Refused for a procedure
    that is not in the book.
    """
    every = procedure_list(conn)
    wanted = [each for each in (every if only is None else find_procedures(conn, [only])) if each.rule.every_months]
    known = measurements(conn)
    doings = Doings(conn, [each.rule for each in every], known)
    units = {unit.id: unit for unit in unit_list(conn, today)}
    reads = {id_ for each in wanted for id_ in doings.reads[each.id]}
    founds = founds_of(conn, units, known, reads, corrections(conn, today, reads))
    rows = [
        row
        for each in wanted
        if doings.reads[each.id]
        for row in _rows(each, units, known, came_in(founds, doings, each.id), risk)
    ]
    return Intervals(tuple(rows), tuple(each.name for each in wanted if not doings.reads[each.id]))


def _rows(
    procedure: Procedure,
    units: Mapping[int, Unit],
    known: Mapping[int, Measurement],
    visits: Iterable[CameIn],
    risk: float,
) -> list[IntervalRow]:
    """Return a row for each class that the procedure is done on, by name."""
    of_class: dict[str, list[CameIn]] = defaultdict(list)
    now: dict[str, int] = defaultdict(int)
    for unit in units.values():
        rule = procedure.rule
        if unit.standing not in LEFT_OUT and rule.applies(unit.kind, unit.drive_type, unit.maker, unit.model):
            now[_class(unit)] += 1
    for visit in visits:
        of_class[_class(units[visit.unit_id])].append(visit)
    names = sorted({*now, *(name for name in of_class if name in now)}, key=fold)
    return [_row(procedure, name, now[name], of_class[name], units, known, risk) for name in names]


def _row(
    procedure: Procedure,
    class_name: str,
    units_now: int,
    visits: Sequence[CameIn],
    units: Mapping[int, Unit],
    known: Mapping[int, Measurement],
    risk: float,
) -> IntervalRow:
    every_months = procedure.rule.every_months or 0
    seen = [Visit(visit.unit_id, visit.months, visit.within) for visit in visits]
    founds = [found for visit in visits for found in visit.founds]
    places = [
        Place(f"{found.measurement_id} {fold(found.point)}", visit.unit_id, visit.months, found.at)
        for visit in visits
        for found in visit.founds
        if found.at is not None
    ]
    proposal = propose(seen, places, every_months, risk, all_numbers=len(places) == len(founds))
    tally = proposal.tally
    return IntervalRow(
        procedure=procedure.name,
        class_name=class_name,
        every_months=every_months,
        every_hours=procedure.rule.every_hours,
        units=units_now,
        within=tally.within,
        came=tally.came,
        share_low=tally.low if tally.came else None,
        share_high=tally.high if tally.came else None,
        months_after=round(tally.months, 1) if tally.came else None,
        end_low=tally.end_low if tally.came else None,
        end_high=tally.end_high if tally.came else None,
        sure_months=proposal.sure,
        proposal=proposal.what,
        months=proposal.months,
        by=proposal.by,
        sentence=sentence(proposal, every_months, risk),
        rests_on=rests_on(tally) if tally.came else "",
        missing=needs(proposal, every_months),
        visits=tuple(_visit_row(visit, units, known) for visit in sorted(visits, key=lambda each: each.day)[::-1]),
    )


def _visit_row(visit: CameIn, units: Mapping[int, Unit], known: Mapping[int, Measurement]) -> VisitRow:
    """Return one visit in words; what was measured is named where it was not one thing alone."""
    names = {found.measurement_id: known[found.measurement_id].name for found in visit.founds}
    shown = "; ".join(
        " ".join(filter(None, (names[found.measurement_id] * (len(names) > 1), found.point, found.said)))
        for found in visit.founds
    )
    return VisitRow(units[visit.unit_id].tag, visit.day, visit.since, round(visit.months, 1), visit.within, shown)


def _class(unit: Unit) -> str:
    """Return the class of a unit: its drive type where that is known, else its kind."""
    return unit.drive_type if unit.drive_type and fold(unit.drive_type) != _UNKNOWN else unit.kind


def lines_to_type(rows: Sequence[IntervalRow]) -> list[str]:
    """Return what a person may type to follow the proposals; the months of a procedure are those of all its classes.

    A shorter interval is safe for every class; a longer one is offered only where every class bears it, and else it is
    said what would let one class have it.
    """
    of: dict[str, list[IntervalRow]] = defaultdict(list)
    for row in rows:
        of[row.procedure].append(row)
    return [line for group in of.values() for line in _lines(group)]


def _lines(group: Sequence[IntervalRow]) -> list[str]:
    shorter = [row for row in group if row.proposal == SHORTER]
    chosen = min(shorter or group, key=lambda row: row.months)
    longer = [row.class_name for row in group if row.proposal == LONGER]
    if not shorter and len(longer) < len(group):
        alone = f"{group[0].procedure}: longer for {', '.join(longer)} alone takes a procedure of its own"
        return [f"{alone}: spindlebook procedure add NAME --applies-to CLASS"] if longer else []
    return [edit_line(chosen)] if chosen.months != chosen.every_months else []


def edit_line(row: IntervalRow) -> str:
    """Return the line that gives a procedure the interval proposed."""
    counted = f"{row.within} of {row.came} within limits as found"
    return f"spindlebook procedure edit {typed(row.procedure)} --every-months {row.months} --reason {typed(counted)}"
