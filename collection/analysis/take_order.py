"""Which lot is used next: first expired, first out.

The rule is that of the World Health Organization's good distribution practices, glossary, "first expiry/first
out": of equal stock the lot that expires first leaves first. Expired stock is not stock.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from collection.errors import Refused


class Lot(NamedTuple):
    """What the take order must know of one lot.

    id: the lot, None for stock of an unknown lot; steps: what the book says is left (below zero: nothing
    usable); usable_through: its last usable day, None if it has none; opened_on, received_on: ISO days, maybe
    partial.
    """

    id: int | None
    steps: int
    usable_through: date | None = None
    opened_on: str | None = None
    received_on: str | None = None


class Taken(NamedTuple):
    """How many steps were taken from one lot."""

    lot: int | None
    steps: int


def usable(lot: Lot, on_day: date) -> bool:
    """Say whether the lot may be used on that day; its last usable day still counts."""
    return lot.usable_through is None or on_day <= lot.usable_through


def take_order(lots: Iterable[Lot]) -> list[Lot]:
    """Return the lots in the order in which they leave, whatever order they come in.

    By last usable day (none: last), then opened ones first, then day opened, day received, and lot id. A
    partial day sorts as its first day.
    """
    return sorted(lots, key=_place)


def _place(lot: Lot) -> tuple[date, bool, str, bool, str, bool, int]:
    return (
        lot.usable_through or date.max,
        lot.opened_on is None,
        lot.opened_on or "",
        lot.received_on is None,
        lot.received_on or "",
        lot.id is None,
        lot.id or 0,
    )


def take(lots: Iterable[Lot], asked: int, on_day: date, *, expired_too: bool = False) -> tuple[list[Taken], int]:
    """Return what to take from which lot, in take order, and how many steps are short.

    Takes min(asked, usable stock) steps. Lots past their last usable day are left alone, unless `expired_too`
    is asked for: then they follow after every usable lot. Raises Refused if less than nothing is asked for.
    """
    if asked < 0:
        raise Refused(f"Cannot take {asked} steps: an amount taken is zero or more.", "Type it without a minus.")
    taken = []
    for lot in _within_reach(lots, on_day, expired_too=expired_too):
        steps = min(asked, lot.steps)
        if steps > 0:
            taken.append(Taken(lot.id, steps))
            asked -= steps
    return taken, asked


def _within_reach(lots: Iterable[Lot], on_day: date, *, expired_too: bool) -> list[Lot]:
    ordered = take_order(lots)
    fresh = [lot for lot in ordered if usable(lot, on_day)]
    return fresh + [lot for lot in ordered if not usable(lot, on_day)] if expired_too else fresh
