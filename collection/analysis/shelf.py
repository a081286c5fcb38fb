"""What can be taken on a day, past days included, without any later stock falling below zero.

A late entry lowers every balance after its day up to the next count, which stands as it was counted. So what
is left to take on a day is the least balance from that day on until the next count of the same lot and place.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from collection.analysis.ledger import WITHOUT_EFFECT, Movement, in_order, taken_back

Spot = tuple[int | None, int | None]  # lot (None: unknown), place (None: not told)


@dataclass(slots=True)
class _Change:
    """One change of a spot: stock before and after it; a count sets what is after whatever was before."""

    on: str
    is_count: bool
    before: int
    after: int


class Shelf:
    """The stock of one supply through time, spot by spot; it can take in rows one after another."""

    def __init__(self, rows: Iterable[Movement]) -> None:
        self._spots: dict[Spot, list[_Change]] = {}
        self._opened: dict[int, str] = {}
        self._first_used: dict[int, str] = {}
        ordered = in_order(rows)
        dead = taken_back(ordered)
        for row in ordered:
            if row.id not in dead:
                self.add(row.lot, row.place, row.kind, row.steps, row.occurred_on)

    def add(self, lot: int | None, place: int | None, kind: str, steps: int, on: str) -> None:
        """Take in a row that is recorded after all others so far, on whatever day it occurred."""
        if kind in ("open", "use") and lot is not None:
            first = self._opened if kind == "open" else self._first_used
            first[lot] = min(on, first.get(lot, on))
        if kind in WITHOUT_EFFECT:
            return
        changes = self._spots.setdefault((lot, place), [])
        at = len(changes)
        while at and changes[at - 1].on > on:
            at -= 1
        before = changes[at - 1].after if at else 0
        is_count = kind == "count"
        changes.insert(at, _Change(on, is_count, before, steps if is_count else before + steps))
        _carry_on(changes, at)

    def opened_on(self, lot: int, on: str | None = None) -> str | None:
        """Return the day a lot was opened: as a row says, else by its first use; what came after `on` left aside."""
        days = (self._opened.get(lot), self._first_used.get(lot))
        return next((day for day in days if day is not None and (on is None or day <= on)), None)

    def said_open(self, lot: int) -> str | None:
        """Return the day on which a row says that the lot was opened."""
        return self._opened.get(lot)

    def counted(self, on: str) -> tuple[bool, str]:
        """Return whether anything was counted on a day, and the first day after it with a count, else ""."""
        days = {change.on for changes in self._spots.values() for change in changes if change.is_count}
        return on in days, min((day for day in days if day > on), default="")

    def stock(self, on: str | None = None) -> dict[Spot, int]:
        """Return the steps at every spot that ever had a row, at the end of a day or after all rows."""
        return {spot: _at_end_of(changes, on) for spot, changes in self._spots.items()}

    def available(self, on: str) -> dict[Spot, int]:
        """Return the steps at every spot that can be taken on a day; below zero: entries are missing."""
        return {spot: _least(changes, on) for spot, changes in self._spots.items()}


def _carry_on(changes: list[_Change], at: int) -> None:
    """Let what changed at a place run through the changes after it, up to the next count."""
    for earlier, change in zip(changes[at:], changes[at + 1 :], strict=False):
        steps = change.after - change.before
        change.before = earlier.after
        if change.is_count:
            return
        change.after = change.before + steps


def _at_end_of(changes: list[_Change], on: str | None) -> int:
    for change in reversed(changes):
        if on is None or change.on <= on:
            return change.after
    return 0


def _least(changes: list[_Change], on: str) -> int:
    least = changes[-1].after
    for change in reversed(changes):
        if change.on <= on:
            return least
        least = change.before if change.is_count else min(least, change.before)
    return least
