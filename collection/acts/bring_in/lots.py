"""Lots with what was received, and the day they were opened."""

from __future__ import annotations

from typing import Any

from collection.acts.bring_in.match import (
    IDENTITY,
    Field,
    Rule,
    add_fresh,
    fields_of,
    merge_records,
    named_rows,
)
from collection.acts.bring_in.prepare import book_sheet, in_order, measures, read_money, read_quantity
from collection.acts.bring_in.sheet import CHANGED, NEW, REFUSED, SAME, Sheet
from collection.acts.bring_in.state import State
from collection.errors import Refused, fold, nearest
from collection.store.engine import fetch

_RECEIVED = "what was received is never rewritten: reverse it and receive it anew"
LOT = Rule(
    "lot",
    (
        *fields_of("supply:supply_id"),
        Field("lot", (("name", None), ("name_folded", fold))),
        *fields_of("received_on", "price:price_minor", "currency", "supplier:supplier_id", "made", "expires_on"),
    ),
    frozenset({"supply", "lot"}),
    {"received_on": _RECEIVED, "supply": _RECEIVED},
)
_MOVEMENT = ("supply_id", "lot_id", "kind", "steps", "entered", "entered_in", "occurred_on")


class Lots:
    """Lots by supply and name."""

    def __init__(self, state: State) -> None:
        self._of: dict[int, dict[str, int]] = {}
        for supply, name, ref in fetch(state.conn, "SELECT supply_id, name, id FROM lot WHERE void = 0"):
            self.add(supply, name, ref)

    def find(self, name: str, supply: int | None) -> int | None:
        """Return the lot, or None."""
        return self._of.get(supply or 0, {}).get(fold(name))

    def need(self, name: str, supply: int | None) -> int:
        """Return the lot. Raises Refused with near names of the supply's lots."""
        if supply is None:
            raise Refused("a lot is known by its supply; name the supply as well")
        found = self.find(name, supply)
        if found is None:
            near = nearest(name, self._of.get(supply, ()))
            add = "add it to lots.csv"
            advice = f"nearest: {', '.join(near)}; correct it or {add}" if near else add
            raise Refused("the supply has no such lot", advice)
        return found

    def add(self, supply: int, name: str, ref: int) -> None:
        """Let a name lead to a lot of a supply."""
        self._of.setdefault(supply, {})[fold(name)] = ref


def lots(state: State) -> Lots:
    """Return all lots, read on first use."""
    if "lots" not in state.shared:
        state.shared["lots"] = Lots(state)
    found: Lots = state.shared["lots"]
    return found


def plan_lots(state: State, sheet: Sheet) -> None:
    """Lots by supply and name, each with the movement that received it and, once opened, one that says so."""
    stored, known = book_sheet(state, "lots.csv"), lots(state)
    for each in (sheet, stored):
        read_money(state, each, "price")
        each.values["steps"] = read_quantity(state, each)
        columns = (each.values["supply"], each.values["lot"])
        each.values[IDENTITY] = [(supply, fold(name or "")) for supply, name in zip(*columns, strict=True)]
    in_order(sheet, "received_on", "opened_on")
    fresh = merge_records(state, sheet, stored, LOT)
    add_fresh(state, sheet, fresh, LOT)
    for row, name, supply in named_rows(sheet, "lot", "supply"):
        if supply is not None and (sheet.kinds[row] in (NEW, CHANGED) or known.find(name, supply) is None):
            ref = sheet.refs[row]
            known.add(supply, name, state.refs("lot", 1)[0] if ref is None else ref)
    _receive(state, sheet, fresh)
    _open(state, sheet, stored)


def _receive(state: State, sheet: Sheet, fresh: list[int]) -> None:
    supplies, steps, typed, days = (sheet.values[name] for name in ("supply", "steps", "quantity", "received_on"))
    unit = measures(state).unit
    rows: list[tuple[Any, ...]] = [
        (supplies[row], sheet.refs[row], "receive", steps[row], typed[row], unit(supplies[row]), days[row])
        for row in fresh
    ]
    state.append("movement", _MOVEMENT, rows)
    state.shared.setdefault("received", []).extend((row[0], row[1], "receive", row[3], row[6]) for row in rows)


def _open(state: State, sheet: Sheet, stored: Sheet) -> None:
    """Open what is said to be open; refuse another quantity or day than the book has."""
    unit = measures(state).unit
    rows: list[tuple[Any, ...]] = []
    for row in sheet.open_rows():
        match, supply, day = sheet.match[row], sheet.values["supply"][row], sheet.values["opened_on"][row]
        before = None
        if match is not None:
            before = stored.values["opened_on"][match]
            if sheet.values["steps"][row] != stored.values["steps"][match]:
                sheet.refuse(row, "quantity", f"was {stored.table.cell('quantity', match)}; {_RECEIVED}")
            if before is not None and day not in (None, before):
                sheet.refuse(row, "opened_on", f"was {before}; a lot is opened once: reverse it first")
        if day is None or before is not None or sheet.kinds[row] == REFUSED:
            continue
        rows.append((supply, sheet.refs[row], "open", 0, "0", unit(supply), day))
        if sheet.kinds[row] in (SAME, CHANGED):
            sheet.changed(row, ["opened_on"], [""])
    state.append("movement", _MOVEMENT, rows)
    state.shared.setdefault("received", []).extend((row[0], row[1], "open", 0, row[6]) for row in rows)
