"""What left the drawer and what was counted: movements, taken from lots as the drawer takes them.

A use without a lot is taken from the lot that expires first, as the stock was on that day. A count without a lot is
the total of the supply, and is spread over its lots. Either makes one row in the folder whatever lots it touched.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, NamedTuple
from uuid import uuid4

from collection.acts.bring_in.lots import lots
from collection.acts.bring_in.match import (
    Rule,
    conclude_events,
    fields_of,
    fresh_keys,
    match_events,
)
from collection.acts.bring_in.prepare import book_sheet, joint, measures, read_quantity
from collection.acts.bring_in.services import services
from collection.acts.bring_in.sheet import NEW, Sheet
from collection.acts.bring_in.state import Mark, State
from collection.analysis.ledger import Movement, spread_count
from collection.analysis.shelf import Shelf
from collection.analysis.shelf_life import LotFacts, SupplyFacts, usable_through
from collection.analysis.take_order import Lot, take, usable
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.shelves import MOVEMENTS_SQL
from collection.views.supplies import own_lives

BEYOND = "more than the book has: entries are missing, please count"
PAST_DATE = "was past its last usable day"
_NEVER = "reverse it and enter it anew"
USE = Rule(
    "movement",
    fields_of("supply", "lot", "quantity", "used_on", "tag", "procedure", "basis", "planned", "what", "reason"),
    corrected=_NEVER,
)
COUNT = Rule("movement", fields_of("supply", "lot", "counted_on", "quantity"), corrected=_NEVER)
_COLUMNS = (
    "key", "supply_id", "lot_id", "kind", "steps", "entered", "entered_in", "occurred_on", "basis", "planned",
    "service_id", "procedure_id", "unit_id", "reason", "group_key", "used_past_date",
)  # fmt: skip


class Taken(NamedTuple):
    """A part of a use or a count that falls on one lot."""

    lot: int | None
    steps: int
    past_date: bool = False
    beyond: bool = False


def plan_uses(state: State, sheet: Sheet) -> None:
    """Uses, discards, returns and shortages as whole rows."""
    stored = book_sheet(state, "uses.csv")
    for each in (sheet, stored):
        _prepare(state, each)
        each.values["what"] = [what or "use" for what in each.values["what"]]
    _check(sheet)
    match_events(sheet, stored, [each.column for each in USE.fields], ("lot",))
    fresh = conclude_events(state, sheet, stored, USE)
    ties = services(state).ties(sheet, fresh)
    drawer, rows, marks = Drawer(state), [], []
    for place, row in sorted(enumerate(fresh), key=lambda item: sheet.values["used_on"][item[1]]):
        if sheet.kinds[row] == NEW:
            parts = _take(drawer, sheet, row)
            marks += _doubts(sheet, row, parts)
            rows.append((row, ties[place], parts))
    rows.sort(key=lambda item: item[0])
    _write(state, sheet, rows, marks)


def plan_counts(state: State, sheet: Sheet) -> None:
    """Counts as whole rows; one without a lot is the total of the supply."""
    stored = book_sheet(state, "counts.csv")
    for each in (sheet, stored):
        _prepare(state, each)
    match_events(sheet, stored, [each.column for each in COUNT.fields], ("lot",))
    fresh = conclude_events(state, sheet, stored, COUNT)
    drawer = Drawer(state)
    in_time = sorted(fresh, key=lambda row: str(sheet.values["counted_on"][row]))
    counted = {row: _count(drawer, sheet, row) for row in in_time}
    _write(state, sheet, [(row, None, counted[row]) for row in fresh], [])


def _prepare(state: State, sheet: Sheet) -> None:
    values = sheet.values
    values["typed"] = values["quantity"]
    values["quantity"] = read_quantity(state, sheet)
    if any(values["lot"]):
        values["lot"] = joint(sheet, ("lot", "supply"), "lot", lots(state).need)


def _check(sheet: Sheet) -> None:
    """Refuse what the ledger's rules do not allow."""
    for row in sheet.open_rows():
        what = sheet.values["what"][row]
        if what == "discard" and sheet.values["reason"][row] is None:
            sheet.refuse(row, "reason", "must say why it was discarded")
        if what == "return" and sheet.values["lot"][row] is None:
            sheet.refuse(row, "lot", "must name the lot that was returned")
        if sheet.values["quantity"][row] == 0:
            sheet.refuse(row, "quantity", "must be above zero")


