"""What a service changed: readings before and after, what was used and is left, parts, what is due next."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.schedule import DueItem
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.adjustments import Adjustment, turned_in
from collection.views.counts import counts
from collection.views.due import due_facts, work_ahead
from collection.views.lubricants import OnPoint, put_on_in
from collection.views.procedures import Caution, Procedure, cautions_before, procedure_list
from collection.views.service_readings import BeforeAfter, before_and_after
from collection.views.shelves import shelf_of
from collection.views.supplies import Supply, supply_of
from collection.views.units import Unit, unit_on

_SERVICE_SQL = """
SELECT s.unit_id, s.name, s.opened_on, s.closed_on, s.reason, s.outcome, s.minutes, s.findings, p.name
FROM service s LEFT JOIN person p ON p.id = s.by_id WHERE s.id = :service
"""
_TASKS_SQL = f"""
SELECT p.name FROM task t JOIN procedure p ON p.id = t.procedure_id
WHERE t.service_id = :service AND {counts("t")} ORDER BY t.id
"""
_MOVEMENTS_SQL = f"""
SELECT m.supply_id, m.lot_id, l.name, m.kind, m.basis, m.steps, m.used_past_date
FROM movement m LEFT JOIN lot l ON l.id = m.lot_id
WHERE m.service_id = :service AND m.kind IN ('use', 'short') AND {counts("m")} AND NOT EXISTS (
    SELECT 1 FROM movement r WHERE r.reverses_id = m.id AND {counts("r")}) ORDER BY m.id
