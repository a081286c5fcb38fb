"""Orders: placing one, the day its supplier names, cancelling what is still to come, and what arrives of a line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from sqlalchemy.engine import Connection, Engine

from collection.acts.amounts import read_amount, sum_given
from collection.acts.days import day_ahead, day_given
from collection.acts.movements import name_given
from collection.acts.work import Work, open_work
from collection.analysis.offers import Offer, price_of, say_packs
from collection.errors import Refused, fold, typed
from collection.quantity import Day, Money, parse_day
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.orders import OrderLine, Supplier, find_supplier, offers, order_lines
from collection.views.supplies import Supply, find_supply, unknown

_MOST_PACKS = 10_000
_MOST_DAYS = 3650  # from order to arrival, as for a supplier's own word


class GivenLine(NamedTuple):
    """A line of an order as typed: packs, what one holds and costs; empty text where the offer tells."""

    supply: str
    packs: str
    pack: str = ""
    price: str = ""


class PlacedLine(NamedTuple):
    """A line of an order as placed. amount: in words, "" where nobody knows what a pack holds; price: of one pack."""

    supply: str
    packs: int
    amount: str
    price: Money | None


@dataclass(frozen=True, slots=True)
class Placed:
    """An order as placed. total: of all lines with shipping, None where a price is missing or currencies differ."""

    order: str
    supplier: str
    lines: tuple[PlacedLine, ...]
    total: Money | None
    shipping: Money | None
    notes: tuple[str, ...]


class Confirmed(NamedTuple):
    """The day that a supplier named for an order, and the one named before it ("": none)."""

    order: str
    supplier: str
    expected_on: str
    before: str


def place_order(
    engine: Engine,
    supplier: str,
    wanted: Sequence[GivenLine],
    *,
    name: str = "",
    on: str = "",
    today: date,
    now: datetime,
) -> Placed:
    """Book an order; its name is the supplier's and the day unless told.

    A line without a price takes that of the offer for so many packs. Raises Refused for unknown names, packs and sums
    that are none, a supply that stands twice, and where the supplier has it in packs of several sizes and none is told.
    """
    with open_work(engine, "order place", today=today, now=now) as work:
        seller, day = find_supplier(work.conn, supplier), day_given(on, today)
        order = _order_name(work.conn, name, f"{seller.name} {day.isoformat()}")
        known, currency = offers(work.conn), open_book(work.conn).settings.currency
        lines = [_read(work.conn, seller, known, currency, each) for each in wanted]
        _refuse_twice([line.supply for line in lines])
        notes = [note for line in lines for note in line.notes] + _waiting_notes(work.conn, lines)
        order_id = work.append(
            "purchase_order", name=order, name_folded=fold(order), supplier_id=seller.id, ordered_on=day.isoformat()
        )
        for line in lines:
            work.append(
                "order_line",
                order_id=order_id,
                supply_id=line.supply.id,
                packs=line.packs,
                pack_steps=line.pack_steps,
                price_minor=None if line.price is None else line.price.minor,
                currency=None if line.price is None else line.price.currency,
            )
        told = ", ".join(f'{line.packs} of "{line.supply.name}"' for line in lines)
        work.commit(f'placed order "{order}" with "{seller.name}": packs: {told}')
    total, shipping = _total(seller, lines)
    return Placed(order, seller.name, tuple(line.placed for line in lines), total, shipping, tuple(notes))


def confirm_order(engine: Engine, name: str, day: str, *, on: str = "", today: date, now: datetime) -> Confirmed:
    """Book that the supplier named the day on which what is still to come of an order will come.

    on: the day on which it said so. The newest one counts. Raises Refused for an unknown order, one of which nothing
    is to come, a day that is not whole, and one before the order or before it was named.
    """
    with open_work(engine, "order confirm", today=today, now=now) as work:
        lines = lines_of(work.conn, name)
        line = next((line for line in lines if line.open_packs), None)
        if line is None:
            raise nothing_to_come(lines)
        told, expected = day_given(on, today), day_ahead(day, "DAY")
        refuse_before(line, parse_day(told.isoformat()))
        if expected < told:
            raise Refused(
                f'Order "{line.order}": {expected.isoformat()} is before {told.isoformat()}, the day it was named.',
                f"If it came, type: spindlebook order receive {typed(line.order)}; if it was named earlier, add --on"
                " DATE.",
            )
        if (expected - parse_day(line.ordered_on).first).days > _MOST_DAYS:
            raise Refused(
                f'Order "{line.order}": {expected.isoformat()} is more than {_MOST_DAYS} days after it was placed.',
                "Check the year.",
            )
        work.append("order_promise", order_id=line.order_id, told_on=told.isoformat(), expected_on=expected.isoformat())
        work.commit(f'order "{line.order}" is to come on {expected.isoformat()}, as "{line.supplier}" said')
    return Confirmed(line.order, line.supplier, expected.isoformat(), line.promised_on or "")


def cancel_order(
    engine: Engine, name: str, supplies: Sequence[str] = (), *, on: str = "", today: date, now: datetime
) -> list[OrderLine]:
    """Book that what is still to come of an order, or of some supplies of it, will not; returns the lines concerned."""
    with open_work(engine, "order cancel", today=today, now=now) as work:
        every = lines_of(work.conn, name)
        lines = [line for line in every if line.open_packs]
        day = day_given(on, today)
        if not lines:
            raise nothing_to_come(every)
        if supplies:
            lines = [open_line(work.conn, find_supply(work.conn, supply), name) for supply in supplies]
        refuse_before(lines[0], parse_day(day.isoformat()))
        for line in lines:
            work.append(
                "order_event", line_id=line.id, kind="cancelled", happened_on=day.isoformat(), packs=line.open_packs
            )
        work.commit(f'cancelled what was still to come of order "{lines[0].order}"')
    return lines


def open_line(conn: Connection, supply: Supply, order: str) -> OrderLine:
    """Return the line of an order that waits for a supply. Raises Refused, naming what the order waits for."""
    lines = lines_of(conn, order)
    for line in lines:
        if line.supply_id == supply.id and line.open_packs:
            return line
    closed = [line for line in lines if line.supply_id == supply.id]
    if closed:
        raise Refused(
            f'Order "{lines[0].order}" waits for no more "{supply.name}": {_became(closed)}.', _more(closed[0])
        )
    waiting = ", ".join(f'"{line.supply}"' for line in lines if line.open_packs) or "nothing"
    raise Refused(
        f'Order "{lines[0].order}" waits for no "{supply.name}"; it waits for: {waiting}.',
        f"If this came without an order, type: spindlebook supply receive {typed(supply.name)} QUANTITY",
    )


class Arrived(NamedTuple):
    """What came of a line: packs of those that were waited for; more: beyond what was ordered."""

    line: OrderLine
    packs: int
    more: bool

    @property
    def words(self) -> str:
        """What to say of it, with what is still to come."""
        line, still = self.line, self.line.open_packs
        rest = f" {still - self.packs} still to come." if self.packs < still else ""
        return f'Order "{line.order}": {self.packs} of {still} packs arrived.{rest}{self.beyond}'

    @property
    def beyond(self) -> str:
        """What to say where more came than was ordered, else nothing."""
        return f" That is more than was ordered ({say_packs(self.line.packs)})." if self.more else ""


def packs_in(line: OrderLine, steps: int) -> int:
    """Return how many of the packs that a line waits for an amount is; part of a pack counts as the pack.

    Where the pack's size is not known the whole line has come.
    """
    pack, still = line.pack_steps, line.open_packs
    return still if pack is None else min(still, -(-steps // pack))


def arrive(work: Work, line: OrderLine, steps: int, on: Day) -> Arrived:
    """Book that so many steps of an order's line arrived."""
    refuse_before(line, on)
    packs = packs_in(line, steps)
    work.append("order_event", line_id=line.id, kind="arrived", happened_on=on.text, packs=packs)
    more = line.pack_steps is not None and steps > line.open_packs * line.pack_steps
    return Arrived(line, packs, more)


