"""What left the drawer and what was counted: movements, taken from lots as the drawer takes them.

A use without a lot is taken from the lot that expires first, as the stock was on that day. A count without a lot is
the total of the supply, and is spread over its lots. Either makes one row in the folder whatever lots it touched.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any, NamedTuple
from uuid import uuid4

from collection.acts.bring_in.drawer import Drawer
from collection.acts.bring_in.lots import lots
from collection.acts.bring_in.match import Rule, conclude_events, fields_of, fresh_keys, match_events
from collection.acts.bring_in.prepare import book_sheet, joint, measures, read_quantity
from collection.acts.bring_in.services import services
from collection.acts.bring_in.sheet import NEW, REFUSED, Sheet
from collection.acts.bring_in.state import Mark, State
from collection.acts.counting import INFERRED, MEASURED, counted_spots
from collection.acts.movements import BEYOND, parts_of
from collection.analysis.take_order import take, usable
from collection.quantity import parse_day
from collection.views.folder.form import KEY
from collection.views.shelves import SupplyShelf

PAST_DATE = "was past its last usable day"
_NEVER = "reverse it and enter it anew"
USE = Rule(
    "movement",
    fields_of("supply", "lot", "quantity", "used_on", "tag", "procedure", "basis", "planned", "what", "reason"),
    corrected=_NEVER,
)
COUNT = Rule("movement", fields_of("supply", "lot", "counted_on", "quantity"), corrected=_NEVER)
_COLUMNS = (
    "key", "supply_id", "lot_id", "location_id", "kind", "steps", "entered", "entered_in", "occurred_on", "basis",
    "planned", "service_id", "procedure_id", "unit_id", "reason", "group_key", "used_past_date",
)  # fmt: skip


class Part(NamedTuple):
    """What falls on one lot at one place, in the movement's own sign; inferred: from a count of the whole supply."""

    lot: int | None
    place: int | None
    steps: int
    inferred: bool = False
    past_date: bool = False
    beyond: bool = False


class Move(NamedTuple):
    """A new row of uses.csv or counts.csv, with the key it brings and the service it is tied to."""

    day: str
    sheet: Sheet
    row: int
    key: str | None
    service: int | None


def plan_uses(state: State, sheet: Sheet) -> None:
    """Uses, discards, returns and shortages as whole rows."""
    stored = book_sheet(state, "uses.csv")
    for each in (sheet, stored):
        _prepare(state, each)
        each.values["what"] = [what or "use" for what in each.values["what"]]
    _check(sheet)
    match_events(sheet, stored, [each.column for each in USE.fields], ("lot",))
    fresh = conclude_events(state, sheet, stored, USE)
    _gather(state, sheet, "used_on", fresh, services(state).ties(sheet, fresh))


def plan_counts(state: State, sheet: Sheet) -> None:
    """Counts as whole rows; one without a lot is the total of the supply."""
    stored = book_sheet(state, "counts.csv")
    for each in (sheet, stored):
        _prepare(state, each)
    match_events(sheet, stored, [each.column for each in COUNT.fields], ("lot",))
    fresh = conclude_events(state, sheet, stored, COUNT)
    _gather(state, sheet, "counted_on", fresh, [None] * len(fresh))


def _gather(state: State, sheet: Sheet, day: str, fresh: list[int], ties: list[int | None]) -> None:
    """Keep new rows until all movements of the folder are known."""
    keys, days = fresh_keys(state, sheet, fresh, "movement"), sheet.values[day]
    moves = [Move(days[row], sheet, row, key, tie) for row, key, tie in zip(fresh, keys, ties, strict=True)]
    state.shared.setdefault("moves", []).extend(moves)


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


def settle_drawer(state: State) -> None:
    """Take uses from their lots and spread counts over theirs, in the order in which they happened."""
    moves: list[Move] = [move for move in state.shared.get("moves", ()) if move.sheet.kinds[move.row] == NEW]
    if not moves or any(REFUSED in sheet.kinds for sheet in state.shared["sheets"]):
        return  # with a refused supply or lot there is no telling, and nothing will be written
    drawer = Drawer(state)
    taken: list[tuple[Move, list[Part]]] = []
    for move in _as_happened(moves):
        shelf = drawer.shelf(move.sheet.values["supply"][move.row])
        taken.append((move, list(_parts(shelf, move.sheet, move.row))))
        for part in taken[-1][1]:
            shelf.shelf.add(part.lot, part.place, _kind(move), part.steps, move.day)
    _write(state, taken)


