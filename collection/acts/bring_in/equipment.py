"""Locations, pairings and parts."""

from __future__ import annotations

from typing import Any

from collection.acts.bring_in.lots import lots
from collection.acts.bring_in.match import (
    IDENTITY,
    Field,
    Rule,
    add_fresh,
    conclude_events,
    doubt_twins,
    fields_of,
    fresh_keys,
    match_events,
    merge_records,
    named_rows,
)
from collection.acts.bring_in.prepare import book_sheet, concerned, in_order, joint
from collection.acts.bring_in.services import services
from collection.acts.bring_in.sheet import NEW, Sheet
from collection.acts.bring_in.state import State
from collection.errors import fold

LOCATION = Rule(
    "location",
    (Field("location", (("name", None), ("name_folded", fold))), *fields_of("inside:inside_id", "note")),
    frozenset({"location"}),
)
PAIRING = Rule("pairing", fields_of("drive:drive_id", "supply_unit:supply_unit_id", "from_date", "to_date"))
PART = Rule(
    "fitted_part",
    fields_of("tag:unit_id", "part", "fitted_on", "removed_on", "supply:supply_id", "lot:lot_id", "donor:donor_id"),
)


def plan_locations(state: State, sheet: Sheet) -> None:
    """Locations by name; a place comes before what is inside it."""
    stored, names = book_sheet(state, "locations.csv"), state.names("location")
    refs = _location_refs(state, sheet, stored)
    for each in (sheet, stored):
        each.values[IDENTITY] = [None if name is None else fold(name) for name in each.values["location"]]
        each.values["inside"] = joint(each, ("inside",), "inside", names.need)
    _refuse_circles(sheet, stored, refs)
    fresh = merge_records(state, sheet, stored, LOCATION)
    for level in _by_depth(sheet, fresh, refs):
        _add_locations(state, sheet, level, refs)


def _location_refs(state: State, sheet: Sheet, stored: Sheet) -> list[int | None]:
    """Let every name of the file lead to its location, so that rows can lie inside one that comes later."""
    names = state.names("location")
    by_key = dict(zip(stored.values["key"], stored.ids, strict=True))
    refs: list[int | None] = [None] * sheet.size
    for row, name, key in named_rows(sheet, "location", "key"):
        found = by_key.get(key) or names.find(name)
        ref = state.refs("location", 1)[0] if found is None else found
        names.add(name, ref)
        refs[row] = ref
    return refs


def _refuse_circles(sheet: Sheet, stored: Sheet, refs: list[int | None]) -> None:
    """Refuse a place that would lie inside itself, through the book's places too."""
    inside: dict[int | None, Any] = dict(zip(stored.ids, stored.values["inside"], strict=True))
    inside |= {ref: told for ref, told in zip(refs, sheet.values["inside"], strict=True) if told is not None}
    for row in sheet.open_rows():
        seen: set[int | None] = set()
        place = refs[row]
        while place is not None and place not in seen:
            seen.add(place)
            place = inside.get(place)
        if place == refs[row] and sheet.values["inside"][row] is not None:
            sheet.refuse(row, "inside", "lies inside itself, directly or through others")


def _by_depth(sheet: Sheet, fresh: list[int], refs: list[int | None]) -> list[list[int]]:
    """Return new locations in groups, each of which lies inside earlier ones."""
    inside = sheet.values["inside"]
    waiting, levels = {row for row in fresh if sheet.kinds[row] == NEW}, []
    while waiting:
        missing = {refs[row] for row in waiting}
        level = sorted(row for row in waiting if inside[row] not in missing)
        waiting -= set(level)
        levels.append(level)
    return levels


def _add_locations(state: State, sheet: Sheet, rows: list[int], refs: list[int | None]) -> None:
    names = [sheet.values["location"][row] for row in rows]
    columns = {
        "key": fresh_keys(state, sheet, rows, "location"),
        "name": names,
        "name_folded": [fold(name) for name in names],
        "inside_id": [sheet.values["inside"][row] for row in rows],
        "note": [sheet.values["note"][row] for row in rows],
    }
    state.add("location", columns, [refs[row] for row in rows])  # type: ignore[misc]
    for row in rows:
        sheet.refs[row] = refs[row]


def plan_pairings(state: State, sheet: Sheet) -> None:
    """Which supply unit fed which drive, and when."""
    stored = book_sheet(state, "pairings.csv", concerned(sheet, "drive"))
    in_order(sheet, "from_date", "to_date")
    for row in sheet.open_rows():
        if sheet.values["drive"][row] == sheet.values["supply_unit"][row]:
            sheet.refuse(row, "supply_unit", "is the drive itself")
    content = [each.column for each in PAIRING.fields]
    match_events(sheet, stored, content)
    fresh = conclude_events(state, sheet, stored, PAIRING)
    doubt_twins(sheet, stored, fresh, content, ["to_date"])
    add_fresh(state, sheet, fresh, PAIRING)


def plan_parts(state: State, sheet: Sheet) -> None:
    """Parts fitted and removed, from a lot or a donor."""
    stored = book_sheet(state, "parts.csv", concerned(sheet))
    in_order(sheet, "fitted_on", "removed_on")
    for each in (sheet, stored):
        each.values["lot"] = joint(each, ("lot", "supply"), "lot", lots(state).need)
    content = [each.column for each in PART.fields]
    match_events(sheet, stored, content)
    fresh = conclude_events(state, sheet, stored, PART)
    doubt_twins(sheet, stored, fresh, content, ["removed_on"])
    add_fresh(state, sheet, fresh, PART, service_id=services(state).ties(sheet, fresh))
