"""The rows of the reorder list put together by what one order to one supplier would carry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from collection.analysis.stock_plan.found import FINE, UNKNOWN
from collection.analysis.stock_plan.parcels import Parcel, Wanting, parcels, totals
from collection.quantity import Money
from collection.views.stock_rows import StockList, StockRow

PARCEL, NO_DAY, SHOPPING, NOTHING = "parcel", "no day", "shopping", "nothing"


@dataclass(frozen=True, slots=True)
class Group:
    """Rows that belong together.

    what: PARCEL; NO_DAY, nobody knows how long it takes or what is needed; SHOPPING, offered by nobody; NOTHING, to be
    left alone. parcel: of PARCEL alone.
    """

    what: str
    rows: tuple[StockRow, ...]
    parcel: Parcel | None = None


def groups_of(found: StockList) -> list[Group]:
    """Return the groups that have rows: the parcels in the order in which they are to be sent, then the others.

    Parts wanted that are no supply of the book belong to SHOPPING, which is there for them too.
    """
    bought = [row for row in found.rows if row.state not in (FINE, UNKNOWN) and row.supplier and row.cost]
    made = parcels([_wanting(row) for row in bought], found.today)
    groups = [Group(PARCEL, tuple(bought[at] for at in parcel.lines), parcel) for parcel in made]
    others = [row for row in found.rows if row not in bought]
    for what in (NO_DAY, SHOPPING, NOTHING):
        rows = tuple(row for row in others if _other(row) == what)
        if rows or (what == SHOPPING and found.loose):
            groups.append(Group(what, rows))
    return groups


def total_cost(groups: Sequence[Group]) -> list[Money]:
    """Return what all parcels cost together, each currency by itself."""
    return totals([group.parcel for group in groups if group.parcel is not None])


def goods_of(row: StockRow) -> Money | None:
    """Return what the packs of a row cost without shipping, which is counted with their parcel."""
    if row.cost is None:
        return None
    return Money(row.cost.minor - (row.shipping.minor if row.shipping else 0), row.cost.currency)


def price_of_pack(row: StockRow) -> Money | None:
    """Return what one pack costs at the price that holds for so many."""
    goods = goods_of(row)
    return Money(goods.minor // row.packs, goods.currency) if goods is not None and row.packs else None


def _wanting(row: StockRow) -> Wanting:
    shipping = 0 if row.shipping is None else row.shipping.minor
    return Wanting(row.supplier or "", row.order_by, row.cost or Money(0, ""), shipping)


def _other(row: StockRow) -> str:
    if row.state == FINE or (row.plan is not None and row.plan.found.has_enough_coming and not row.steps):
        return NOTHING
    offered = row.supplier is not None or (row.plan is not None and bool(row.plan.given.offers))
    buys_nothing = row.state == UNKNOWN and not row.steps and not row.packs
    return NO_DAY if offered or buys_nothing else SHOPPING