def lines_of(conn: Connection, order: str) -> list[OrderLine]:
    """Return the lines of an order, whatever became of them. Raises Refused, naming the nearest three."""
    lines = order_lines(conn)
    found = [line for line in lines if line.order_folded == fold(order)]
    if not found:
        raise unknown("order", order, (line.order for line in lines), "spindlebook order list")
    return found


def nothing_to_come(lines: Sequence[OrderLine]) -> Refused:
    """Return the refusal to act on an order of which nothing is to come, saying what became of it."""
    return Refused(f'Nothing of order "{lines[0].order}" is still to come: {_became(lines)}.', _more(lines[0]))


def _became(lines: Sequence[OrderLine]) -> str:
    came = sorted({line.arrived_on for line in lines if line.arrived_on})
    ended = sorted({line.cancelled_on for line in lines if line.cancelled_on})
    says = [f"{what} on {', '.join(days)}" for what, days in (("it came", came), ("it was cancelled", ended)) if days]
    return " and ".join(says)


def _more(line: OrderLine) -> str:
    return f"If more came than was ordered, type: spindlebook supply receive {typed(line.supply)} QUANTITY"


def refuse_before(line: OrderLine, on: Day) -> None:
    """Refuse a day before the order was placed."""
    if on.last.isoformat() < line.ordered_on:
        raise Refused(f'Order "{line.order}" was placed on {line.ordered_on}; {on.text} is before that.', "Check --on.")


