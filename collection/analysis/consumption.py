"""What work really takes, held against the sheets of its procedures, and what units take in a year."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, lgamma, log, log1p, sqrt
from typing import NamedTuple

from collection.analysis.stock_plan.given import AmountGiven

AS_SHEET, MORE, LESS, TOO_FEW, NO_SHEET = "as the sheet", "more", "less", "too few to tell", "no sheet"
FEWEST_USES = 3  # below that a mean is not held against a sheet; common practice, no source
FEWEST_DAYS = 90  # of watching a unit, below which nothing is told by the year; common practice, no source
ACCEPTED = 0.05  # chance that any unit at all is said to eat belts although all are alike
LEAST_BELTS = 2  # one belt is no habit
_WITHIN_95 = 1.96
_DAYS_A_YEAR = 365.25


class Taken(NamedTuple):
    """What a use really takes: the mean in steps, the 95 % interval of that mean, and what it is against the sheet.

    ratio: mean as a part of the sheet's amount, None without one. says: one of the words above.
    """

    mean: float
    low: float
    high: float
    ratio: float | None
    says: str


def taken(amount: AmountGiven) -> Taken | None:
    """Return what uses really took, None where none was weighed or counted.

    The interval is that of a mean of so many uses with the spread given. A sheet inside it is as good as the uses can
    tell; so few uses as two tell nothing.
    """
    if not amount.uses:
        return None
    mean = amount.total / amount.uses
    half = _WITHIN_95 * amount.spread * mean / sqrt(amount.uses)
    low, high = max(0.0, mean - half), mean + half
    return Taken(mean, low, high, mean / amount.sheet if amount.sheet else None, _says(amount, low, high))


def _says(amount: AmountGiven, low: float, high: float) -> str:
    if not amount.sheet:
        return NO_SHEET
    if amount.uses < FEWEST_USES:
        return TOO_FEW
    if low > amount.sheet:
        return MORE
    return LESS if high < amount.sheet else AS_SHEET


class BeltCount(NamedTuple):
    """Belts that one unit took in the days it was watched."""

    belts: int
    days: int


def years(days: int) -> float:
    """Return days as years."""
    return days / _DAYS_A_YEAR


def eaters(counts: Sequence[BeltCount]) -> list[bool]:
    """Say of each unit whether it takes more belts than the others would let expect.

    The others' rate is not known for certain: with n belts in t years it is gamma(n + 1/2, t), and a unit's own belts
    in its years are then negative binomial (from memory). The accepted chance is shared by all units that are held
    against each other.
    """
    belts, days = sum(each.belts for each in counts), sum(each.days for each in counts)
    limit = ACCEPTED / max(1, len(counts))
    return [
        each.belts >= LEAST_BELTS
        and days > each.days
        and chance_of_as_many(each.belts, each.days, belts - each.belts, days - each.days) <= limit
        for each in counts
    ]


def chance_of_as_many(belts: int, days: int, others: int, others_days: int) -> float:
    """Return the chance of so many belts or more in so many days, by what others took in theirs (above zero)."""
    if days <= 0:
        return 0.0 if belts else 1.0
    size, share = others + 0.5, days / (days + others_days)
    below = (
        exp(lgamma(k + size) - lgamma(size) - lgamma(k + 1) + size * log1p(-share) + k * log(share))
        for k in range(belts)
    )
    return max(0.0, 1.0 - sum(below))
