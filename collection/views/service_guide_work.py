"""The work that a guided service asks about: procedures due, amounts on their sheets, parts, and what an act kept."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.limits import verdict
from collection.analysis.needs import models_of, names_of_model
from collection.analysis.schedule import DueItem
from collection.analysis.take_order import take
from collection.errors import Refused, fold
from collection.store.engine import fetch
from collection.views.findings import in_words, show_range
from collection.views.limits import Limits
from collection.views.procedures import Procedure, procedure_list
from collection.views.service_report import ServiceReport, next_due, service_report
from collection.views.services import tasks_of
from collection.views.sheets import SheetAmount, sheet_amounts
from collection.views.shelves import shelf_of
from collection.views.supplies import Supply, supply_of
from collection.views.units import Unit

_SOON = 30  # days ahead that count as due at the bench, as in the due list
_FITS_SQL = "SELECT id, fits FROM supply WHERE void = 0 AND measured_in = 'piece' AND fits <> '' ORDER BY id"
_FITTED_SQL = """
SELECT f.part, f.supply_id, s.name, f.fitted_on FROM fitted_part f LEFT JOIN supply s ON s.id = f.supply_id
WHERE f.unit_id = :unit AND f.void = 0 AND f.removed_on IS NULL ORDER BY f.fitted_on DESC, f.id DESC
"""
_READINGS_SQL = """
SELECT m.id, m.name, m.measured_in, s.point, r.taken_on, r.value, r.grade
FROM reading r JOIN series s ON s.id = r.series_id JOIN measurement m ON m.id = s.measurement_id
WHERE r.act_id = :act ORDER BY r.id
"""
_USES_SQL = """
SELECT m.supply_id, l.name, abs(m.steps), m.basis, m.kind FROM movement m LEFT JOIN lot l ON l.id = m.lot_id
WHERE m.act_id = :act AND m.kind IN ('use', 'short') ORDER BY m.id
"""

# The service of another unit that ended last, or that is still worked on.
_LAST_SERVED_SQL = """
SELECT s.id FROM service s WHERE s.void = 0 AND s.unit_id <> :unit
ORDER BY coalesce(s.closed_on, :today) DESC, s.id DESC LIMIT 1
"""


class TaskOffered(NamedTuple):
    """A procedure that can be done, and why it is due, or None where it is not."""

    procedure: Procedure
    due: DueItem | None


@dataclass(frozen=True, slots=True)
class SupplyAsked:
    """What the sheets of the tasks say a supply loses; lot, held: the lot that goes first and its steps ("", 0)."""

    supply: Supply
    steps: int
    sometimes: bool
    lot: str
    held: int


class PartAsked(NamedTuple):
    """A part that the tasks speak of: the supply offered for it, what is fitted now, since when; each "" for none."""

    part: str
    supply: str
    fitted: str
    since: str


def tasks_offered(conn: Connection, unit: Unit, today: date) -> list[TaskOffered]:
    """Return the procedures that are due on a unit within 30 days, then the others that apply, in order of work."""
    due = {item.procedure_id: item for item in next_due(conn, unit.id, today) if (item.due - today).days <= _SOON}
    fitting = [each for each in procedure_list(conn) if each.id in due or each.fits(unit)]
    offered = [TaskOffered(each, due.get(each.id)) for each in fitting]
    return sorted(offered, key=lambda each: each.due is None)


def procedures_done(conn: Connection, service_id: int | None) -> list[Procedure]:
    """Return the procedures done so far in a service, in the order of entry."""
    known = {each.id: each for each in procedure_list(conn)}
    done = [] if service_id is None else tasks_of(conn, service_id)
    return [known[each] for each in done if each in known]


def supplies_asked(conn: Connection, procedures: Sequence[Procedure], unit: Unit, on: date) -> list[SupplyAsked]:
    """Return the supplies on the sheets of the tasks, each once, without those that are parts."""
    parts = _parts(conn)
    sums: dict[int, list[SheetAmount]] = {}
    for amount in sheet_amounts(conn, procedures, unit.id):
        if amount.supply.id not in parts:
            sums.setdefault(amount.supply.id, []).append(amount)
    return [_asked(conn, amounts, on) for amounts in sums.values()]


def parts_asked(conn: Connection, procedures: Sequence[Procedure], unit: Unit) -> list[PartAsked]:
    """Return the parts that the tasks fit: on their sheets, or a kind of part that a task has in its name.

    Offered is the supply on the sheet, else the one that is fitted now, else the first that fits the model; none
    that the drawer does not have.
    """
    fitted = {fold(row[0]): row for row in reversed(fetch(conn, _FITTED_SQL, unit=unit.id))}
    on_sheets = [each.supply for each in sheet_amounts(conn, procedures, unit.id)]
    names = names_of_model(unit.maker, unit.model)
    fitting = {number for number, fits in _parts(conn).items() if not models_of(fits).isdisjoint(names)}
    now = [row[1] for row in fitted.values() if row[1] is not None]
    spoken = " ".join(fold(procedure.name) for procedure in procedures).split()
    found: dict[str, PartAsked] = {}
    for number in dict.fromkeys([*(each.id for each in on_sheets if each.id in _parts(conn)), *now, *sorted(fitting)]):
        supply = supply_of(conn, number)
        part = fold(supply.kind)
        if part not in found and (part in spoken or supply in on_sheets):
            row = fitted.get(part)
            held = sum(shelf_of(conn, supply).shelf.stock().values()) > 0 or supply.tracked != "count"
            found[part] = PartAsked(part, supply.name if held else "", (row and row[2]) or "", row[3] if row else "")
    return list(found.values())


def last_served(conn: Connection, unit_id: int, today: date) -> ServiceReport:
    """Return the service of the unit that was on the bench before this one. Raises Refused where there is none."""
    rows = fetch(conn, _LAST_SERVED_SQL, unit=unit_id, today=today.isoformat())
    if not rows:
        raise Refused("No other unit was served yet.", "Type an answer.")
    return service_report(conn, rows[0][0], today)


def kept_readings(conn: Connection, unit: Unit, act_id: int) -> Iterator[str]:
    """Yield the readings that an act booked, in words: "spindle speed 304.9 r/min, high (295.5 to 304.5)"."""
    rows = fetch(conn, _READINGS_SQL, act=act_id)
    if not rows:
        return
    limits = Limits(conn)
    for number, name, measured_in, point, day, value, grade in rows:
        limit = limits.on(day, unit.id, unit.model_id, number, point) if grade is None else None
        says = verdict(grade or value, limit)
        told = in_words(value, grade, measured_in, limit, says)
        between = f", {says} ({show_range(limit)})" if limit is not None else ""
        yield f"{name}{f' {point}' if point else ''} {told}{between}"


def kept_uses(conn: Connection, act_id: int) -> Iterator[str]:
    """Yield what an act booked out of the drawer, in words: "2 ml of isopropyl alcohol 99 % from lot A-1"."""
    for supply_id, lot, steps, basis, kind in fetch(conn, _USES_SQL, act=act_id):
        supply = supply_of(conn, supply_id)
        source = f" from lot {lot}" if lot else ""
        how = ", short" if kind == "short" else ", by the sheet" if basis == "sheet" else ""
        yield f"{supply.show(steps)} of {supply.name}{source}{how}"


def _asked(conn: Connection, amounts: Sequence[SheetAmount], on: date) -> SupplyAsked:
    supply = amounts[0].supply
    always = [each.steps for each in amounts if not each.sometimes]
    steps = sum(always) if always else sum(each.steps for each in amounts)
    shelf = shelf_of(conn, supply)
    lots = shelf.lots_on(on.isoformat())
    taken, _ = take(lots, steps, on)
    if not taken:
        return SupplyAsked(supply, steps, not always, "", 0)
    held = next(each.steps for each in lots if each.id == taken[0].lot)
    return SupplyAsked(supply, steps, not always, shelf.name_of(taken[0].lot), held)


def _parts(conn: Connection) -> dict[int, str]:
    """Return the supplies that are parts, those made for some models, with these."""
    return dict(fetch(conn, _FITS_SQL))
