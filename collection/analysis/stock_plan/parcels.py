"""Which supplies travel in one parcel: what a supplier is asked for now, and what will be needed soon anyway."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import NamedTuple

from collection.quantity import Money

SOON_DAYS = 30  # what is to be ordered so soon after the first goes along with it; common practice, no source


class Wanting(NamedTuple):
    """One supply to be ordered of a supplier. order_by: None for now. shipping: minor units of the cost."""

    supplier: str
    order_by: date | None
    cost: Money
    shipping: int = 0


class Parcel(NamedTuple):
    """One order to one supplier in one currency; lines: places among the wantings, the most urgent first.

    order_by: the last day to send it, None for now. cost: with shipping, which is counted once.
    """

    supplier: str
    order_by: date | None
    lines: tuple[int, ...]
    cost: Money
    shipping: Money


def parcels(wantings: Sequence[Wanting], today: date, soon_days: int = SOON_DAYS) -> list[Parcel]:
    """Return the parcels in the order in which they are to be sent, each with what is needed within 30 days of it.

    A day before today counts as today. Offers of one supplier in two currencies make two parcels: without a rate
    there is no sum.
    """
    kinds = sorted({(each.supplier, each.cost.currency) for each in wantings})
    found = [
        parcel
        for kind in kinds
        for parcel in _of_one(
            [at for at, each in enumerate(wantings) if _kind(each) == kind], wantings, today, soon_days
        )
    ]
    return sorted(found, key=lambda parcel: (_day(parcel.order_by, today), parcel.supplier, parcel.cost.currency))


def totals(parcels_made: Sequence[Parcel]) -> list[Money]:
    """Return what the parcels cost together, each currency by itself."""
    sums: dict[str, Money] = {}
    for parcel in parcels_made:
        currency = parcel.cost.currency
        sums[currency] = sums[currency] + parcel.cost if currency in sums else parcel.cost
    return [sums[currency] for currency in sorted(sums)]


def _kind(wanting: Wanting) -> tuple[str, str]:
    return wanting.supplier, wanting.cost.currency


def _day(order_by: date | None, today: date) -> date:
    return today if order_by is None else max(order_by, today)


def _of_one(places: list[int], wantings: Sequence[Wanting], today: date, soon_days: int) -> list[Parcel]:
    """Return the parcels of one supplier: each begins with the first that no earlier one carries."""
    ordered = sorted(places, key=lambda at: (_day(wantings[at].order_by, today), at))
    made: list[list[int]] = []
    for at in ordered:
        first = _day(wantings[made[-1][0]].order_by, today) if made else None
        if first is not None and _day(wantings[at].order_by, today) - first <= timedelta(days=soon_days):
            made[-1].append(at)
        else:
            made.append([at])
    return [_parcel(lines, wantings, today) for lines in made]


def _parcel(lines: list[int], wantings: Sequence[Wanting], today: date) -> Parcel:
    first = wantings[lines[0]]
    shipping = max(wantings[at].shipping for at in lines)
    goods = sum(wantings[at].cost.minor - wantings[at].shipping for at in lines)
    order_by = first.order_by if first.order_by is not None and first.order_by > today else None
    currency = first.cost.currency
    return Parcel(first.supplier, order_by, tuple(lines), Money(goods + shipping, currency), Money(shipping, currency))