def _order_name(conn: Connection, told: str, usual: str) -> str:
    """Return the name of a new order. Raises Refused for one that is given."""
    sql = f"SELECT o.name_folded FROM purchase_order o WHERE {counts('o')}"
    taken = {row[0] for row in fetch(conn, sql)}
    if told:
        name = name_given("order", told)
        if fold(name) in taken:
            raise Refused(f'There is an order "{name}" already.', "Type another --name.")
        return name
    names = [usual, *(f"{usual}-{number}" for number in range(2, len(taken) + 3))]
    return next(name for name in names if fold(name) not in taken)


@dataclass(frozen=True, slots=True)
class _Line:
    supply: Supply
    packs: int
    pack_steps: int | None
    price: Money | None
    notes: tuple[str, ...]

    @property
    def placed(self) -> PlacedLine:
        amount = self.supply.show(self.packs * self.pack_steps) if self.pack_steps else ""
        return PlacedLine(self.supply.name, self.packs, amount, self.price)


def _read(
    conn: Connection, seller: Supplier, known: Mapping[int, Sequence[Offer]], currency: str, given: GivenLine
) -> _Line:
    """Read a line; what is not told is that of the supplier's offers."""
    supply, packs = find_supply(conn, given.supply), _packs(given.supply, given.packs)
    listed = [each for each in known.get(supply.id, ()) if each.supplier == seller.id]
    pack = _pack(seller, supply, listed, given.pack)
    of_pack = [each for each in listed if each.pack_steps == pack]
    offer = price_of(of_pack, packs, currency)
    if given.price:
        price: Money | None = sum_given("A price", given.price, currency)
    else:
        price = None if offer is None else Money(offer.price_minor, offer.currency)
    least = max((each.minimum_packs or 1 for each in of_pack), default=1)
    short = f'"{seller.name}" sells "{supply.name}" from {least} packs on; {packs} ordered.' if packs < least else ""
    return _Line(supply, packs, pack, price, (short,) if short else ())


def _pack(seller: Supplier, supply: Supply, listed: Sequence[Offer], told: str) -> int | None:
    """Return the steps in a pack: as told, else as offered; None where nobody offers it."""
    if told:
        return read_amount(supply, told).steps
    sizes = sorted({each.pack_steps for each in listed})
    if len(sizes) > 1:
        shown = " and ".join(supply.show(size) for size in sizes)
        raise Refused(
            f'"{seller.name}" sells "{supply.name}" in packs of {shown}.',
            f'Say which: "{supply.name}=2 of {supply.show(sizes[0])}".',
        )
    return sizes[0] if sizes else None


def _waiting_notes(conn: Connection, lines: Sequence[_Line]) -> list[str]:
    """Say which open orders bring the same."""
    wanted = {line.supply.id for line in lines}
    return [
        f'Order "{line.order}" waits for {say_packs(line.open_packs)} of "{line.supply}" already.'
        for line in order_lines(conn)
        if line.supply_id in wanted and line.open_packs
    ]


def _total(seller: Supplier, lines: Sequence[_Line]) -> tuple[Money | None, Money | None]:
    """Return what an order costs with shipping, and the shipping in it; None where that cannot be told."""
    prices = [(line.packs, line.price) for line in lines if line.price is not None]
    currencies = {price.currency for _, price in prices}
    if len(prices) < len(lines) or len(currencies) != 1:
        return None, None
    currency = currencies.pop()
    minor = sum(packs * price.minor for packs, price in prices)
    if not seller.shipping_minor or seller.currency not in (None, currency):
        return Money(minor, currency), None
    return Money(minor + seller.shipping_minor, currency), Money(seller.shipping_minor, currency)


def _packs(supply: str, text: str) -> int:
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text[:6]) <= _MOST_PACKS:
        told = f"{text} packs" if text else "No number of packs"
        raise Refused(f'{told} of "{supply}": whole packs, 1 to {_MOST_PACKS}.', f'Type "{supply}=2".')
    return int(text)


def _refuse_twice(supplies: Sequence[Supply]) -> None:
    seen = set()
    for supply in supplies:
        if supply.id in seen:
            raise Refused(f'"{supply.name}" stands twice in this order.', "Type each supply once.")
        seen.add(supply.id)