"""
_PARTS_SQL = """
SELECT f.part, f.fitted_on, s.name, l.name, d.tag, u.tag
FROM fitted_part f LEFT JOIN supply s ON s.id = f.supply_id LEFT JOIN lot l ON l.id = f.lot_id
LEFT JOIN unit d ON d.id = f.donor_id LEFT JOIN unit u ON u.id = f.part_unit_id
WHERE f.service_id = :service AND f.void = 0 ORDER BY f.id
"""
_DOUBTS = {
    "reading": "SELECT m.name FROM reading r JOIN series s ON s.id = r.series_id"
    " JOIN measurement m ON m.id = s.measurement_id WHERE r.id = :row",
    "movement": "SELECT s.name FROM movement r JOIN supply s ON s.id = r.supply_id WHERE r.id = :row",
    "fitted_part": "SELECT r.part FROM fitted_part r WHERE r.id = :row",
    "arrival": "SELECT 'mains setting' FROM arrival r WHERE r.id = :row",
    "lubrication": "SELECT r.point FROM lubrication r WHERE r.id = :row",
    "service": "SELECT '' FROM service r WHERE r.id = :row",
}


@dataclass(frozen=True, slots=True)
class Used:
    """What went out of one lot, or could not be had (short), with what the lot and the supply still hold."""

    supply: Supply
    lot: str
    steps: int
    short: bool
    basis: str
    past_date: bool
    left_in_lot: int
    left: int


class Part(NamedTuple):
    """A part that the service fitted."""

    part: str
    fitted_on: str
    supply: str
    lot: str
    donor: str
    unit: str


@dataclass(frozen=True, slots=True)
class ServiceReport:
    """A service as it stands, with the unit as of today; closed_on and outcome are "" while it is open."""

    unit: Unit
    service: str
    opened_on: str
    closed_on: str
    reason: str
    outcome: str
    minutes: int | None
    findings: str
    by: str
    procedures: tuple[str, ...]
    readings: tuple[BeforeAfter, ...]
    used: tuple[Used, ...]
    parts: tuple[Part, ...]
    turned: tuple[Adjustment, ...]
    lubed: tuple[OnPoint, ...]
    due: tuple[DueItem, ...]


def service_report(conn: Connection, service_id: int, today: date) -> ServiceReport:
    """Return what a service changed, as of today."""
    unit_id, *words = fetch(conn, _SERVICE_SQL, service=service_id)[0]
    texts: list[Any] = ["" if word is None else word for word in words]
    unit = unit_on(conn, unit_id, today)
    return ServiceReport(
        unit=unit,
        service=texts[0],
        opened_on=texts[1],
        closed_on=texts[2],
        reason=texts[3],
        outcome=texts[4],
        minutes=words[5],
        findings=texts[6],
        by=texts[7],
        procedures=tuple(dict.fromkeys(row[0] for row in fetch(conn, _TASKS_SQL, service=service_id))),
        readings=tuple(before_and_after(conn, unit, service_id)),
        used=tuple(_used(conn, service_id)),
        parts=tuple(Part._make(_texts(row)) for row in fetch(conn, _PARTS_SQL, service=service_id)),
        turned=tuple(turned_in(conn, service_id)),
        lubed=tuple(put_on_in(conn, service_id)),
        due=next_due(conn, unit_id, today),
    )


def next_due(conn: Connection, unit_id: int, today: date) -> tuple[DueItem, ...]:
    """Return all that is due on a unit, now and ahead, the earliest first."""
    return work_ahead(due_facts(conn, today, unit_id))


def doubts_of(conn: Connection, act_id: int) -> list[str]:
    """Return what an act marked as doubtful, in words: "spindle speed 3000: ten times nominal; ..."."""
    said = []
    sql = "SELECT table_name, row_id, field, value, rule FROM doubt WHERE act_id = :act ORDER BY id"
    for table, row_id, field, value, rule in fetch(conn, sql, act=act_id):
        name = fetch(conn, _DOUBTS[table], row=row_id)[0][0] if table in _DOUBTS else table
        said.append(f"{name or field} {value}: {rule}")
    return said


def _used(conn: Connection, service_id: int) -> list[Used]:
    sums: dict[tuple[Any, ...], int] = {}
    for supply_id, lot_id, lot, kind, basis, steps, past in fetch(conn, _MOVEMENTS_SQL, service=service_id):
        what = (supply_id, lot_id, lot or "", kind == "short", basis or "", bool(past))
        sums[what] = sums.get(what, 0) + abs(steps)
    left = {supply_id: _stock(conn, supply_id) for supply_id in {what[0] for what in sums}}
    return [
        Used(
            supply_of(conn, supply_id),
            lot,
            steps,
            short,
            basis,
            past,
            left[supply_id].get(lot_id, 0),
            sum(left[supply_id].values()),
        )
        for (supply_id, lot_id, lot, short, basis, past), steps in sums.items()
    ]


def _stock(conn: Connection, supply_id: int) -> dict[int | None, int]:
    """Return the steps of a supply by lot, places together."""
    per_lot: dict[int | None, int] = {}
    for (lot, _place), steps in shelf_of(conn, supply_of(conn, supply_id)).shelf.stock().items():
        per_lot[lot] = per_lot.get(lot, 0) + steps
    return per_lot


def _texts(row: tuple[Any, ...]) -> list[str]:
    return ["" if value is None else value for value in row]


def procedures_ahead(conn: Connection, unit_id: int, today: date) -> list[Procedure]:
    """Return the procedures that are due on a unit within 30 days, else all that apply to it."""
    return _due_soon(conn, unit_id, today) or _applying(conn, unit_id, today)


def cautions_ahead(conn: Connection, unit_id: int, today: date) -> list[Caution]:
    """Return the cautions of what is due on a unit within 30 days, else those that several of its procedures share.

    Several means more than a quarter. For a face that shows the cautions of each task once it is chosen: a wall of
    all that might be done is not read.
    """
    due = _due_soon(conn, unit_id, today)
    return cautions_before(conn, due) if due else cautions_shared(conn, unit_id, today)


def cautions_shared(conn: Connection, unit_id: int, today: date) -> list[Caution]:
    """Return the cautions that more than a quarter of a unit's procedures share: those of opening it at all."""
    applying = _applying(conn, unit_id, today)
    shared = Counter(text for procedure in applying for text in {fold(each) for each in procedure.cautions})
    every = cautions_before(conn, applying)
    return [each for each in every if not each.of and 4 * shared[fold(each.text)] > len(applying)]


def _due_soon(conn: Connection, unit_id: int, today: date) -> list[Procedure]:
    soon = today + timedelta(days=30)
    due = {item.procedure_id for item in next_due(conn, unit_id, today) if item.due <= soon}
    return [each for each in procedure_list(conn) if each.id in due]


def _applying(conn: Connection, unit_id: int, today: date) -> list[Procedure]:
    unit = unit_on(conn, unit_id, today)
    return [each for each in procedure_list(conn) if each.fits(unit)]
