"""Taking supplies off the shelf or to another place: discard, return, move, repack."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.amounts import read_amount
from collection.acts.booking import (
    Booked,
    count_notes,
    day_of,
    nothing_left,
    one_lot,
    seal,
    shelf_named,
    whole_or,
)
from collection.acts.days import day_given
from collection.acts.lot_inspections import note_again
from collection.acts.movements import Part, name_given, parts_of, reason_given, write_movement, write_out
from collection.acts.texts import refuse_texts
from collection.acts.work import Work, open_work
from collection.analysis.take_order import Lot, Taken, take_order
from collection.errors import Refused, fold, typed
from collection.quantity import Day, parse_day
from collection.schema.supplies import BASES
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.places import find_location
from collection.views.shelves import SupplyShelf
from collection.views.supplies import LotRow, pick_lot

_MEASURED = BASES[1]


def discard_supply(
    engine: Engine,
    name: str,
    quantity: str = "",
    *,
    reason: str,
    lot: str = "",
    on: str = "",
    today: date,
    now: datetime,
) -> Booked:
    """Book that some of a lot, or all of it, was thrown away, and why."""
    why = reason_given(reason, "dried out")
    with open_work(engine, "supply discard", today=today, now=now, reason=why) as work:
        return _take_away(work, "discard", "discarded", name, quantity, lot, on, {"reason": why})


def return_supply(
    engine: Engine,
    name: str,
    quantity: str = "",
    *,
    reason: str = "",
    lot: str = "",
    on: str = "",
    today: date,
    now: datetime,
) -> Booked:
    """Book that some of a lot, or all of it, went back to its supplier; the row is tied to its receipt."""
    refuse_texts(reason=reason)
    with open_work(engine, "supply return", today=today, now=now, reason=reason or None) as work:
        return _take_away(work, "return", "returned", name, quantity, lot, on, {"reason": reason or None})


def _take_away(
    work: Work, kind: str, word: str, name: str, quantity: str, lot: str, on: str, more: dict[str, object]
) -> Booked:
    day = day_of(day_given(on, work.today))
    shelf = shelf_named(work.conn, name)
    chosen = one_lot(shelf, lot, day)
    amount = whole_or(shelf, chosen, quantity)
    if kind == "return":
        more = more | _receipt(work.conn, shelf, chosen)
    notes = count_notes(shelf, day, work.today)
    there = min(amount.steps, max(0, chosen.steps))
    parts = list(parts_of(shelf, day, [Taken(chosen.id, there)], chosen.id, amount.steps - there))
    for part in parts:
        write_out(work, shelf, kind, part, day, basis=_MEASURED, typed=amount.typed, **more)
    show, lot_name = shelf.supply.show, shelf.name_of(chosen.id)
    if there < amount.steps:
        notes.append(
            f'{show(amount.steps - there)} more than lot "{lot_name}" had: booked all the same and marked as doubtful.'
        )
    return seal(work, shelf, f'{word} {show(amount.steps)} of "{shelf.supply.name}", lot "{lot_name}"', notes)


def _receipt(conn: Connection, shelf: SupplyShelf, lot: Lot) -> dict[str, object]:
    """Return the columns that tie a return to the row with which its lot was received."""
    rows = fetch(
        conn,
        f"SELECT m.key, m.order_line_id FROM movement m WHERE m.lot_id = :lot AND m.kind = 'receive' AND {counts('m')}"
        f" AND NOT EXISTS (SELECT 1 FROM movement r WHERE r.reverses_id = m.id AND {counts('r')}) ORDER BY m.id",
        lot=lot.id,
    )
    if not rows:
        raise Refused(
            f'Lot "{shelf.name_of(lot.id)}" of "{shelf.supply.name}" was never received, so it cannot go back.',
            'Name the lot it was filled from, or type: spindlebook supply discard --reason "sent back"',
        )
    return {"group_key": rows[0][0], "order_line_id": rows[0][1]}


# --- to another place --------------------------------------------------------------------------------------


def move_supply(
    engine: Engine,
    name: str,
    to: str,
    quantity: str = "",
    *,
    lot: str = "",
    on: str = "",
    today: date,
    now: datetime,
) -> Booked:
    """Book that a supply, all of it or so much, was put into another location, in the order of use."""
    with open_work(engine, "supply move", today=today, now=now) as work:
        day = day_of(day_given(on, today))
        shelf = shelf_named(work.conn, name)
        place, place_name = find_location(work.conn, to)
        wanted = pick_lot(shelf.supply, list(shelf.lots.values()), lot).id if lot else None
        elsewhere = list(_elsewhere(shelf, day, place, wanted, everything=not lot))
        there = sum(part.steps for part in elsewhere)
        steps = read_amount(shelf.supply, quantity).steps if quantity else there
        _refuse_more(shelf, steps, there, f'elsewhere than "{place_name}"')
        for part in _first(elsewhere, steps):
            _pair(work, shelf, "move", part, day, (part.lot, place))
        did = f'moved {shelf.supply.show(steps)} of "{shelf.supply.name}" to "{place_name}"'
        return seal(work, shelf, did, count_notes(shelf, day, work.today))


def _elsewhere(shelf: SupplyShelf, on: Day, place: int, wanted: int | None, *, everything: bool) -> Iterator[Part]:
    """Yield what can be moved to a place, in take order: from a wanted lot or from every one."""
    lots = [lot for lot in take_order(shelf.lots_on(on.text)) if everything or lot.id == wanted]
    spots = shelf.spots(shelf.shelf.available(on.text))
    for lot in lots:
        for (spot_lot, spot_place), steps in spots:
            if spot_lot == lot.id and spot_place != place and steps > 0:
                yield Part(lot.id, spot_place, steps, beyond=False)


def _first(parts: list[Part], steps: int) -> Iterator[Part]:
    """Yield so many steps from the front of the parts."""
    left = steps
    for part in parts:
        if left > 0:
            yield part._replace(steps=min(left, part.steps))
            left -= part.steps


def _pair(work: Work, shelf: SupplyShelf, kind: str, part: Part, on: Day, to: tuple[int | None, int | None]) -> None:
    """Write the two rows of a move or a repack, which sum to zero."""
    group = work.keys.one()
    write_out(work, shelf, kind, part, on, group_key=group)
    write_movement(work, shelf, kind, part.steps, on, lot_id=to[0], location_id=to[1], group_key=group)


def _refuse_more(shelf: SupplyShelf, steps: int, there: int, where: str) -> None:
    supply = shelf.supply
    if there <= 0 and not any(lot.steps > 0 for lot in shelf.lots_held()):
        raise nothing_left(shelf, "")
    if steps > there or there <= 0:
        raise Refused(
            f'{supply.show(steps)} of "{supply.name}": the book has {supply.show(there)} {where}.',
            f"Type less, or count first: spindlebook supply count {typed(supply.name)} QUANTITY",
        )


# --- into another lot --------------------------------------------------------------------------------------


def repack_supply(
    engine: Engine,
    name: str,
    quantity: str,
    *,
    into: str,
    lot: str = "",
    on: str = "",
    today: date,
    now: datetime,
) -> Booked:
    """Book that some of a lot was filled into a lot of its own, which keeps its age and its worth."""
    with open_work(engine, "supply repack", today=today, now=now) as work:
        day = day_of(day_given(on, today))
        shelf = shelf_named(work.conn, name)
        source = one_lot(shelf, lot, day)
        amount = read_amount(shelf.supply, quantity)
        part = _one_place(shelf, source, day, amount.steps)
        made = _new_lot(work, shelf, source, into)
        _pair(work, shelf, "repack", part, day, (made.id, part.place))
        if source.opened_on is not None:
            write_movement(work, shelf, "open", 0, parse_day(source.opened_on), lot_id=made.id)
        old = shelf.name_of(source.id)
        did = (
            f'repacked {shelf.supply.show(amount.steps)} of "{shelf.supply.name}"'
            f' from lot "{old}" into lot "{made.name}"'
        )
        return seal(work, shelf, did, count_notes(shelf, day, work.today))


def _one_place(shelf: SupplyShelf, lot: Lot, on: Day, steps: int) -> Part:
    """Return where a lot has so much in one place; one repack is one pair of rows."""
    spots = [item for item in shelf.spots(shelf.shelf.available(on.text)) if item[0][0] == lot.id]
    for (_, place), there in spots:
        if there >= steps:
            return Part(lot.id, place, steps, beyond=False)
    _refuse_more(shelf, steps, lot.steps, f'in lot "{shelf.name_of(lot.id)}"')
    raise Refused(
        f'Lot "{shelf.name_of(lot.id)}" stands in several places, none of which has {shelf.supply.show(steps)}.',
        f"Bring it together first: spindlebook supply move {typed(shelf.supply.name)} LOCATION",
    )


def _new_lot(work: Work, shelf: SupplyShelf, source: Lot, name: str) -> LotRow:
    """Write the lot that a repack opens, as old and as inspected as its source; its worth follows from the rows."""
    bare = name_given("lot", name)
    if any(fold(lot.name) == fold(bare) for lot in shelf.lots.values()):
        raise Refused(
            f'"{shelf.supply.name}" has a lot "{bare}" already; a repack opens a new one.', "Type another name."
        )
    assert source.id is not None  # noqa: S101  one_lot gives a known lot
    old = shelf.lots[source.id]
    made = old._replace(id=0, name=bare, price_minor=None, currency=None)
    values = made._asdict() | {"name_folded": fold(bare)}
    del values["id"]
    made = made._replace(id=work.insert("lot", **values))
    shelf.lots[made.id] = made
    note_again(work, shelf, old.id, made.id)
    return made