@dataclass
class _Age:
    """What decides how long the lots of a supply may be used."""

    supply: SupplyFacts
    lots: dict[int, LotFacts] = field(default_factory=dict)


class Drawer:
    """The stock of every supply through time: the book's movements and those gathered so far."""

    def __init__(self, state: State) -> None:
        self._state = state
        self._shelves: dict[int, Shelf] = {}
        self._lives = own_lives(state.conn)
        self._new: defaultdict[int, list[tuple[int | None, str, int, str]]] = defaultdict(list)
        for supply, lot, kind, steps, day in state.shared.get("received", ()):
            self._new[supply].append((lot, kind, steps, day))
        self._ages = _ages(state)
        self._through: dict[tuple[int, str | None], date | None] = {}

    def shelf(self, supply: int) -> Shelf:
        """Return the stock of a supply."""
        if supply not in self._shelves:
            sql = f"{MOVEMENTS_SQL} AND m.supply_id = :supply ORDER BY m.id"
            rows = fetch(self._state.conn, sql, supply=supply) if supply > 0 else []
            self._shelves[supply] = Shelf(map(Movement._make, rows))
            for lot, kind, steps, day in self._new[supply]:
                self._shelves[supply].add(lot, None, kind, steps, day)
        return self._shelves[supply]

    def add(self, supply: int, lot: int | None, kind: str, steps: int, day: str) -> None:
        """Take in a movement, here and for a later drawer of the same planning."""
        self.shelf(supply).add(lot, None, kind, steps, day)
        self._state.shared.setdefault("received", []).append((supply, lot, kind, steps, day))

    def lots_on(self, supply: int, day: str) -> list[Lot]:
        """Return the lots of a supply with what can be taken from each on a day."""
        shelf = self.shelf(supply)
        steps: defaultdict[int | None, int] = defaultdict(int)
        for (lot, _place), there in shelf.available(day).items():
            steps[lot] += there
        return [self._lot(supply, lot, left) for lot, left in steps.items()]

    def _lot(self, supply: int, lot: int | None, steps: int) -> Lot:
        if lot is None:
            return Lot(None, steps)
        age, opened = self._ages[supply], self.shelf(supply).opened_on(lot)
        facts = replace(age.lots[lot], opened_on=opened)
        if (lot, opened) not in self._through:
            self._through[lot, opened] = usable_through(facts, age.supply, self._lives).through
        return Lot(lot, steps, self._through[lot, opened], opened, facts.received_on)

    def past_date(self, supply: int, lot: int, day: str) -> bool:
        """Say whether a lot was past its last usable day."""
        return not usable(self._lot(supply, lot, 0), parse_day(day).first)


def _ages(state: State) -> dict[int, _Age]:
    """Return what is known of the age of lots, by supply; the folder's lots and supplies included."""
    columns = "kind, polymer, thickener, shelf_life_months, open_life_months"
    ages: dict[int, _Age] = {}
    for ref, *facts in fetch(state.conn, f"SELECT id, {columns} FROM supply WHERE void = 0"):
        ages[ref] = _Age(SupplyFacts(*facts))
    sql = "SELECT supply_id, id, expires_on, made, received_on FROM lot WHERE void = 0"
    for supply, lot, *facts in fetch(state.conn, sql):
        ages[supply].lots[lot] = LotFacts(*facts)
    for sheet in state.shared.get("sheets", ()):
        if sheet.form.file == "supplies.csv":
            for row in sheet.open_rows():
                facts = [sheet.values[name.strip()][row] for name in columns.split(",")]
                known = ages.get(sheet.refs[row])
                ages[sheet.refs[row]] = _Age(SupplyFacts(*facts), known.lots if known else {})
        if sheet.form.file == "lots.csv":
            for row in sheet.open_rows():
                facts = [sheet.values[name][row] for name in ("expires_on", "made", "received_on")]
                ages.setdefault(sheet.values["supply"][row], _Age(SupplyFacts())).lots[sheet.refs[row]] = LotFacts(
                    *facts
                )
    return ages


