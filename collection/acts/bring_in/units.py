"""Units, known by tag, and what is odd about their serials."""

from __future__ import annotations

from collections import defaultdict

from collection.acts.bring_in.entries import wish
from collection.acts.bring_in.match import (
    IDENTITY,
    Field,
    Rule,
    add_fresh,
    fields_of,
    merge_records,
    named_rows,
    ref_of,
)
from collection.acts.bring_in.models import models
from collection.acts.bring_in.prepare import book_sheet, joint, read_money
from collection.acts.bring_in.sheet import CHANGED, NEW, Sheet
from collection.acts.bring_in.state import State
from collection.analysis.serials import odd_serial
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.folder.form import KEY
from collection.views.units import alias_of

UNIT = Rule(
    "unit",
    (
        Field("tag", (("tag", None), ("tag_folded", fold))),
        Field("serial", (("serial", None), ("serial_folded", fold))),
        *fields_of("model:model_id", "serial_state", "acquired_on", "acquired_from:acquired_from_id"),
        *fields_of("price:price_minor", "currency", "condition", "marks", "jumpers", "rom", "modifications"),
        *fields_of("accessories", "note"),
    ),
    frozenset({"tag"}),
)


def plan_units(state: State, sheet: Sheet) -> None:
    """Units by tag; owner, location and standing are dated entries, told of when all entries are known."""
    stored, tags = book_sheet(state, "units.csv"), state.units
    for each in (sheet, stored):
        read_money(state, each, "price")
        each.values["model"] = joint(each, ("model", "maker"), "model", models(state).need)
    stored.values[IDENTITY] = list(stored.ids)
    sheet.values[IDENTITY] = [
        None if tag is None else (tags.find(tag) or ("new", fold(tag))) for tag in sheet.values["tag"]
    ]
    _mark_former_tags(sheet, stored)
    fresh = merge_records(state, sheet, stored, UNIT)
    for row in fresh:
        if sheet.values["serial"][row] and sheet.values["serial_state"][row] is None:
            sheet.values["serial_state"][row] = "known"
    add_fresh(state, sheet, fresh, UNIT)
    _keep_old_tags(state, sheet, stored)
    for row, tag in named_rows(sheet, "tag"):
        if sheet.kinds[row] in (NEW, CHANGED) or tags.find(tag) is None:
            tags.add(tag, ref_of(state, sheet, row, "unit"))
    _doubt_serials(state, sheet)
    state.shared["units"] = (sheet, stored)
    state.shared["unit_model"] = {sheet.refs[row]: sheet.values["model"][row] for row in sheet.open_rows()}
    for row in sheet.open_rows():
        wish(state, sheet, row)


def _mark_former_tags(sheet: Sheet, stored: Sheet) -> None:
    """Let a row that names its unit by the key give it a tag that it had before; without the key that finds it only."""
    by_key = {
        key: (ref, fold(tag))
        for key, ref, tag in zip(stored.values[KEY], stored.ids, stored.values["tag"], strict=True)
    }
    for row, tag in named_rows(sheet, "tag"):
        ref, present = by_key.get(sheet.values[KEY][row], (None, ""))
        if ref == sheet.values[IDENTITY][row] and fold(tag) != present:
            sheet.values[IDENTITY][row] = ("former", fold(tag))


def _keep_old_tags(state: State, sheet: Sheet, stored: Sheet) -> None:
    """Keep the tag of a unit that is renamed by its key, so that no other unit gets it."""
    for row in sheet.open_rows():
        match = sheet.match[row]
        if match is None or sheet.kinds[row] != CHANGED:
            continue
        old, new = stored.values["tag"][match], sheet.values["tag"][row]
        if sheet.values[IDENTITY][row] != stored.ids[match]:
            own = alias_of(state.conn, stored.ids[match], new)
            if own:
                state.update("unit_alias", own, {"alias": old, "alias_folded": fold(old)})
            else:
                row_values = (stored.ids[match], old, fold(old))
                state.append("unit_alias", ("unit_id", "alias", "alias_folded"), [row_values])
            state.units.add(new, stored.ids[match])


def _doubt_serials(state: State, sheet: Sheet) -> None:
    """Mark serials that are odd, or that another unit of the same model has; they are never refused."""
    sql = "SELECT model_id, serial_folded, tag, id FROM unit WHERE void = 0 AND serial_folded IS NOT NULL"
    bearers: dict[tuple[int, str], list[tuple[str, int | None]]] = defaultdict(list)
    for model, serial, tag, ref in fetch(state.conn, sql):
        bearers[model, serial].append((tag, ref))
    rows = [row for row in sheet.open_rows() if sheet.values["serial"][row]]
    for row in rows:
        if sheet.kinds[row] == NEW:
            bearers[_serial_of(sheet, row)].append((sheet.values["tag"][row], sheet.refs[row]))
    for row in rows:
        serial = sheet.values["serial"][row]
        odd = odd_serial(serial, sheet.values["serial_state"][row])
        if odd:
            sheet.doubt(row, "serial", odd)
        others = [tag for tag, ref in bearers[_serial_of(sheet, row)] if ref != sheet.refs[row]]
        if others:
            sheet.doubt(row, "serial", f"unit {others[0]} of the same model has this serial too")


def _serial_of(sheet: Sheet, row: int) -> tuple[int, str]:
    return sheet.values["model"][row], fold(sheet.values["serial"][row])
