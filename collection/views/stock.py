"""The drawer as a list: per supply and lot what is left, which lot is next, what is past its date, what is low.

Beside it stand belts and rollers that are fitted, where they are past what their rubber is given.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy.engine import Connection

from collection.analysis.take_order import usable
from collection.errors import Refused, typed
from collection.views.drawer import Held, HeldLot, drawer
from collection.views.fitted_rubber import FittedRubber, fitted_rubber
from collection.views.needs import needs_of_due_work
from collection.views.supplies import Supply, find_lot, find_supply

LOW_DAYS = 90  # a supply is low when it does not cover the due work of so many days
NEXT, OPENED, PAST_DATE, LOW, BELOW, NONE = "next", "opened", "past its date", "low", "below zero", "none left"
NOT_COUNTED = "not counted"
FAILED, AGE_UNKNOWN = "failed inspection", "age unknown"


@dataclass(frozen=True, slots=True)
class StockRow:
    """One lot of one supply; held None: the supply has nothing in the book. state: words, see this module."""

    supply: Supply
    held: HeldLot | None
    state: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Stock:
    """The rows, by supply and in the order of use, and how many supplies are not among them.

    not_listed: supplies that were never held and that no due work needs. fitted: the parts of rubber in units that are
    past what they are given, or will be by the day that was asked for; unknown: the lots of unknown age among all.
    """

    rows: tuple[StockRow, ...]
    not_listed: int
    fitted: tuple[FittedRubber, ...] = ()
    unknown: tuple[StockRow, ...] = ()


def stock(conn: Connection, today: date, name: str | None = None, expiring_within: int | None = None) -> Stock:
    """Return the drawer as of `today`, all of it or one supply.

    expiring_within: only lots that pass their date within so many days, or have passed it. Raises Refused for an
    unknown supply.
    """
    only = None if name is None else find_supply(conn, name).id
    needed = needs_of_due_work(conn, today, LOW_DAYS).of_supply
    rows, not_listed = list[StockRow](), 0
    for held in drawer(conn, today):
        supply = held.supply
        if only is not None and supply.id != only:
            continue
        if not held.moved and supply.id not in needed and only is None:
            not_listed += 1
            continue
        low = is_low(held, sum(need.steps for need in needed.get(supply.id, ())), today)
        rows += _rows_of(held, today, low)
    last, unknown = today, tuple(row for row in rows if AGE_UNKNOWN in row.state)
    if expiring_within is not None:
        last += timedelta(days=expiring_within)
        rows = [row for row in rows if row.held and row.held.steps > 0 and not _good_after(row.held, last)]
        not_listed = 0
    return Stock(tuple(rows), not_listed, _fitted_past(conn, today, last, only), unknown)


def stock_of_lot(conn: Connection, today: date, name: str, lot: str) -> StockRow:
    """Return what is left of one lot as of `today`. Raises Refused for an unknown supply or lot, and for none left."""
    row_id = find_lot(conn, find_supply(conn, name), lot).id
    for row in stock(conn, today, name).rows:
        if row.held is not None and row.held.lot is not None and row.held.lot.id == row_id:
            return row
    raise Refused(
        f'Nothing of lot "{lot}" of "{name}" is left in the book.',
        f"If there is some, count it first: spindlebook supply count {typed(name)} QUANTITY --lot {typed(lot)}",
    )


def _fitted_past(conn: Connection, today: date, last: date, supply: int | None) -> tuple[FittedRubber, ...]:
    """Return what is fitted in units that may run and is given through a day before `last`."""
    return tuple(
        each
        for each in fitted_rubber(conn, today)
        if each.runs
        and supply in (None, each.supply_id)
        and each.given.through is not None
        and each.given.through < last
    )


def is_low(held: Held, needed: int, today: date) -> bool:
    """Say whether a supply is low: less than what due work takes, or the last pack opened; without either never."""
    tracked = held.supply.tracked
    if tracked == "no":
        return False
    if tracked == "pack":
        return (held.moved or needed > 0) and held.unopened_on(today) == 0
    return max(0, held.usable_on(today)) < needed


def _good_after(lot: HeldLot, last: date) -> bool:
    return lot.usable.through is None or lot.usable.through >= last


def _rows_of(held: Held, today: date, low: bool) -> list[StockRow]:
    following = held.next_lot(today)
    rows = []
    for lot in held.stock:
        words = [
            (lot is following, NEXT),
            (lot.opened_on is not None, OPENED),
            (lot.steps > 0 and lot.usable.failed, FAILED),
            (lot.steps > 0 and not lot.usable.failed and not usable(lot.as_lot(), today), PAST_DATE),
            (lot.steps > 0 and lot.usable.of_unknown_age and held.supply.tracked != "no", AGE_UNKNOWN),
            (low, LOW),
            (lot.steps < 0 and held.supply.tracked == "count", BELOW),
            (held.supply.tracked == "no", NOT_COUNTED),
        ]
        rows.append(StockRow(held.supply, lot, tuple(word for true, word in words if true)))
    if rows:
        return rows
    counted = held.supply.tracked != "no"
    words = [(counted, NONE), (low, LOW), (not counted, NOT_COUNTED)]
    return [StockRow(held.supply, None, tuple(word for true, word in words if true))]
