"""Whether uses that nobody planned come together: one repair shows two more, or a batch of old parts gives way at once.

What is told is how many more uses follow within a month of one than chance alone would have follow. They are taken to
come from bursts, each of one use and a Poisson number of further ones (the cluster process of J. Neyman, E. Scott,
"Statistical approach to problems of cosmology", J. R. Stat. Soc. B 20(1), 1958: from memory).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from datetime import date
from math import sqrt

from collection.analysis.stock_plan.given import UnplannedGiven

WITHIN = 30  # days of a burst; common practice, no source
_ALONE = 4  # uses that nothing followed, which count beside those seen; common practice, no source


def follow(days: Sequence[date], watched: int) -> float:
    """Return how many further uses follow one within a month, beyond chance; 0 where they come no closer than that.

    days: of the uses seen, in `watched` days. By chance alone, n uses spread evenly over T days make n (n - 1) pairs
    within w days of each other for every w / T (1 - w / 2T).
    """
    ordered = sorted(day.toordinal() for day in days)
    many = len(ordered)
    if many < 2 or watched <= WITHIN:
        return 0.0
    pairs = sum(bisect_right(ordered, day + WITHIN) - place - 1 for place, day in enumerate(ordered))
    by_chance = many * (many - 1) * WITHIN / watched * (1 - WITHIN / watched / 2)
    return max(0.0, (pairs - by_chance) / (many + _ALONE))


def brought(follows: float) -> float:
    """Return the mean number of further uses in a burst, by how many follow a use.

    A burst of 1 + Poisson(b) uses has (b + b b / 2) pairs, over 1 + b uses: the positive root of that.
    """
    return follows - 1 + sqrt(1 + follows * follows)


def worth(follows: float) -> float:
    """Return what one use tells of a rate, where uses apart tell 1: mean over variance of their number."""
    return 1 / (1 + 2 * follows)


def with_bursts(unplanned: UnplannedGiven, days: Sequence[date], watched: int, today: date) -> UnplannedGiven:
    """Return it with what the days of the uses seen, in so many days, tell of more to come after one."""
    last = (today - max(days)).days if days else WITHIN
    return unplanned._replace(follows=follow(days, watched), last=last if last < WITHIN else None)
