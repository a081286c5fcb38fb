"""Receiving supplies: each receipt opens a lot, and may be what an order was waiting for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from sqlalchemy.engine import Connection, Engine

from collection.acts.amounts import Amount, currency_given, price_given, read_amount, sum_given
from collection.acts.booking import Booked, seal, shelf_named
from collection.acts.days import past_day
from collection.acts.movements import name_given, write_movement
from collection.acts.orders import Arrived, arrive, open_line, packs_in
from collection.acts.wanted import received_notes
from collection.acts.work import Work, open_work
from collection.analysis.offers import say_packs
from collection.analysis.shelf_life import parse_made
from collection.errors import Refused, fold, typed
from collection.quantity import Day, Money, parse_day, show_number
from collection.schema.supplies import BASES
from collection.store.book import open_book
from collection.views.orders import OrderLine, find_supplier, offers, order_lines, pack_of
from collection.views.places import find_location
from collection.views.shelves import SupplyShelf
from collection.views.supplies import LotRow, Supply

_MEASURED = BASES[1]
_MOST_LOTS = 100


@dataclass(frozen=True, slots=True)
class GivenLot:
    """What a person tells about a receipt; empty text stands for what was not said.

    price: of the whole lot; pack_price: of one pack of the order's line, where it is not the one it was ordered at.
    """

    quantity: str = ""
    lot: str = ""
    price: str = ""
    currency: str = ""
    supplier: str = ""
    expires_on: str = ""
    made: str = ""
    order: str = ""
    location: str = ""
    on: str = ""
    pack_price: str = ""


class Received(NamedTuple):
    """A receipt as booked: how many steps, in which lots, of which packs of an order, and what is to be said of it."""

    shelf: SupplyShelf
    steps: int
    lots: tuple[int, ...]
    arrived: Arrived | None
    notes: tuple[str, ...]

    @property
    def names(self) -> str:
        """The names of its lots."""
        return ", ".join(f'"{self.shelf.name_of(lot)}"' for lot in self.lots)


@dataclass(frozen=True, slots=True)
class _Receipt:
    """A receipt as it will be booked: one lot, or one a pack."""

    amount: Amount
    on: Day
    price: Money | None
    supplier_id: int | None
    place: int | None
    line: OrderLine | None
    pack_steps: int | None


def receive_supply(engine: Engine, name: str, given: GivenLot, *, today: date, now: datetime) -> Booked:
    """Book what came in as a new lot; a supply tracked by the pack gets one lot a pack.

    Without a quantity it is all that the order's line still waits for. Raises Refused for unknown names, a lot name
    that is given, days and money of no form, and a quantity that is no amount of the supply.
    """
    with open_work(engine, "supply receive", today=today, now=now) as work:
        got = receive_lot(work, name, given)
        notes = list(got.notes)
        if got.arrived is not None:
            notes.append(got.arrived.words)
        else:
            notes += _no_order_notes(work.conn, got, given)
        notes += received_notes(work, got.shelf.supply.id)
        did = f'received {got.shelf.supply.show(got.steps)} of "{got.shelf.supply.name}" as lot {got.names}'
        return seal(work, got.shelf, did, notes)


def receive_lot(work: Work, name: str, given: GivenLot) -> Received:
    """Write what came in within an act, as `receive_supply` says, and what it was of an order's line."""
    shelf = shelf_named(work.conn, name)
    receipt = _read(work, shelf.supply, given)
    notes = _count_notes(shelf, receipt.on) + _date_notes(given, receipt.on)
    names = _lot_names(shelf, given.lot, receipt)
    lots = [_write(work, shelf, given, receipt, *share) for share in _shares(receipt, names)]
    arrived = None if receipt.line is None else arrive(work, receipt.line, receipt.amount.steps, receipt.on)
    return Received(shelf, receipt.amount.steps, tuple(lots), arrived, tuple(notes))


def _no_order_notes(conn: Connection, got: Received, given: GivenLot) -> list[str]:
    """Say which orders wait for what came without one, and what came just so on the same day."""
    supply, first = got.shelf.supply, got.shelf.lots[got.lots[0]]
    notes = [
        f'Order "{line.order}" waits for {say_packs(line.open_packs)} of it. If this is what came, type: spindlebook'
        f" undo, then: spindlebook order receive {typed(line.order)}"
        for line in order_lines(conn)
        if line.supply_id == supply.id and line.open_packs and line.ordered_on <= first.received_on
    ]
    same = [
        lot.name
        for lot in got.shelf.lots.values()
        if lot.id not in got.lots and lot.received_on == first.received_on and not given.lot
        and (lot.made, lot.expires_on) == (first.made, first.expires_on)
    ]  # fmt: skip
    if same:
        notes.append(f'Lot "{same[-1]}" came on the same day. If this is the same one, type: spindlebook undo')
    return notes


def _read(work: Work, supply: Supply, given: GivenLot) -> _Receipt:
    on = parse_day(past_day(given.on, work.today, "--on"))
    line = open_line(work.conn, supply, given.order) if given.order else None
    supplier_id = find_supplier(work.conn, given.supplier).id if given.supplier else None
    if line is not None:
        supplier_id = _same_supplier(line, supplier_id, given.supplier)
    pack = line.pack_steps if line is not None else None
    pack = pack or pack_of(offers(work.conn).get(supply.id, []), supplier_id)
    amount = _amount(supply, given, line, pack)
    price = _price(work.conn, given, line, amount)
    place = find_location(work.conn, given.location)[0] if given.location else None
    return _Receipt(amount, on, price, supplier_id, place, line, pack)


