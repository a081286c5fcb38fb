"""How far from its day work is done: from the work of the past where there is enough of it."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import NamedTuple

USUAL_DAYS = 14.0  # a person works a fortnight early or late; common practice, no source
ENOUGH = 8  # services from which on the book's own spread is taken
LEAST_DAYS = 1.0
_FARTHEST = 180  # days; a unit that lay for years says nothing about the habits of one that is in use


class DaysOff(NamedTuple):
    """Standard deviation of the day of work from its due day; of: how many services told it, 0 for assumed."""

    days: float
    of: int


def days_off(late: Sequence[int]) -> DaysOff:
    """Return how far work is done from its day, from the days by which past work was late (early: below 0).

    It is the root of the mean square about the due day itself, so a habit of being late widens it. Fewer than eight
    tell nothing yet.
    """
    if len(late) < ENOUGH:
        return DaysOff(USUAL_DAYS, 0)
    kept = [max(-_FARTHEST, min(_FARTHEST, days)) for days in late]
    return DaysOff(max(LEAST_DAYS, sqrt(sum(days * days for days in kept) / len(kept))), len(kept))


def spread_of(off: DaysOff, repeat: int) -> float:
    """Return the spread of work that is repeated for the n-th time: each starts from the day of the one before."""
    return off.days * sqrt(repeat + 1)
