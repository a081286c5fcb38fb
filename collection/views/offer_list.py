"""What suppliers offer, and suppliers with how long they take."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.lead_time import Usual, pooled_spread, usual_days
from collection.analysis.offers import Offer
from collection.analysis.stock_plan.given import LeadGiven
from collection.store.engine import fetch
from collection.views.lead_times import lead_times
from collection.views.orders import Supplier, offers, suppliers
from collection.views.supplies import Supply, supply_list


class OfferRow(NamedTuple):
    """An offer with its supplier and its supply."""

    supplier: Supplier
    supply: Supply
    offer: Offer


@dataclass(frozen=True, slots=True)
class SupplierRow:
    """A supplier, days of its past orders, how long it takes by them and by its word, and how many offers it has."""

    supplier: Supplier
    note: str | None
    observed: tuple[int, ...]
    usual: Usual | None
    offers: int


def offer_list(conn: Connection) -> list[OfferRow]:
    """Return every offer by supplier and supply, the smallest packs and the lowest breaks first."""
    sellers, supplies = suppliers(conn), {supply.id: supply for supply in supply_list(conn)}
    order = {supplier: place for place, supplier in enumerate(sellers)}
    rows = [
        OfferRow(sellers[offer.supplier], supplies[supply_id], offer)
        for supply_id, listed in offers(conn).items()
        if supply_id in supplies
        for offer in listed
    ]
    return sorted(
        rows, key=lambda row: (order[row.supplier.id], row.supply.name, row.offer.pack_steps, row.offer.from_packs)
    )


def leads(conn: Connection) -> dict[int, LeadGiven]:
    """Return what is known of the days from order to arrival, by supplier."""
    observed = lead_times(conn)
    spread = pooled_spread(observed.values())
    return {
        supplier.id: LeadGiven(supplier.lead_days, observed.get(supplier.id, ()), spread)
        for supplier in suppliers(conn).values()
    }


def supplier_list(conn: Connection) -> list[SupplierRow]:
    """Return every supplier by name."""
    known, notes = leads(conn), dict(fetch(conn, "SELECT id, note FROM supplier WHERE void = 0"))
    offered = [row.supplier.id for row in offer_list(conn)]
    return [
        SupplierRow(
            supplier,
            notes[supplier.id],
            known[supplier.id].observed,
            usual_days(known[supplier.id]),
            offered.count(supplier.id),
        )
        for supplier in suppliers(conn).values()
    ]
