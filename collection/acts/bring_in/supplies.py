"""Supplies, suppliers, offers and orders."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from collection.acts.bring_in.match import (
    IDENTITY,
    Field,
    Rule,
    add_fresh,
    fields_of,
    fresh_keys,
    merge_records,
    named_rows,
    ref_of,
)
from collection.acts.bring_in.prepare import book_sheet, in_order, measures, read_money, read_quantity
from collection.acts.bring_in.sheet import CHANGED, NEW, REFUSED, SAME, Sheet
from collection.acts.bring_in.state import State
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.counts import counts

_USED = "it cannot change once the supply is used: enter another supply"
SUPPLY = Rule(
    "supply",
    (
        Field("supply", (("name", None), ("name_folded", fold))),
        *fields_of("kind", "measured_in", "smallest_step"),
        Field("tracked", (("tracked", None),), default="count"),
        *fields_of("density", "polymer", "thickener", "strength", "size", "fits", "shelf_life_months"),
        *fields_of("open_life_months", "wanted_chance", "note"),
    ),
    frozenset({"supply"}),
)
SUPPLIER = Rule(
    "supplier",
    (
        Field("supplier", (("name", None), ("name_folded", fold))),
        *fields_of("lead_days", "shipping:shipping_minor", "currency", "note"),
    ),
    frozenset({"supplier"}),
)
OFFER = Rule(
    "offer",
    (
        *fields_of("supplier:supplier_id", "supply:supply_id", "steps:pack_steps", "price:price_minor", "currency"),
        Field("from_packs", (("from_packs", None),), default=1),
        *fields_of("minimum_packs", "lead_days"),
    ),
    frozenset({"supplier", "supply", "steps", "price", "from_packs"}),
)
_FINEST_STEP = {"piece": "1"}
_OTHER_STEP = "0.001"
_LINE = ("order_id", "supply_id", "packs", "pack_steps")


def plan_supplies(state: State, sheet: Sheet) -> None:
    """Supplies by name; unit and smallest step stay once the supply is used."""
    stored = book_sheet(state, "supplies.csv")
    for each in (sheet, stored):
        each.values[IDENTITY] = [None if name is None else fold(name) for name in each.values["supply"]]
    fresh = merge_records(state, sheet, stored, SUPPLY)
    steps, units = sheet.values["smallest_step"], sheet.values["measured_in"]
    for row in fresh:
        steps[row] = steps[row] or _FINEST_STEP.get(units[row], _OTHER_STEP)
    add_fresh(state, sheet, fresh, SUPPLY)
    _keep_steps(state, sheet, stored)
    names, of = state.names("supply"), measures(state)
    for row, name in named_rows(sheet, "supply"):
        if sheet.kinds[row] in (NEW, CHANGED) or names.find(name) is None:
            ref = ref_of(state, sheet, row, "supply")
            names.add(name, ref)
            match, density = sheet.match[row], sheet.values["density"][row]
            if match is not None:
                steps[row] = steps[row] or stored.values["smallest_step"][match]
                density = density or stored.values["density"][match]
            of.set(ref, units[row] or "piece", steps[row] or _OTHER_STEP, density)


def _keep_steps(state: State, sheet: Sheet, stored: Sheet) -> None:
    """Refuse another unit or step for a supply of which there are quantities."""
    sql = (
        "SELECT supply_id FROM movement UNION SELECT supply_id FROM amount WHERE void = 0"
        " UNION SELECT supply_id FROM offer WHERE void = 0"
    )
    used = {row[0] for row in fetch(state.conn, sql)}
    for row, match in enumerate(sheet.match):
        if match is None or sheet.kinds[row] != CHANGED or stored.ids[match] not in used:
            continue
        for column in ("measured_in", "smallest_step"):
            if sheet.values[column][row] not in (None, stored.values[column][match]):
                sheet.refuse(row, column, f"was {stored.table.cell(column, match)}; {_USED}")


def plan_suppliers(state: State, sheet: Sheet) -> None:
    """Suppliers by name."""
    stored = book_sheet(state, "suppliers.csv")
    for each in (sheet, stored):
        read_money(state, each, "shipping")
        each.values[IDENTITY] = [None if name is None else fold(name) for name in each.values["supplier"]]
    fresh = merge_records(state, sheet, stored, SUPPLIER)
    add_fresh(state, sheet, fresh, SUPPLIER)
    names = state.names("supplier")
    for row, name in named_rows(sheet, "supplier"):
        if sheet.kinds[row] in (NEW, CHANGED) or names.find(name) is None:
            names.add(name, ref_of(state, sheet, row, "supplier"))


def plan_offers(state: State, sheet: Sheet) -> None:
    """Offers by supplier, supply, pack, price and the number of packs they start from."""
    stored = book_sheet(state, "offers.csv")
    for each in (sheet, stored):
        each.values["steps"] = read_quantity(state, each, "pack_quantity")
        read_money(state, each, "price")
        columns = [each.values[name] for name in ("supplier", "supply", "steps", "price", "from_packs")]
        each.values[IDENTITY] = [(*what, packs or 1) for *what, packs in zip(*columns, strict=True)]
    for row in sheet.open_rows():
        if sheet.values["steps"][row] == 0:
            sheet.refuse(row, "pack_quantity", "must be above zero")
    fresh = merge_records(state, sheet, stored, OFFER)
    typed = sheet.values["pack_quantity"]
    add_fresh(state, sheet, fresh, OFFER, entered=[typed[row] for row in fresh])
    told = state.shared.setdefault("packs", {})
    for row in sheet.open_rows():
        told[sheet.values["supplier"][row], sheet.values["supply"][row]] = sheet.values["steps"][row]


def plan_orders(state: State, sheet: Sheet) -> None:
    """Order lines by order and supply; what arrived or was cancelled since is added to them."""
    stored = book_sheet(state, "orders.csv")
    for each in (sheet, stored):
        columns = (each.values["order"], each.values["supply"])
        each.values[IDENTITY] = [(fold(name or ""), supply) for name, supply in zip(*columns, strict=True)]
    for end in ("arrived_on", "cancelled_on"):
        in_order(sheet, "ordered_on", end)
    _need_days(sheet)
    _one_order(sheet)
    told = "an order is never rewritten: cancel it and enter another"
    frozen = dict.fromkeys(("supplier", "ordered_on", "packs"), told)
    rule = Rule("order_line", fields_of("supplier", "ordered_on", "packs"), frozenset({"order", "supply"}), frozen)
    fresh = merge_records(state, sheet, stored, rule)
    orders = _orders(state, sheet, fresh)
    packs = _pack_steps(state)
    lines = [
        (
            orders[row],
            sheet.values["supply"][row],
            sheet.values["packs"][row],
            packs.get((sheet.values["supplier"][row], sheet.values["supply"][row])),
        )
        for row in fresh
    ]
    refs = state.refs("order_line", len(fresh))
    cells: Sequence[Sequence[Any]] = list(zip(*lines, strict=True)) or [()] * len(_LINE)
    keys = fresh_keys(state, sheet, fresh, "order_line")
    state.add("order_line", {"key": keys, **{n: list(c) for n, c in zip(_LINE, cells, strict=True)}}, refs)
    for row, ref in zip(fresh, refs, strict=True):
        sheet.refs[row] = ref
    _add_events(state, sheet, stored)


def _one_order(sheet: Sheet) -> None:
    """Refuse lines of one order that name another supplier or day."""
    said: dict[str, tuple[int, Any, Any]] = {}
    for row in sheet.open_rows():
        supplier, day = sheet.values["supplier"][row], sheet.values["ordered_on"][row]
        first, *agreed = said.setdefault(fold(sheet.values["order"][row]), (row, supplier, day))
        for column, value, other in zip(("supplier", "ordered_on"), (supplier, day), agreed, strict=True):
            if value != other:
                told = f"row {sheet.table.rows[first]} says {sheet.table.cell(column, first)} of the same order"
                sheet.refuse(row, column, told)


def _need_days(sheet: Sheet) -> None:
    for row in sheet.open_rows():
        if sheet.values["arrived_packs"][row] is not None and sheet.values["arrived_on"][row] is None:
            sheet.refuse(row, "arrived_on", "must be filled where packs arrived")


def _orders(state: State, sheet: Sheet, fresh: list[int]) -> dict[int, int]:
    """Return the order of each new line; rows of one name, supplier and day are one order."""
    sql = f"SELECT name_folded, supplier_id, ordered_on, id FROM purchase_order o WHERE {counts('o')}"
    known: dict[tuple[Any, ...], int] = {row[:3]: row[3] for row in fetch(state.conn, sql)}
    made: dict[int, int] = {}
    for row in fresh:
        name, supplier, day = (sheet.values[column][row] for column in ("order", "supplier", "ordered_on"))
        key = (fold(name), supplier, day)
        if key not in known:
            columns = ("name", "name_folded", "supplier_id", "ordered_on")
            known[key] = state.append("purchase_order", columns, [(name, *key)])[0]
        made[row] = known[key]
    return made


def _pack_steps(state: State) -> dict[tuple[int, int], int]:
    """Return what one pack of a supply holds at a supplier, where an offer tells."""
    rows = fetch(state.conn, "SELECT supplier_id, supply_id, pack_steps FROM offer WHERE void = 0 ORDER BY id")
    told: dict[tuple[int, int], int] = state.shared.get("packs", {})
    return {(row[0], row[1]): row[2] for row in rows} | told


def _add_events(state: State, sheet: Sheet, stored: Sheet) -> None:
    rows: list[tuple[Any, ...]] = []
    for row in sheet.open_rows():
        match = sheet.match[row]
        said = {name: sheet.values[name][row] for name in ("arrived_on", "arrived_packs", "cancelled_on")}
        if said["arrived_on"] is not None and said["arrived_packs"] is None and match is None:
            said["arrived_packs"] = sheet.values["packs"][row]
        before = {name: stored.values[name][match] if match is not None else None for name in said}
        events = _events(sheet, row, said, before)
        if sheet.kinds[row] == REFUSED or not events:
            continue
        rows += [(sheet.refs[row], *event) for event in events]
        if sheet.kinds[row] in (SAME, CHANGED):
            columns = [name for name in said if said[name] not in (None, before[name])]
            sheet.changed(row, columns, [str(before[name] or "") for name in columns])
    state.append("order_event", ("line_id", "kind", "happened_on", "packs"), rows)


def _events(sheet: Sheet, row: int, said: dict[str, Any], before: dict[str, Any]) -> list[tuple[str, str, int | None]]:
    """Return what happened to a line since; refuse what contradicts the book."""
    events: list[tuple[str, str, int | None]] = []
    arrived = said["arrived_packs"] if said["arrived_packs"] is not None else before["arrived_packs"]
    had = before["arrived_packs"] or 0
    if said["arrived_on"] is not None and arrived is None:
        arrived = sheet.values["packs"][row]
    if said["arrived_on"] is not None and (arrived > had or before["arrived_on"] is None):
        events.append(("arrived", said["arrived_on"], arrived - had))
    elif said["arrived_on"] not in (None, before["arrived_on"]) or (arrived or 0) < had:
        told = f"was {before['arrived_packs']} on {before['arrived_on']}; an arrival is never rewritten"
        sheet.refuse(row, "arrived_on", told)
    if said["cancelled_on"] not in (None, before["cancelled_on"]):
        if before["cancelled_on"] is None:
            events.append(("cancelled", said["cancelled_on"], None))
        else:
            sheet.refuse(row, "cancelled_on", f"was {before['cancelled_on']} and is never rewritten")
    return events