def _amount(supply: Supply, given: GivenLot, line: OrderLine | None, pack: int | None) -> Amount:
    if given.quantity:
        return read_amount(supply, given.quantity, pack)
    if line is None:
        raise Refused(
            f'How much of "{supply.name}" came in was not said.', f'Type: supply receive "{supply.name}" QUANTITY'
        )
    return read_amount(supply, f"{line.open_packs} packs", pack)


def _same_supplier(line: OrderLine, told: int | None, name: str) -> int:
    if told not in (None, line.supplier_id):
        raise Refused(f'Order "{line.order}" went to "{line.supplier}", not to "{name}".', "Leave --supplier out.")
    return line.supplier_id


def _price(conn: Connection, given: GivenLot, line: OrderLine | None, amount: Amount) -> Money | None:
    """Return what the lot cost: as told, else what its packs were ordered at, without shipping."""
    currency = currency_given(given.currency, (line and line.currency) or open_book(conn).settings.currency)
    if given.price:
        return price_given("A price", given.price, currency)
    if line is None or (line.price_minor is None and not given.pack_price):
        return None
    packs = packs_in(line, amount.steps)
    if given.pack_price:
        each = sum_given("A price", given.pack_price, currency)
        return Money(packs * each.minor, each.currency)
    return None if line.price_minor is None else Money(packs * line.price_minor, str(line.currency))


def _date_notes(given: GivenLot, on: Day) -> list[str]:
    """Refuse days of making and expiry that are none; say when a lot arrives past its date."""
    if given.made and _first_day_made(given.made) > on.last:
        raise Refused(
            f"Made {given.made}, but received {on.text}: nothing arrives before it is made.",
            'Type when it was made as on the label: "3/94" or 1994-09.',
        )
    if given.expires_on and parse_day(given.expires_on).last < on.first:
        return [f"It was past its date, {given.expires_on}, when it was received."]
    return []


def _first_day_made(made: str) -> date:
    """Return the first day of the quarter, month or day of making."""
    last = parse_made(made)
    if "/" in made:
        return date(last.year, last.month - 2, 1)
    return parse_day(made).first


def _count_notes(shelf: SupplyShelf, on: Day) -> list[str]:
    same, later = shelf.shelf.counted(on.text)
    day = later or (on.text if same else "")
    if not day:
        return []
    name = f'"{shelf.supply.name}"'
    says = f"{name} was counted on {day}. If the new lot stood on the shelf then, count again:"
    return [f"{says} spindlebook supply count {typed(shelf.supply.name)} QUANTITY"]


def _lot_names(shelf: SupplyShelf, told: str, receipt: _Receipt) -> list[str]:
    """Return the name of the new lot, by default its day, or of the new lots, one a pack."""
    number = _packs(shelf.supply, receipt)
    taken = {fold(lot.name) for lot in shelf.lots.values()}
    if told and number == 1:
        name = name_given("lot", told)
        if fold(name) in taken:
            raise _given(shelf.supply, name)
        return [name]
    stem, names, at = name_given("lot", told) if told else receipt.on.text, list[str](), 1
    while len(names) < number:
        name = stem if at == 1 and number == 1 else f"{stem}-{at}"
        at += 1
        if fold(name) not in taken:
            names.append(name)
        elif told:
            raise _given(shelf.supply, name)
    return names


def _given(supply: Supply, lot: str) -> Refused:
    return Refused(
        f'"{supply.name}" has a lot "{lot}" already; every receipt is a lot of its own.',
        f'Name it otherwise, as "{lot}-2".',
    )


def _packs(supply: Supply, receipt: _Receipt) -> int:
    """Return how many lots to write: one, or one a pack where a supply is tracked by the pack."""
    pack = receipt.pack_steps
    if supply.tracked != "pack" or pack is None or receipt.amount.steps % pack:
        return 1
    number = receipt.amount.steps // pack
    if number > _MOST_LOTS:
        raise Refused(
            f'{number} packs of "{supply.name}" would be {number} lots; {_MOST_LOTS} at once are taken.',
            "Receive them in several goes.",
        )
    return number


def _shares(receipt: _Receipt, names: Sequence[str]) -> list[tuple[str, int, int | None]]:
    """Return (lot, steps, price) for each lot; cents that cannot be shared go to the last."""
    number, steps = len(names), receipt.amount.steps // len(names)
    minor = None if receipt.price is None else receipt.price.minor
    each = None if minor is None else minor // number
    last = None if minor is None or each is None else minor - each * (number - 1)
    return [(name, steps, last if at == number else each) for at, name in enumerate(names, 1)]


def _write(
    work: Work, shelf: SupplyShelf, given: GivenLot, receipt: _Receipt, name: str, steps: int, price: int | None
) -> int:
    """Write one lot and its receipt; returns the lot's id."""
    values = {
        "supply_id": shelf.supply.id,
        "name": name,
        "received_on": receipt.on.text,
        "price_minor": price,
        "currency": receipt.price.currency if receipt.price is not None else None,
        "supplier_id": receipt.supplier_id,
        "made": given.made.strip() or None,
        "expires_on": parse_day(given.expires_on).text if given.expires_on else None,
        "note": None,
    }
    lot_id = work.insert("lot", name_folded=fold(name), **values)
    shelf.lots[lot_id] = LotRow(id=lot_id, **values)  # type: ignore[arg-type]  # the columns are its fields
    whole = steps == receipt.amount.steps
    write_movement(
        work,
        shelf,
        "receive",
        steps,
        receipt.on,
        lot_id=lot_id,
        location_id=receipt.place,
        order_line_id=None if receipt.line is None else receipt.line.id,
        basis=_MEASURED,
        typed=receipt.amount.typed if whole else (show_number(steps * shelf.supply.step), shelf.supply.measured_in),
    )
    return lot_id
