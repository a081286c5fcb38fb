"""Receiving supplies: each receipt opens a lot, and may be what an order was waiting for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.amounts import Amount, price_given, read_amount
from collection.acts.booking import Booked, seal, shelf_named
from collection.acts.days import past_day
from collection.acts.movements import name_given, write_movement
from collection.acts.orders import arrive, open_line
from collection.acts.wanted import received_notes
from collection.acts.work import Work, open_work
from collection.analysis.shelf_life import parse_made
from collection.errors import Refused, fold
from collection.quantity import Day, Money, parse_day, show_number
from collection.schema.supplies import BASES
from collection.store.book import open_book
from collection.views.orders import OrderLine, find_supplier, offers, pack_of
from collection.views.places import find_location
from collection.views.shelves import SupplyShelf
from collection.views.supplies import LotRow, Supply

_MEASURED = BASES[1]
_MOST_LOTS = 100


@dataclass(frozen=True, slots=True)
class GivenLot:
    """What a person tells about a receipt; empty text stands for what was not said."""

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
        shelf = shelf_named(work.conn, name)
        receipt = _read(work, shelf.supply, given)
        notes = _count_notes(shelf, receipt.on) + _date_notes(given, receipt.on)
        names = _lot_names(shelf, given.lot, receipt)
        for lot, steps, price in _shares(receipt, names):
            _write(work, shelf, given, receipt, lot, steps, price)
        if receipt.line is not None:
            notes += arrive(work, receipt.line, receipt.amount.steps, receipt.on)
        notes += received_notes(work, shelf.supply.id)
        words = ", ".join(f'"{lot}"' for lot in names)
        did = f'received {shelf.supply.show(receipt.amount.steps)} of "{shelf.supply.name}" as lot {words}'
        return seal(work, shelf, did, notes)


def _read(work: Work, supply: Supply, given: GivenLot) -> _Receipt:
    on = parse_day(past_day(given.on, work.today, "--on"))
    line = open_line(work.conn, supply, given.order) if given.order else None
    supplier_id = find_supplier(work.conn, given.supplier).id if given.supplier else None
    if line is not None:
        supplier_id = _same_supplier(line, supplier_id, given.supplier)
    pack = line.pack_steps if line is not None else None
    pack = pack or pack_of(offers(work.conn).get(supply.id, []), supplier_id)
    price = None
    if given.price:
        price = _price(given, open_book(work.conn).settings.currency)
    place = find_location(work.conn, given.location)[0] if given.location else None
    return _Receipt(_amount(supply, given, line, pack), on, price, supplier_id, place, line, pack)


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


def _price(given: GivenLot, currency: str) -> Money:
    return price_given("A price", given.price, (given.currency or currency).strip().upper())


def _date_notes(given: GivenLot, on: Day) -> list[str]:
    """Refuse days of making and expiry that are none; say when a lot arrives past its date."""
    if given.made and _first_day_made(given.made) > on.last:
        raise Refused(
            f"Made {given.made}, but received {on.text}: nothing arrives before it is made.",
            'Type --made as on the label: "3/94" or 1994-09.',
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
    return [f"{says} spindlebook supply count {name} QUANTITY"]


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
        f'"{supply.name}" has a lot "{lot}" already; every receipt is a lot of its own.', "Type another --lot."
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
) -> None:
    """Write one lot and its receipt."""
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
