"""What a bench sheet says of a unit before it is opened: why, how, what to read and to take, in the order of work."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy.engine import Connection

from collection.analysis.schedule import DueItem
from collection.errors import fold
from collection.views.due import Rechecks, due_facts, work_ahead
from collection.views.faults import Fault, fault_list
from collection.views.lubricants import OnPoint, lubricants_on
from collection.views.procedure_sheet import ProcedureSheet, procedure_sheet
from collection.views.procedures import Caution, Procedure, cautions_before, find_procedures, procedure_list
from collection.views.service_guide import place_of
from collection.views.service_guide_readings import AskedReading, readings_as_found, readings_of
from collection.views.service_guide_work import PartAsked, SupplyAsked, parts_asked, supplies_asked
from collection.views.service_readings import retests_of
from collection.views.service_report import cautions_shared
from collection.views.services import open_service_of
from collection.views.units import Unit, find_unit, unit_on
from collection.views.wanted import WantedPart, wanted_list

SOON = 30  # days ahead that count as due at the bench, as in the due list
_NONE_YET = 0  # the number of no service: all that was ever read counts as read before


@dataclass(frozen=True, slots=True)
class Job:
    """One procedure to do: its sheet as it stands now, and why it is due, or None where it was only asked for."""

    sheet: ProcedureSheet
    due: DueItem | None


@dataclass(frozen=True, slots=True)
class ToRead:
    """A series to read as found; retested: it must be read as left too, before the unit can be called ready."""

    asked: AskedReading
    retested: bool


@dataclass(frozen=True, slots=True)
class BenchSheet:
    """The sheet of one unit.

    open_since: day of a service that is open, or "". guided: whether that service asks question by question.
    look_at: what is due without a task. points: the lubricant now on each point. wanted: parts that it waits for.
    """

    unit: Unit
    open_since: str
    guided: bool
    faults: tuple[Fault, ...]
    look_at: tuple[DueItem, ...]
    jobs: tuple[Job, ...]
    cautions: tuple[Caution, ...]
    readings: tuple[ToRead, ...]
    supplies: tuple[SupplyAsked, ...]
    parts: tuple[PartAsked, ...]
    points: tuple[OnPoint, ...]
    wanted: tuple[WantedPart, ...]


def bench_sheet(
    conn: Connection, tag: str, today: date, rechecks: Rechecks | None = None, asked: Iterable[str] = ()
) -> BenchSheet:
    """Return the sheet of a unit: what is due within 30 days, and the procedures asked for, in the order of work.

    rechecks: by unit, of `views.recheck`; without them none is due. Raises Refused for an unknown tag or procedure.
    """
    unit = unit_on(conn, find_unit(conn, tag).id, today)
    wanted = {each.id for each in find_procedures(conn, asked)}
    soon = today + timedelta(SOON)
    due = [item for item in work_ahead(due_facts(conn, today, unit.id, rechecks)) if item.due <= soon]
    of = {item.procedure_id: item for item in due if item.procedure_id is not None}
    tasks = [each for each in procedure_list(conn) if each.id in of or each.id in wanted]
    service = open_service_of(conn, unit.id)
    return BenchSheet(
        unit=unit,
        open_since=service.opened_on if service else "",
        guided=service is not None and place_of(conn, service.id) is not None,
        faults=tuple(fault for fault in fault_list(conn, unit.id) if not fault.closed_on),
        look_at=tuple(item for item in due if item.procedure_id is None),
        jobs=tuple(Job(procedure_sheet(conn, each.name), of.get(each.id)) for each in tasks),
        cautions=tuple(_cautions(conn, tasks, unit, today)),
        readings=tuple(_readings(conn, unit, tasks, today)),
        supplies=tuple(supplies_asked(conn, tasks, unit, today)),
        parts=tuple(parts_asked(conn, tasks, unit)),
        points=tuple(lubricants_on(conn, unit.id, today.isoformat())),
        wanted=tuple(row for row in wanted_list(conn, unit.id) if row.open),
    )


def _cautions(conn: Connection, tasks: Sequence[Procedure], unit: Unit, today: date) -> list[Caution]:
    """Return what stands before the work: of opening the unit, which its readings ask for too, and of the tasks.

    Supplies that are fitted as parts have cautions of their own.
    """
    parts = [(each.supply, each.part) for each in parts_asked(conn, tasks, unit) if each.supply]
    own = cautions_before(conn, tasks, parts)
    told = {fold(each.text) for each in own}
    return [*(each for each in cautions_shared(conn, unit.id, today) if fold(each.text) not in told), *own]


def _readings(conn: Connection, unit: Unit, tasks: Sequence[Procedure], today: date) -> list[ToRead]:
    """Return every series to read, in the order in which a service asks for them; then those read only as left."""
    found = readings_as_found(conn, unit, today, tasks)
    left = readings_of(conn, unit, retests_of(conn, unit, _NONE_YET, tasks, today), today)
    must = {_series(each) for each in left}
    seen = {_series(each) for each in found}
    return [
        *(ToRead(each, _series(each) in must) for each in found),
        *(ToRead(each, retested=True) for each in left if _series(each) not in seen),
    ]


def _series(each: AskedReading) -> tuple[int, str]:
    return each.measurement.id, fold(each.point)
