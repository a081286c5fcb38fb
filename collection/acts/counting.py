"""Counting: what is on the shelf is stated, and what it differs from the book follows when it is read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import NamedTuple

from sqlalchemy.engine import Engine

from collection.acts.amounts import Amount, read_amount
from collection.acts.booking import Booked, day_of, seal, shelf_named
from collection.acts.days import day_given
from collection.acts.movements import write_movement
from collection.acts.work import Work, open_work
from collection.analysis.ledger import LotCount, spread_count
from collection.analysis.shelf import Spot
from collection.analysis.take_order import Lot
from collection.quantity import Day
from collection.schema.supplies import BASES
from collection.views.shelves import SupplyShelf
from collection.views.supplies import pick_lot

MEASURED, INFERRED = BASES[1], BASES[2]
_SPREAD = "only the total over several lots was counted"


class CountedSpot(NamedTuple):
    """What is booked as counted of one lot at one place; `inferred` where only a total was counted."""

    spot: Spot
    steps: int
    inferred: bool


def count_supply(
    engine: Engine, name: str, quantity: str, *, lot: str = "", on: str = "", today: date, now: datetime
) -> Booked:
    """Book how much of a supply, or of one of its lots, was counted."""
    with open_work(engine, "supply count", today=today, now=now) as work:
        day = day_of(day_given(on, today))
        shelf = shelf_named(work.conn, name)
        amount = read_amount(shelf.supply, quantity, zero=True)
        wanted = pick_lot(shelf.supply, list(shelf.lots.values()), lot).id if lot else None
        found = count_steps(work, shelf, amount, day, wanted)
        what = f'"{shelf.supply.name}"' + (f', lot "{shelf.name_of(wanted)}"' if lot else "")
        return seal(work, shelf, f"counted {shelf.supply.show(amount.steps)} of {what}", found)


def count_steps(work: Work, shelf: SupplyShelf, amount: Amount, on: Day, lot: int | None = None) -> list[str]:
    """Book a count of one lot, or of the whole supply spread over its lots; returns what it found, in words."""
    book = shelf.shelf.stock(on.text)
    counted = counted_spots(shelf, amount.steps, on, lot)
    group = work.keys.one()
    for spot, steps, inferred in counted:
        write_movement(
            work,
            shelf,
            "count",
            steps,
            on,
            lot_id=spot[0],
            location_id=spot[1],
            basis=INFERRED if inferred else MEASURED,
            reason=_SPREAD if inferred else None,
            group_key=group,
            typed=amount.typed,
        )
    return _found(shelf, counted, book)


def counted_spots(shelf: SupplyShelf, steps: int, on: Day, lot: int | None = None) -> list[CountedSpot]:
    """Return what a count of one lot, or of the whole supply, says of each lot at each place."""
    lots = [each for each in shelf.lots_held(on.text) if each.id == lot] if lot is not None else _held(shelf, on)
    return list(_over_places(spread_count(steps, lots), shelf.shelf.stock(on.text)))


def _held(shelf: SupplyShelf, on: Day) -> list[Lot]:
    """Return the lots that the book has something of, above or below zero; where no lot is known, also the newest."""
    lots = shelf.lots_held(on.text)
    held = [lot for lot in lots if lot.steps]
    come = [lot for lot in lots if lot.id is not None and (lot.received_on or "") <= on.text]
    newest = max(come, key=lambda lot: (lot.received_on or "", lot.id or 0), default=None)
    if newest is None or any(lot.id is not None for lot in held):
        return held
    return [*held, newest]


def _over_places(lots: list[LotCount], book: Mapping[Spot, int]) -> Iterator[CountedSpot]:
    """Yield each lot's counted value place by place: what is missing is missing at the first places."""
    for lot, counted, inferred in lots:
        there = sorted(
            (item for item in book.items() if item[0][0] == lot and item[1]),
            key=lambda item: (item[0][1] is not None, item[0][1] or 0),
        ) or [((lot, None), 0)]
        missing = sum(max(0, steps) for _, steps in there) - counted
        for number, (spot, steps) in enumerate(there):
            taken = min(max(0, steps), max(0, missing))
            more = -missing if missing < 0 and number == 0 else 0
            missing -= taken
            yield CountedSpot(spot, max(0, steps) - taken + more, inferred or len(there) > 1)


def _found(shelf: SupplyShelf, counted: list[CountedSpot], book: Mapping[Spot, int]) -> list[str]:
    """Say what the count differs from the book, lot by lot."""
    show, total, parts = shelf.supply.show, 0, []
    for spot, steps, inferred in counted:
        difference = steps - book.get(spot, 0)
        total += difference
        if difference:
            name = f'lot "{shelf.name_of(spot[0])}"' if spot[0] is not None else "no known lot"
            parts.append(f"{name} {_signed(show(abs(difference)), difference)}{', inferred' if inferred else ''}")
    if not parts:
        return ["The book said the same."]
    before = sum(book.get(each.spot, 0) for each in counted)
    return [f"The book said {show(before)}: {_signed(show(abs(total)), total)} ({'; '.join(parts)})."]


def _signed(amount: str, difference: int) -> str:
    return f"{amount} {'more' if difference > 0 else 'less'}" if difference else "the same in all"
