"""What the book teaches about the use of its supplies: the ledger read once for all of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.needs import models_of, names_of_model
from collection.analysis.schedule import LEFT_OUT
from collection.analysis.use_occasions import LedgerRow, SheetLine
from collection.analysis.uses import ServiceDone, SupplyLearnt, SupplyLedger, learn
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.needs import sheet_amounts
from collection.views.procedure_rules import procedure_rules
from collection.views.supplies import Supply, supply_list

# A reverse takes back the row it names; neither is read. The day and the order of entry make the order of the ledger.
# What the book had too little for is marked as doubtful, by whichever way it came, until it is counted.
_ROWS_SQL = f"""
SELECT m.id, m.supply_id, m.lot_id, m.location_id, m.kind, m.steps, m.occurred_on, m.basis, m.planned, m.service_id,
       m.procedure_id, m.unit_id, m.group_key,
       (SELECT count(*) FROM doubt d WHERE d.row_id = m.id AND d.table_name = 'movement' AND d.rule LIKE :beyond)
FROM movement m
WHERE m.occurred_on <= :day AND m.kind <> 'reverse' AND {counts("m")}
  AND NOT EXISTS (SELECT 1 FROM movement r WHERE r.reverses_id = m.id AND {counts("r")})
ORDER BY m.occurred_on, m.id"""
_SERVICES_SQL = f"""
SELECT s.id, s.opened_on, s.unit_id, t.procedure_id FROM service s JOIN task t ON t.service_id = s.id
WHERE s.void = 0 AND s.opened_on <= :day AND {counts("t")} ORDER BY s.id"""
_SUPPLIES_SQL = "SELECT id, fits, guess_a_year, written_since FROM supply WHERE void = 0"
_UNITS_SQL = (
    "SELECT u.id, u.acquired_on, m.maker, m.name, m.kind FROM unit u JOIN model m ON m.id = u.model_id WHERE u.void = 0"
)
_STANDINGS_SQL = f"""
SELECT e.unit_id, e.from_date, e.standing FROM unit_entry e
WHERE e.from_date <= :day AND {counts("e")} ORDER BY e.unit_id, e.from_date, e.id"""
_FIRST_SERVICE_SQL = "SELECT unit_id, min(opened_on) FROM service WHERE void = 0 GROUP BY unit_id"
_BEYOND = "%please count"  # how the marks end that ask for a count
_NEVER_WATCHED = "medium"  # a kind of model that no supply is used on as on a unit


def learnt(conn: Connection, today: date, foreseen: Collection[int] | None = None) -> dict[int, SupplyLearnt]:
    """Return what the ledger up to `today` teaches about every supply tracked by count, by supply id.

    foreseen: ids of the procedures that a schedule foresees; left out, those with months, running hours or a time
    unused. A use that the sheet of such a procedure has is planned work and no unplanned event.
    """
    known = by_clock(conn) if foreseen is None else foreseen
    return learn(ledgers(conn, today), services_done(conn, today), known, today)


def by_clock(conn: Connection) -> frozenset[int]:
    """Return the procedures that come back by themselves, so that a schedule foresees them."""
    return frozenset(
        rule.id for rule in procedure_rules(conn) if rule.every_months or rule.every_hours or rule.unused_months
    )


def ledgers(conn: Connection, today: date) -> dict[int, SupplyLedger]:
    """Return the ledger of every supply tracked by count, by its id."""
    counted = {supply.id: supply for supply in supply_list(conn) if supply.tracked == "count"}
    rows: defaultdict[int, list[LedgerRow]] = defaultdict(list)
    for row in map(LedgerRow._make, fetch(conn, _ROWS_SQL, day=today.isoformat(), beyond=_BEYOND)):
        rows[row.supply].append(row)
    sheets: defaultdict[int, dict[int, SheetLine]] = defaultdict(dict)
    for each in sheet_amounts(conn):
        sheets[each.supply_id][each.procedure_id] = SheetLine(each.steps, float(each.chance))
    fleet = fleet_here(conn, today)
    found = {}
    for number, fits, guess, since in fetch(conn, _SUPPLIES_SQL):
        if number not in counted:
            continue
        models = models_of(fits)
        units = [unit for unit in fleet if not models or not models.isdisjoint(unit.names)]
        found[number] = SupplyLedger(
            rows=rows[number],
            sheets=sheets[number],
            fits=frozenset(unit.id for unit in units) if models else None,
            piece=piece_steps(counted[number]),
            class_name=class_of(counted[number]),
            guess=guess,
            written_since=parse_day(since).first if since else None,
            stays=[stay for unit in units for stay in unit.stays],
        )
    return found


def services_done(conn: Connection, today: date) -> dict[int, ServiceDone]:
    """Return every service with the procedures done in it, by its id."""
    about: dict[int, tuple[str, int]] = {}
    procedures: defaultdict[int, set[int]] = defaultdict(set)
    for number, on, unit, procedure in fetch(conn, _SERVICES_SQL, day=today.isoformat()):
        about[number] = (on, unit)
        procedures[number].add(procedure)
    return {number: ServiceDone(*about[number], frozenset(done)) for number, done in procedures.items()}


def piece_steps(supply: Supply) -> int:
    """Return how many steps one piece has; 0 for what is weighed or poured."""
    return round(1 / supply.step) if supply.measured_in == "piece" else 0


def class_of(supply: Supply) -> str:
    """Return the class of supplies among which one is an example of how often nobody planned a use."""
    if not piece_steps(supply):
        return "fluids"
    return "belts" if supply.kind.casefold() == "belt" else "parts"


class UnitHere(NamedTuple):
    """A unit, the folded names of its model, and the spans in which it was here and not laid aside."""

    id: int
    names: frozenset[str]
    stays: list[tuple[date, date | None]]


def fleet_here(conn: Connection, today: date) -> list[UnitHere]:
    """Return every unit with the spans in which it was here by `today`; disks are none."""
    entries: defaultdict[int, list[tuple[str, str | None]]] = defaultdict(list)
    for unit, on, standing in fetch(conn, _STANDINGS_SQL, day=today.isoformat()):
        entries[unit].append((on, standing))
    served = dict(fetch(conn, _FIRST_SERVICE_SQL))
    found = []
    for unit, acquired, maker, model, kind in fetch(conn, _UNITS_SQL):
        if kind.casefold() == _NEVER_WATCHED:
            continue
        told = [
            parse_day(day).first for day in (acquired, served.get(unit), *(on for on, _ in entries[unit][:1])) if day
        ]
        came = min(told, default=date.min)
        found.append(UnitHere(unit, names_of_model(maker, model), _stays(came, entries[unit])))
    return found


def _stays(came: date, entries: Sequence[tuple[str, str | None]]) -> list[tuple[date, date | None]]:
    """Return the spans in which a unit was here, from the day it came; missing, gone or a donor it was not."""
    stays: list[tuple[date, date | None]] = []
    start: date | None = came
    for on, standing in entries:
        if standing is None:
            continue
        day = parse_day(on).first
        if standing in LEFT_OUT and start is not None:
            stays.append((start, day))
            start = None
        elif standing not in LEFT_OUT and start is None:
            start = day
    return [*stays, (start, None)] if start is not None else stays