def _as_happened(moves: list[Move]) -> list[Move]:
    """Return moves by day; inside a day uses come before counts, each in the order of rows.

    Where the keys of all that a supply has on a day tell when they were written, that is their order.
    """
    days = [(move.day, move.sheet.values["supply"][move.row]) for move in moves]
    written = [_written_at(move.sheet.values[KEY][move.row]) for move in moves]
    untold = {day for day, at in zip(days, written, strict=True) if not at}
    keyed = zip(days, written, moves, strict=True)
    ordered = sorted(keyed, key=lambda one: (one[0][0], "" if one[0] in untold else one[1]))
    return [move for _, _, move in ordered]


def _written_at(key: str | None) -> str:
    """Return the milliseconds, in hexadecimal, that a key of version 7 begins with (RFC 9562, 5.7), else nothing."""
    return key[:13] if key is not None and key[14] == "7" else ""


def _kind(move: Move) -> str:
    return str(move.sheet.values["what"][move.row]) if "what" in move.sheet.values else "count"


def _parts(shelf: SupplyShelf, sheet: Sheet, row: int) -> Iterator[Part]:
    """Yield what a row does to each lot and place."""
    lot, steps = sheet.values["lot"][row], sheet.values["quantity"][row]
    if "what" not in sheet.values:
        for spot in counted_spots(shelf, steps, parse_day(sheet.values["counted_on"][row]), lot):
            yield Part(*spot.spot, spot.steps, spot.inferred)
        return
    if sheet.values["what"][row] == "short":
        yield Part(lot, None, steps)
        return
    day = parse_day(sheet.values["used_on"][row])
    there = [each for each in shelf.lots_on(day.text) if lot is None or each.id == lot]
    past: set[int | None] = set()
    if sheet.values["what"][row] == "use":
        taken, short = take(there, steps, day.first, expired_too=True)
        past = {each.id for each in there if not usable(each, day.first)}
    else:  # what is thrown away or sent back is what passed its date first, and is none the worse for it
        taken, short = take(there, steps, date.min)
    for part in parts_of(shelf, day, taken, lot, short):
        yield Part(part.lot, part.place, -part.steps, past_date=part.lot in past, beyond=part.beyond)


def _write(state: State, moves: list[tuple[Move, list[Part]]]) -> None:
    """Gather the movements; the parts of one row are one group, and its key goes to the first of them."""
    written: list[tuple[Any, ...]] = []
    places: list[int] = []
    for move, parts in moves:
        places.append(len(written))
        cells = _cells(state, move)
        group = str(uuid4()) if len(parts) > 1 or move.sheet.values["lot"][move.row] is None else None
        for number, part in enumerate(parts):
            own = {"lot_id": part.lot, "location_id": part.place, "steps": part.steps, "group_key": group}
            line = {**cells, **own, "used_past_date": int(part.past_date), "key": None if number else move.key}
            if _kind(move) == "count":
                line["basis"] = INFERRED if part.inferred else MEASURED
            written.append(tuple(line[name] for name in _COLUMNS))
    refs = state.append("movement", _COLUMNS, written)
    for (move, parts), first in zip(moves, places, strict=True):
        for number, part in enumerate(parts):
            _doubt(state, move, part, refs[first + number])
        move.sheet.refs[move.row] = refs[first]


def _doubt(state: State, move: Move, part: Part, ref: int) -> None:
    """Mark what goes beyond the lot or past its date."""
    if not part.beyond and not part.past_date:
        return
    column, rule = ("quantity", BEYOND) if part.beyond else ("lot", PAST_DATE)
    told = move.sheet.remarks.get(move.row, ())
    if not any(remark.rule == rule for remark in told):
        move.sheet.doubt(move.row, column, rule)
    state.marks.append(Mark("movement", ref, "quantity", move.sheet.table.cell("quantity", move.row), rule))


def _cells(state: State, move: Move) -> dict[str, Any]:
    """Return what all parts of a row have in common."""
    said = {name: cells[move.row] for name, cells in move.sheet.values.items() if cells}
    return {
        "supply_id": said["supply"],
        "kind": _kind(move),
        "entered": said["typed"],
        "entered_in": measures(state).unit(said["supply"]),
        "occurred_on": move.day,
        "basis": said.get("basis"),
        "planned": said.get("planned"),
        "service_id": move.service,
        "procedure_id": said.get("procedure"),
        "unit_id": said.get("tag"),
        "reason": said.get("reason"),
    }
