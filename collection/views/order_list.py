"""Orders line by line, with the day on which what is still to come is expected."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.lead_time import Expected, expected
from collection.quantity import parse_day
from collection.views.offer_list import leads
from collection.views.orders import OrderLine, order_lines
from collection.views.supplies import Supply, supply_list


class OrderRow(NamedTuple):
    """A line of an order; expected: when the rest of it comes, None where nothing is to come or nobody can tell."""

    line: OrderLine
    supply: Supply
    expected: Expected | None


def order_list(conn: Connection, today: date) -> list[OrderRow]:
    """Return every line of every order, oldest first."""
    known, supplies = leads(conn), {supply.id: supply for supply in supply_list(conn)}
    rows = []
    for line in order_lines(conn):
        named = parse_day(line.promised_on).last if line.promised_on else None
        ordered = parse_day(line.ordered_on).first
        when = expected(ordered, named, line.told_on or "", known[line.supplier_id], today) if line.open_packs else None
        rows.append(OrderRow(line, supplies[line.supply_id], when))
    return rows
