"""Suppliers, what they offer, and orders with what of them is still to come."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.offers import Offer
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.supplies import unknown


class Supplier(NamedTuple):
    """A supplier; lead_days from order to arrival, None if nobody knows."""

    id: int
    name: str
    lead_days: int | None
    shipping_minor: int | None
    currency: str | None


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One supply of an order, in packs.

    pack_steps: steps in a pack, None if it is not known. price_minor: of one pack, as it was ordered. promised_on: the
    day that the supplier named last, on the day told_on; None where none was named.
    """

    id: int
    order: str
    order_folded: str
    supplier_id: int
    supplier: str
    ordered_on: str
    supply_id: int
    supply: str
    packs: int
    order_id: int
    price_minor: int | None
    currency: str | None
    pack_steps: int | None
    arrived: int
    arrived_on: str | None
    cancelled_on: str | None
    promised_on: str | None
    told_on: str | None

    @property
    def open_packs(self) -> int:
        """The packs still to come."""
        return 0 if self.cancelled_on else max(0, self.packs - self.arrived)


_LINES_SQL = f"""
SELECT l.id, o.name, o.name_folded, o.supplier_id, p.name, o.ordered_on, l.supply_id, s.name, l.packs, l.order_id,
       l.price_minor, l.currency, l.pack_steps
FROM order_line l JOIN purchase_order o ON o.id = l.order_id JOIN supplier p ON p.id = o.supplier_id
JOIN supply s ON s.id = l.supply_id
WHERE {counts("l")} AND {counts("o")} ORDER BY o.ordered_on, l.id"""
_EVENTS_SQL = f"SELECT e.line_id, e.kind, e.happened_on, e.packs FROM order_event e WHERE {counts('e')} ORDER BY e.id"
_PROMISES_SQL = f"SELECT r.order_id, r.expected_on, r.told_on FROM order_promise r WHERE {counts('r')} ORDER BY r.id"
_OFFERS_SQL = """
SELECT id, supply_id, supplier_id, pack_steps, price_minor, currency, from_packs, minimum_packs, lead_days
FROM offer WHERE void = 0 ORDER BY id"""


def suppliers(conn: Connection) -> dict[int, Supplier]:
    """Return every supplier by id."""
    sql = "SELECT id, name, lead_days, shipping_minor, currency FROM supplier WHERE void = 0 ORDER BY name_folded"
    return {row[0]: Supplier(*row) for row in fetch(conn, sql)}


def find_supplier(conn: Connection, name: str) -> Supplier:
    """Return the supplier of this name. Raises Refused, naming the nearest three."""
    known = suppliers(conn)
    for supplier in known.values():
        if fold(supplier.name) == fold(name):
            return supplier
    raise unknown("supplier", name, (each.name for each in known.values()), "spindlebook order supplier NAME")


def offers(conn: Connection) -> dict[int, list[Offer]]:
    """Return the offers for each supply; shipping only where it is charged in the offer's own currency."""
    by_id = suppliers(conn)
    found: defaultdict[int, list[Offer]] = defaultdict(list)
    for row in fetch(conn, _OFFERS_SQL):
        number, supply_id, supplier_id, pack, price, currency, from_packs, minimum, lead = row
        supplier = by_id.get(supplier_id)
        if supplier is None:
            continue
        shipping = supplier.shipping_minor if supplier.currency in (None, currency) else None
        days = lead if lead is not None else supplier.lead_days
        found[supply_id].append(
            Offer(number, supplier_id, pack, price, currency, from_packs, minimum, days, shipping or 0)
        )
    return dict(found)


def pack_of(listed: list[Offer], supplier_id: int | None = None) -> int | None:
    """Return the steps in a pack where all offers, or those of one supplier, agree on it."""
    sizes = {each.pack_steps for each in listed if supplier_id in (None, each.supplier)}
    return sizes.pop() if len(sizes) == 1 else None


def order_lines(conn: Connection) -> list[OrderLine]:
    """Return every line of every order, oldest first, with what came of it."""
    events: defaultdict[int, list[tuple[str, str, int | None]]] = defaultdict(list)
    for line_id, kind, day, packs in fetch(conn, _EVENTS_SQL):
        events[line_id].append((kind, day, packs))
    promised = {order_id: (expected, told) for order_id, expected, told in fetch(conn, _PROMISES_SQL)}
    known = offers(conn)
    lines = []
    for *row, pack in fetch(conn, _LINES_SQL):
        supplier_id, supply_id, ordered, order_id = row[3], row[6], row[8], row[9]
        arrived = [(day, packs) for kind, day, packs in events[row[0]] if kind == "arrived"]
        cancelled = [day for kind, day, _ in events[row[0]] if kind == "cancelled"]
        came: list[Any] = [
            pack or pack_of(known.get(supply_id, []), supplier_id),
            sum(ordered if packs is None else packs for _, packs in arrived),
            arrived[-1][0] if arrived else None,
            cancelled[-1] if cancelled else None,
            *promised.get(order_id, (None, None)),
        ]
        lines.append(OrderLine(*row, *came))
    return lines