def _take(drawer: Drawer, sheet: Sheet, row: int) -> list[Taken]:
    """Return from which lots a row is taken, and book it there."""
    supply, lot, steps, day, what = (
        sheet.values[name][row] for name in ("supply", "lot", "quantity", "used_on", "what")
    )
    if what == "short":
        return [Taken(lot, steps)]
    stock = drawer.lots_on(supply, day)
    asked = [each for each in stock if lot is None or each.id == lot]
    taken, short = take(asked, steps, parse_day(day).first, expired_too=True)
    parts = [Taken(each.lot, each.steps, _past(drawer, supply, each.lot, day)) for each in taken]
    if short:
        parts.append(Taken(lot, short, _past(drawer, supply, lot, day), beyond=True))
    for part in parts:
        drawer.add(supply, part.lot, what, -part.steps, day)
    return [part._replace(steps=-part.steps) for part in parts]


def _past(drawer: Drawer, supply: int, lot: int | None, day: str) -> bool:
    return lot is not None and drawer.past_date(supply, lot, day)


def _count(drawer: Drawer, sheet: Sheet, row: int) -> list[Taken]:
    """Return what a count says of each lot, and book it there."""
    supply, lot, steps, day = (sheet.values[name][row] for name in ("supply", "lot", "quantity", "counted_on"))
    counted = [(lot, steps)]
    if lot is None:
        stock = drawer.lots_on(supply, day)
        there = [each for each in stock if each.steps] or stock
        counted = [(each.lot, each.steps) for each in spread_count(steps, there)]
    for each, found in counted:
        drawer.add(supply, each, "count", found, day)
    return [Taken(each, found) for each, found in counted]


def _doubts(sheet: Sheet, row: int, parts: list[Taken]) -> list[tuple[int, int, str, str]]:
    """Mark what goes beyond the lot or past its date; returns (row, part, value, rule) of what is to be written."""
    found = []
    for place, part in enumerate(parts):
        for wrong, rule in ((part.beyond, BEYOND), (part.past_date and not part.beyond, PAST_DATE)):
            if wrong:
                value = sheet.table.cell("quantity", row)
                sheet.doubt(row, "quantity" if part.beyond else "lot", rule, value if part.beyond else None)
                found.append((row, place, value, rule))
    return found


def _write(
    state: State,
    sheet: Sheet,
    rows: Sequence[tuple[int, int | None, list[Taken]]],
    marks: list[tuple[int, int, str, str]],
) -> None:
    """Gather the movements; the parts of one row are one group, and its key goes to the first of them."""
    written: list[tuple[Any, ...]] = []
    first_of: dict[int, int] = {}
    keys = fresh_keys(state, sheet, [row for row, _, _ in rows], "movement")
    unit = measures(state).unit
    for (row, service, parts), key in zip(rows, keys, strict=True):
        first_of[row] = len(written)
        group = str(uuid4()) if len(parts) > 1 or (sheet.values["lot"][row] is None and parts) else None
        cells = _cells(sheet, row, service, unit)
        for place, part in enumerate(parts):
            own = {"lot_id": part.lot, "steps": part.steps, "used_past_date": int(part.past_date)}
            line = {**cells, **own, "group_key": group, "key": None if place else key}
            written.append(tuple(line[name] for name in _COLUMNS))
    refs = state.append("movement", _COLUMNS, written)
    for row, place in first_of.items():
        if place < len(refs):
            sheet.refs[row] = refs[place]
    for row, place, value, rule in marks:
        state.marks.append(Mark("movement", refs[first_of[row] + place], "steps", value, rule))


def _cells(sheet: Sheet, row: int, service: int | None, unit: Any) -> dict[str, Any]:
    """Return what all parts of a row have in common."""
    said = {name: cells[row] for name, cells in sheet.values.items() if cells}
    return {
        "supply_id": said["supply"],
        "kind": said.get("what", "count"),
        "entered": said["typed"],
        "entered_in": unit(said["supply"]),
        "occurred_on": said.get("used_on") or said.get("counted_on"),
        "basis": said.get("basis") if "used_on" in said else "count",
        "planned": said.get("planned"),
        "service_id": service,
        "procedure_id": said.get("procedure"),
        "unit_id": said.get("tag"),
        "reason": said.get("reason"),
    }
