"""Supplies as a list, and one supply as a card: what it is, what takes it, who sells it, what is on its way."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy.engine import Connection

from collection.analysis.offers import Offer
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.drawer import drawer
from collection.views.lot_age import age_cautions
from collection.views.orders import OrderLine, offers, order_lines, suppliers
from collection.views.procedures import supply_cautions
from collection.views.stock import StockRow, stock
from collection.views.supplies import Supply, find_supply

FIELDS = (
    "kind", "measured_in", "smallest_step", "tracked", "density", "polymer", "thickener", "strength", "size", "fits",
    "shelf_life_months", "open_life_months", "wanted_chance", "guess_a_year", "written_since", "note",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class SupplyCard:
    """One supply. fields: its record; takes: (procedure, steps, chance); offers with the supplier's name."""

    supply: Supply
    fields: dict[str, Any]
    source: str
    stock: tuple[StockRow, ...]
    takes: tuple[tuple[str, int, float | None], ...]
    offers: tuple[tuple[str, Offer], ...]
    orders: tuple[OrderLine, ...]
    cautions: tuple[str, ...]


def listed_supplies(conn: Connection, today: date) -> list[tuple[Supply, dict[str, Any], int]]:
    """Return every supply by name, its record, and the steps the book has of it."""
    records = {row[0]: dict(zip(FIELDS, row[1:], strict=True)) for row in fetch(conn, _records())}
    return [(held.supply, records[held.supply.id], sum(lot.steps for lot in held.lots)) for held in drawer(conn, today)]


def supply_card(conn: Connection, name: str, today: date) -> SupplyCard:
    """Return all the book has on a supply. Raises Refused, naming the nearest three."""
    supply = find_supply(conn, name)
    *record, source = fetch(conn, _records(", source", " AND id = :id"), id=supply.id)[0][1:]
    sellers = suppliers(conn)
    return SupplyCard(
        supply=supply,
        fields=dict(zip(FIELDS, record, strict=True)),
        source=source or "",
        stock=stock(conn, today, name).rows,
        takes=tuple((row[0], row[1], row[2]) for row in fetch(conn, _TAKES_SQL, id=supply.id)),
        offers=tuple((sellers[offer.supplier].name, offer) for offer in offers(conn).get(supply.id, [])),
        orders=tuple(line for line in order_lines(conn) if line.supply_id == supply.id and line.open_packs),
        cautions=tuple(cautions_of(conn, supply)),
    )


def cautions_of(conn: Connection, supply: Supply) -> list[str]:
    """Return what to mind with a supply: with its kind, and with its lots of unknown age."""
    return [*supply_cautions(conn).get(fold(supply.kind), ()), *age_cautions(conn, supply)]


_TAKES_SQL = """
SELECT p.name, a.steps, a.chance FROM amount a JOIN procedure p ON p.id = a.procedure_id
WHERE a.supply_id = :id AND a.void = 0 AND p.void = 0 ORDER BY p.name_folded"""


def _records(more: str = "", only: str = "") -> str:
    return f"SELECT id, {', '.join(FIELDS)}{more} FROM supply WHERE void = 0{only}"
