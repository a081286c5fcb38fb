"""The stock ledger: what the drawer holds, derived from a list of movements that only grows.

Kinds of movement and what their steps mean (a step is the supply's smallest amount):

receive +, use -, discard -, return -   change the stock
move, repack                            pairs of rows in one group that sum to zero
count                                   states the counted value; what it differs from the book is derived
open, short                             change nothing; a short row keeps the amount that could not be had
reverse                                 exact opposite of one earlier row, which then counts for nothing

Stock may fall below zero: entries are then missing, and a count sets it right. A count is a fact: whatever is
entered late and happened before it explains its difference and leaves later stock alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from collection.analysis.take_order import Lot, take_order
from collection.errors import Refused

Cell = tuple[int, int | None, int | None]  # supply, lot (None: unknown), place (None: not told)

WITHOUT_EFFECT = frozenset({"open", "short", "reverse"})


class Movement(NamedTuple):
    """One row of the ledger.

    id rises in order of recording and decides the order inside a day. steps: signed integer, see the module;
    occurred_on: ISO day, maybe partial (counts as its first day); recorded_at: UTC text, all of one form;
    reverses: id of the row a reverse takes back; group: ties the rows of one use, move or repack together.
    """

    id: int
    supply: int
    lot: int | None
    place: int | None
    kind: str
    steps: int
    occurred_on: str
    recorded_at: str
    reverses: int | None = None
    group: str | None = None
    reason: str | None = None


class CountDifference(NamedTuple):
    """What one count found against the book just before it; `difference` = counted - book, in steps."""

    movement: int
    cell: Cell
    counted: int
    book: int

    @property
    def difference(self) -> int:
        """More found than booked: above zero."""
        return self.counted - self.book


def in_order(rows: Iterable[Movement]) -> list[Movement]:
    """Return the rows by day, then order of recording; a reverse stands right after the row it takes back."""
    return sorted(rows, key=lambda row: (row.occurred_on, row.reverses or row.id, row.id))


def taken_back(rows: Iterable[Movement]) -> set[int]:
    """Return the ids of the rows that a reverse among `rows` takes back."""
    return {row.reverses for row in rows if row.kind == "reverse" and row.reverses is not None}


def known(rows: Iterable[Movement], on_day: str | None = None, known_at: str | None = None) -> list[Movement]:
    """Return the rows that occurred by `on_day` and were recorded by `known_at` (None: no limit)."""
    return [
        row
        for row in rows
        if (on_day is None or row.occurred_on <= on_day) and (known_at is None or row.recorded_at <= known_at)
    ]


def balances(rows: Sequence[Movement]) -> dict[Cell, int]:
    """Return the steps in stock per supply, lot and place, from rows as `in_order` sorts them, in one pass.

    The balance of a cell is its last count plus the signed rows after it; a cell that has had rows is listed even when
    it is empty.
    """
    return _replay(rows)[0]


def count_differences(rows: Iterable[Movement], known_at: str | None = None) -> list[CountDifference]:
    """Return, in ledger order, what each standing count differed from the book as known at `known_at`."""
    return _replay(in_order(known(rows, known_at=known_at)))[1]


def _replay(rows: Sequence[Movement]) -> tuple[dict[Cell, int], list[CountDifference]]:
    dead = taken_back(rows)
    stock: dict[Cell, int] = {}
    found = []
    for row in rows:
        kind = row.kind
        if kind in WITHOUT_EFFECT or row.id in dead:
            continue
        cell = row[1:4]
        book = stock.get(cell, 0)
        if kind == "count":
            found.append(CountDifference(row.id, cell, row.steps, book))
            stock[cell] = row.steps
        else:
            stock[cell] = book + row.steps
    return stock, found


class LotCount(NamedTuple):
    """The counted value to book for one lot; `inferred` when only the total over several lots was counted."""

    lot: int | None
    steps: int
    inferred: bool


def spread_count(counted: int, lots: Iterable[Lot]) -> list[LotCount]:
    """Return one counted value per lot, in take order, that together make the counted total.

    A shortage goes to opened lots first, then to the earliest last usable day, at the unknown lot last; a
    surplus goes to the newest lot. A lot below zero counts as empty. Without lots the total is the unknown
    lot's. Raises Refused for a total below zero. The rule is this program's own choice: the likeliest place
    of each error.
    """
    if counted < 0:
        raise Refused(f"Cannot count {counted} steps: a count is zero or more.", "Type what is on the shelf.")
    ordered = take_order(lots) or [Lot(None, 0)]
    left = {lot.id: max(0, lot.steps) for lot in ordered}
    surplus = counted - sum(left.values())
    for lot in sorted(ordered, key=lambda lot: lot.opened_on is None):
        shortage = min(left[lot.id], max(0, -surplus))
        left[lot.id] -= shortage
        surplus += shortage
    left[max(ordered, key=_age).id] += surplus
    return [LotCount(lot.id, left[lot.id], inferred=len(ordered) > 1) for lot in ordered]


def _age(lot: Lot) -> tuple[str, int]:
    """Sort key under which the newest lot is the greatest, and the unknown lot the least."""
    return (lot.received_on or "", lot.id or 0)
