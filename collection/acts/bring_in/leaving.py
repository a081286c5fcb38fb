"""Units of the book that a folder calls gone: refused where something holds them here, as when it is typed.

What comes with all its history, as from another book, is taken as that book has it.
"""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from collection.acts.bring_in.sheet import NEW, Sheet
from collection.acts.bring_in.state import State
from collection.errors import typed
from collection.store.engine import fetch
from collection.views.exits import GONE
from collection.views.inventory import Evidence, last_seen
from collection.views.reservations import reserved

_OPEN_ITEMS_SQL = """
SELECT i.unit_id, l.name, l.direction, l.out_on FROM loan_item i JOIN loan l ON l.id = i.loan_id
WHERE i.void = 0 AND l.void = 0 AND i.back_on IS NULL
"""
_OPEN_SERVICES = "SELECT id, unit_id, opened_on FROM service WHERE void = 0 AND closed_on IS NULL"


class Leaving(NamedTuple):
    """That a row calls a unit gone from a (partial) day on; column: the cell that says so."""

    sheet: Sheet
    row: int
    column: str
    unit: int
    day: str


def note_leaving(state: State, told: Leaving) -> None:
    """Keep that a row calls a unit gone, to be judged when all of the folder is known."""
    if told.unit > 0:
        state.shared.setdefault("leaving", []).append(told)


def note_held(state: State, sheet: Sheet, ends: str) -> None:
    """Keep which new rows hold a unit of the book here, their day of the end not told, until the folder is known."""
    held = state.shared.setdefault("held", [])
    for row in sheet.open_rows():
        unit = sheet.values["tag"][row]
        if sheet.kinds[row] == NEW and unit is not None and unit > 0 and sheet.values[ends][row] is None:
            held.append((sheet, row, ends, unit))


def settle_held(state: State, current: dict[tuple[int, str], tuple[str, object]]) -> None:
    """Refuse the rows that would hold a unit here that stands gone, as when it is typed; current: as `settle_leaving`.

    Where the folder itself calls the unit gone, that row is the one that is refused.
    """
    leaving = {each.unit for each in state.shared.get("leaving", ())}
    for sheet, row, ends, unit in state.shared.get("held", ()):
        since, stands = current.get((unit, "standing"), ("", ""))
        if stands == GONE and unit not in leaving:
            sheet.refuse(row, "tag", f"is gone since {since}; write {ends}, or in entries.csv that it is here again")


def settle_leaving(state: State, current: dict[tuple[int, str], tuple[str, object]]) -> None:
    """Refuse the rows by which a unit would stand gone that is on loan, borrowed, reserved, in service or seen since.

    current: what each unit stands as by all entries, since when. A unit that left and is here again is not asked about.
    """
    leaving = [each for each in state.shared.get("leaving", ()) if current[each.unit, "standing"] == (each.day, GONE)]
    if not leaving:
        return
    holds = _Holds(open_loans(state), _open_services(state), last_seen(state.conn, state.today))
    for each in leaving:
        against = _against(state, each, holds)
        if against:
            each.sheet.refuse(each.row, each.column, against)


class _Holds(NamedTuple):
    """What may hold units here when all of a folder is written: by unit."""

    loans: dict[tuple[int, str], tuple[str, str]]
    services: dict[int, str]
    seen: dict[int, Evidence]


def _against(state: State, each: Leaving, holds: _Holds) -> str:
    """Return what holds a unit here, and what to do about it; "" for nothing."""
    tag = each.sheet.table.cell("tag", each.row)
    for direction, words, ends in (("out", "on loan", "back"), ("in", "borrowed", "give-back")):
        if (each.unit, direction) in holds.loans:
            name, since = holds.loans[each.unit, direction]
            return f"is {words} since {since} (loan {name}); end that first: spindlebook loan {ends} {typed(tag)}"
    promised = reserved(state.conn, each.unit, state.today, date.max)
    if promised:
        return f"is reserved from {promised[0].from_date}; type first: spindlebook loan unreserve {typed(tag)}"
    if each.unit in holds.services:
        since = holds.services[each.unit]
        return (
            f"has a service open since {since}; close it first: spindlebook service close {typed(tag)} --outcome away"
        )
    last = holds.seen.get(each.unit)
    if last is not None and last.day[: len(each.day)] > each.day:
        return f"was here on {last.day}, after {each.day}: {last.what}; write a day on which it had left"
    return ""


def open_loans(state: State) -> dict[tuple[int, str], tuple[str, str]]:
    """Return the open loan of each unit and direction, those of the folder included: its name, since when."""
    if "open loans" not in state.shared:
        rows = fetch(state.conn, _OPEN_ITEMS_SQL)
        state.shared["open loans"] = {(unit, way): (name, out_on) for unit, name, way, out_on in rows}
    found: dict[tuple[int, str], tuple[str, str]] = state.shared["open loans"]
    return found


def _open_services(state: State) -> dict[int, str]:
    """Return since when each unit has a service open, those of the folder included."""
    closed = {each.row_id for each in state.updates if each.table == "service" and each.changes.get("closed_on")}
    found = {unit: since for row, unit, since in fetch(state.conn, _OPEN_SERVICES) if row not in closed}
    for batch in state.batches:
        if batch.table == "service":
            ends = batch.columns.get("closed_on") or [None] * len(batch)
            rows = zip(batch.columns["unit_id"], batch.columns["opened_on"], ends, strict=True)
            found |= {unit: since for unit, since, end in rows if end is None}
    return found
