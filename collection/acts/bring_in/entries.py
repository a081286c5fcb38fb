"""Owner, location and standing of units: dated entries that are added, never rewritten."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from collection.acts.bring_in.form import STANDING_WORDS
from collection.acts.bring_in.leaving import Leaving, note_leaving, open_loans, settle_held, settle_leaving
from collection.acts.bring_in.match import Rule, add_fresh, conclude_events, fields_of, match_events
from collection.acts.bring_in.prepare import book_sheet, concerned, joint
from collection.acts.bring_in.sheet import CHANGED, NEW, SAME, Sheet
from collection.acts.bring_in.state import State
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.exits import GONE
from collection.views.units import ON_LOAN

WHATS = ("owner", "location", "standing")
ENTRY = Rule(
    "unit_entry",
    fields_of("tag:unit_id", "what", "from_date", "note"),
    corrected="enter a new one from a later day, or undo the act that brought it",
)
_COLUMNS = ("unit_id", "what", "from_date", "person_id", "location_id", "standing")
_CURRENT_SQL = f"""
SELECT unit_id, what, from_date, coalesce(person_id, location_id), standing FROM unit_entry e
WHERE from_date <= :day AND {counts("e")} ORDER BY from_date, id
"""


def plan_entries(state: State, sheet: Sheet) -> None:
    """Entries as they are told, row by row."""
    stored = book_sheet(state, "entries.csv", concerned(sheet))
    for each in (sheet, stored):
        each.values["value"] = _values(state, each)
    match_events(sheet, stored, ("tag", "what", "value", "from_date", "note"))
    fresh = conclude_events(state, sheet, stored, ENTRY)
    whats, values = sheet.values["what"], sheet.values["value"]
    add_fresh(
        state,
        sheet,
        fresh,
        ENTRY,
        person_id=[values[row] if whats[row] == "owner" else None for row in fresh],
        location_id=[values[row] if whats[row] == "location" else None for row in fresh],
        standing=[values[row] if whats[row] == "standing" else None for row in fresh],
    )
    told = state.shared.setdefault("entries", [])
    told += [(sheet.values["tag"][row], whats[row], sheet.values["from_date"][row], values[row]) for row in fresh]
    for row in fresh:
        if values[row] == GONE:
            unit, day = sheet.values["tag"][row], sheet.values["from_date"][row]
            note_leaving(state, Leaving(sheet, row, "value", unit, day))


def _values(state: State, sheet: Sheet) -> list[Any]:
    """Return the person, location or standing that each row tells of."""

    def meaning(what: str | None, text: str) -> Any:
        if what == "owner":
            return state.person(text, role="owner", doubtful=True)
        return state.location(text) if what == "location" else STANDING_WORDS(text, state)

    state.reading_book = sheet.stored
    found = joint(sheet, ("what", "value"), "value", meaning, state)
    state.reading_book = False
    return found


def wish(state: State, sheet: Sheet, row: int) -> None:
    """Note what a row of units.csv says about owner, location and standing."""
    for what in WHATS:
        value = sheet.values[what][row]
        if value is not None:
            state.shared.setdefault("wishes", []).append((sheet, row, what, value))


def settle_wishes(state: State) -> None:
    """Enter what units.csv says where the entries, old and new, do not say so already.

    A new unit's entry dates from the day it was acquired, else from today; a change dates from today. "On loan"
    needs no entry while the unit stands on an open loan: the loan says so.
    """
    wishes = state.shared.get("wishes", ())
    if not (wishes or state.shared.get("leaving") or state.shared.get("held")):
        return
    current, loans = _current(state), open_loans(state)
    rows: list[tuple[Any, ...]] = []
    for sheet, row, what, value in wishes:
        unit = sheet.refs[row]
        day, present = current.get((unit, what), ("", None))
        lent = value == ON_LOAN and (unit, ON_LOAN) in loans
        if unit is None or present == value or lent:
            continue
        from_date = (sheet.values["acquired_on"][row] if not day else None) or state.today.isoformat()
        rows.append(_entry(unit, what, from_date, value))
        if what == "standing":
            current[unit, what] = (from_date, value)
            if value == GONE:
                note_leaving(state, Leaving(sheet, row, what, unit, from_date))
        if sheet.kinds[row] in (SAME, CHANGED):
            sheet.changed(row, [what], [_shown(sheet, state, row, what)])
        elif sheet.kinds[row] != NEW:
            rows.pop()
    state.append("unit_entry", _COLUMNS, rows)
    settle_leaving(state, current)
    settle_held(state, current)


def _entry(unit: int, what: str, from_date: str, value: Any) -> tuple[Any, ...]:
    places = [value if what == each else None for each in WHATS]
    return (unit, what, from_date, *places)


def _shown(sheet: Sheet, state: State, row: int, what: str) -> str:
    _sheet, stored = state.shared["units"]
    match = sheet.match[row]
    return "" if match is None else str(stored.table.cell(what, match))


def _current(state: State) -> dict[tuple[int, str], tuple[str, Any]]:
    """Return the last entry up to today of every unit: since when, and the person, location or standing."""
    found: dict[tuple[int, str], tuple[str, Any]] = {}
    for unit, what, day, ref, standing in fetch(state.conn, _CURRENT_SQL, day=state.today.isoformat()):
        found[unit, what] = (day, standing if ref is None else ref)
    told = defaultdict(list)
    for unit, what, day, value in state.shared.get("entries", ()):
        told[unit, what].append((day, value))
    for key, entries in told.items():
        for day, value in entries:
            if day >= found.get(key, ("", None))[0]:
                found[key] = (day, value)
    return found
