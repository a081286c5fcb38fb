"""The shelf of one supply, pack by pack: what is there in truth, and what the book says is there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

FOREVER = 10**9


@dataclass(slots=True)
class Pack:
    """One pack: steps left, last usable day, whether it was opened."""

    steps: float
    through: int
    opened: bool = False


class Moved(NamedTuple):
    """What a use took from the shelf, and what it lacked."""

    taken: float
    short: float


class Shelf:
    """Packs that leave first expired, first out; an opened pack keeps less long and may dry.

    keeps_open: days from opening. drying: steps a day that opened packs lose.
    """

    def __init__(self, keeps_open: int | None = None, drying: float = 0.0) -> None:
        self.packs: list[Pack] = []
        self.keeps_open = FOREVER if keeps_open is None else keeps_open
        self.drying = drying

    def put(self, packs: int, steps: int, day: int, keeps: int | None) -> None:
        """Put new packs on the shelf."""
        through = FOREVER if keeps is None else day + keeps
        self.packs += [Pack(float(steps), through) for _ in range(packs)]

    def in_order(self) -> list[Pack]:
        """Return the packs that hold anything, in take order."""
        return sorted((one for one in self.packs if one.steps > 0), key=lambda one: (one.through, not one.opened))

    def take(self, steps: float, day: int) -> Moved:
        """Take what a use wants, as far as it goes."""
        left = steps
        for pack in self.in_order():
            if left <= 0:
                break
            if not pack.opened:
                pack.opened, pack.through = True, min(pack.through, day + self.keeps_open)
            part = min(left, pack.steps)
            pack.steps -= part
            left -= part
        return Moved(steps - left, left)

    def expire(self, day: int) -> float:
        """Throw away what is past its last usable day, and return how much that was."""
        past = sum(one.steps for one in self.packs if one.through < day)
        self.packs = [one for one in self.packs if one.steps > 0 and one.through >= day]
        return past

    def dry(self, days: int) -> None:
        """Let opened packs dry."""
        if self.drying:
            for pack in self.packs:
                if pack.opened:
                    pack.steps = max(0.0, pack.steps - self.drying * days)

    def steps(self) -> float:
        """Return what is there."""
        return sum(one.steps for one in self.packs)

    def copy_from(self, other: Shelf) -> None:
        """Hold what the other holds, as after a count."""
        self.packs = [Pack(float(int(one.steps)), one.through, one.opened) for one in other.packs]
