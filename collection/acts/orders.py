"""Orders: placing one, cancelling what is still to come, and what arrives; suppliers and what they offer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.amounts import price_given, read_amount
from collection.acts.booking import day_of
from collection.acts.days import day_given
from collection.acts.movements import name_given
from collection.acts.work import Work, open_work
from collection.errors import Refused, fold
from collection.quantity import Day, minor_digits
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.orders import OrderLine, find_supplier, offers, order_lines, pack_of
from collection.views.supplies import Supply, find_supply, unknown

_MOST_PACKS = 10_000


@dataclass(frozen=True, slots=True)
class Placed:
    """An order as placed: (supply, packs, amount in words or "") per line."""

    order: str
    supplier: str
    lines: tuple[tuple[str, int, str], ...]


def place_order(
    engine: Engine,
    supplier: str,
    wanted: Sequence[tuple[str, str]],
    *,
    name: str = "",
    on: str = "",
    today: date,
    now: datetime,
) -> Placed:
    """Book an order of (supply, packs) lines; its name is the supplier's and the day unless told."""
    with open_work(engine, "order place", today=today, now=now) as work:
        seller, day = find_supplier(work.conn, supplier), day_given(on, today)
        order = _order_name(work.conn, name, f"{seller.name} {day.isoformat()}")
        lines = [(find_supply(work.conn, supply), _packs(supply, packs)) for supply, packs in wanted]
        _refuse_twice([supply for supply, _ in lines])
        order_id = work.append(
            "purchase_order", name=order, name_folded=fold(order), supplier_id=seller.id, ordered_on=day.isoformat()
        )
        known, placed = offers(work.conn), []
        for supply, packs in lines:
            pack = pack_of(known.get(supply.id, []), seller.id)
            work.append("order_line", order_id=order_id, supply_id=supply.id, packs=packs, pack_steps=pack)
            placed.append((supply.name, packs, supply.show(packs * pack) if pack else ""))
        told = ", ".join(f'{packs} of "{each}"' for each, packs, _ in placed)
        work.commit(f'placed order "{order}" with "{seller.name}": packs: {told}')
    return Placed(order, seller.name, tuple(placed))


def cancel_order(engine: Engine, name: str, *, on: str = "", today: date, now: datetime) -> list[OrderLine]:
    """Book that what is still to come of an order will not come; returns the lines concerned."""
    with open_work(engine, "order cancel", today=today, now=now) as work:
        lines = [line for line in _lines_of(work.conn, name) if line.open_packs]
        day = day_given(on, today)
        if not lines:
            raise Refused(f'Nothing of order "{name}" is still to come.', "Type: spindlebook order list")
        _refuse_before(lines[0], day_of(day))
        for line in lines:
            work.append(
                "order_event", line_id=line.id, kind="cancelled", happened_on=day.isoformat(), packs=line.open_packs
            )
        work.commit(f'cancelled what was still to come of order "{lines[0].order}"')
    return lines


def open_line(conn: Connection, supply: Supply, order: str) -> OrderLine:
    """Return the line of an order that waits for a supply. Raises Refused, naming what the order waits for."""
    lines = _lines_of(conn, order)
    for line in lines:
        if line.supply_id == supply.id and line.open_packs:
            return line
    waiting = ", ".join(f'"{line.supply}"' for line in lines if line.open_packs) or "nothing"
    raise Refused(
        f'Order "{lines[0].order}" waits for no "{supply.name}"; it waits for: {waiting}.',
        "Leave --order out if this came without an order.",
    )


def arrive(work: Work, line: OrderLine, steps: int, on: Day) -> list[str]:
    """Book that packs of an order's line arrived; returns what to say of it.

    A part of a pack counts as the pack; where the pack's size is not known the whole line has arrived.
    """
    _refuse_before(line, on)
    pack, still = line.pack_steps, line.open_packs
    packs = still if pack is None else min(still, -(-steps // pack))
    work.append("order_event", line_id=line.id, kind="arrived", happened_on=on.text, packs=packs)
    notes = [f'Order "{line.order}": {packs} of {still} packs arrived.']
    if packs < still:
        notes.append(f"{still - packs} still to come.")
    elif pack is not None and steps > still * pack:
        notes.append(f"That is more than was ordered ({line.packs} packs).")
    return [" ".join(notes)]


def _lines_of(conn: Connection, order: str) -> list[OrderLine]:
    lines = order_lines(conn)
    found = [line for line in lines if line.order_folded == fold(order)]
    if not found:
        raise unknown("order", order, (line.order for line in lines), "spindlebook order list")
    return found


def _refuse_before(line: OrderLine, on: Day) -> None:
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


def _packs(supply: str, text: str) -> int:
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text[:6]) <= _MOST_PACKS:
        raise Refused(f'{text} packs of "{supply}": whole packs, 1 to {_MOST_PACKS}.', f'Type "{supply}=2".')
    return int(text)


def _refuse_twice(supplies: Sequence[Supply]) -> None:
    seen = set()
    for supply in supplies:
        if supply.id in seen:
            raise Refused(f'"{supply.name}" stands twice in this order.', "Type each supply once.")
        seen.add(supply.id)


# --- suppliers and offers ----------------------------------------------------------------------------------


def add_supplier(
    engine: Engine,
    name: str,
    *,
    lead_days: int | None = None,
    shipping: str = "",
    currency: str = "",
    today: date,
    now: datetime,
) -> str:
    """Add a supplier; returns its name. Raises Refused for a name that is given."""
    with open_work(engine, "order supplier", today=today, now=now) as work:
        bare = name_given("supplier", name)
        sql = "SELECT name FROM supplier WHERE name_folded = :name AND void = 0"
        if fetch(work.conn, sql, name=fold(bare)):
            raise Refused(f'There is a supplier "{bare}" already.', "Type: spindlebook order list")
        money = price_given("Shipping", shipping, _currency(work.conn, currency)) if shipping else None
        work.insert(
            "supplier",
            name=bare,
            name_folded=fold(bare),
            lead_days=lead_days,
            shipping_minor=None if money is None else money.minor,
            currency=_currency(work.conn, currency) if shipping or currency else None,
        )
        work.commit(f'added the supplier "{bare}"')
    return bare


def add_offer(
    engine: Engine,
    supplier: str,
    supply: str,
    pack: str,
    price: str,
    *,
    currency: str = "",
    from_packs: int = 1,
    minimum_packs: int | None = None,
    lead_days: int | None = None,
    today: date,
    now: datetime,
) -> str:
    """Add what a supplier asks for one pack of a supply, from so many packs on; returns it in words."""
    with open_work(engine, "order offer", today=today, now=now) as work:
        seller, wanted = find_supplier(work.conn, supplier), find_supply(work.conn, supply)
        amount = read_amount(wanted, pack)
        money = price_given("A price", price, _currency(work.conn, currency))
        work.insert(
            "offer",
            supplier_id=seller.id,
            supply_id=wanted.id,
            pack_steps=amount.steps,
            entered=f"{amount.entered} {amount.entered_in}",
            price_minor=money.minor,
            currency=money.currency,
            from_packs=from_packs,
            minimum_packs=minimum_packs,
            lead_days=lead_days,
        )
        did = f'"{seller.name}" offers {wanted.show(amount.steps)} of "{wanted.name}" for {money.text} {money.currency}'
        work.commit(did)
    return did


def _currency(conn: Connection, told: str) -> str:
    currency = told.strip().upper() or open_book(conn).settings.currency
    minor_digits(currency)  # refuses what is no code
    return currency
