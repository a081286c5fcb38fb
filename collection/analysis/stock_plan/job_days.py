"""The day on which each piece of planned work is done, one path beside another.

Work is done about its day: by the logistic distribution, whose tail leaves what is late as likely to be done on the
next day as on the one before. But a bench has its days: a club that opens once a month does on that day what is due
for weeks, and the grease of a whole season is gone in one evening. So each day is as likely as its distance makes it,
times the units that were worked on about that day in a past year; paths go by one past year or another. A unit that
was alone on its day says nothing of days to come: it counts for every day alike, and so does one unit more.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
import numpy.typing as npt

from collection.analysis.stock_plan.given import NEVER, JobGiven, WorkDay

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_YEAR = 365
_SHIFTS = (-7, 0, 7)  # days by which the days of work move from year to year; common practice, no source
_REACH = 7  # spreads about its day within which work is done: in all but one of some hundred thousand
_DEVIATION = np.pi / np.sqrt(3.0)  # standard deviation of the logistic distribution in its scale
_LEAST_SPREAD = 0.5  # days


def job_days(
    jobs: Sequence[JobGiven], years: Sequence[Sequence[WorkDay]], paths: int, days: int, dice: np.random.Generator
) -> Ints:
    """Return the day of each job in each path (jobs x paths), `NEVER` where it is not done within the days drawn.

    years: the days of work of past years, none where nothing is known of them. What has no spread is done on its day,
    what is overdue from today on.
    """
    day, spread, chance = (np.array([[each[part]] for each in jobs], dtype=float) for part in range(3))
    roll, happens = dice.random((len(jobs), paths)), dice.random((len(jobs), paths)) < chance
    on = np.broadcast_to(np.maximum(np.rint(day), 0).astype(np.int64), roll.shape).copy()
    open_to = np.flatnonzero(spread[:, 0] > 0)
    if len(open_to):
        about, spread = day[open_to], np.maximum(spread[open_to], _LEAST_SPREAD)
        reach = np.ceil(_REACH * spread)
        within = np.maximum(np.floor(about) - reach, 0).astype(np.int64) + np.arange(int(2 * reach.max()) + 1)
        near = _near(np.abs(within - about) / spread)
        ways = [_likely(year, shift) for year, shift in product(years, _SHIFTS)] or [np.ones(_YEAR)]
        for number, likely in enumerate(ways):
            mine = np.ix_(open_to, np.arange(number, paths, len(ways)))
            on[mine] = within[:, :1] + _drawn(near * likely[within % _YEAR], roll[mine])
    return np.where(happens & (on < days), on, NEVER)


def _near(away: Floats) -> Floats:
    """Return how likely each day is by its distance in spreads (jobs x days); the likeliest of each job is 1."""
    scales = away * _DEVIATION
    log = -scales - 2 * np.log1p(np.exp(-scales))
    return np.asarray(np.exp(log - log.max(axis=1, keepdims=True)))


def _likely(year: Sequence[WorkDay], shift: int) -> Floats:
    """Return how much more likely work is on each day of the year from today, if it is like that past year."""
    together = np.zeros(_YEAR)
    alone = 1 + sum(one.units for one in year if one.units == 1)
    for one in year:
        if one.units > 1:
            together[(one.ahead + shift) % _YEAR] += one.units
    return np.asarray(together + alone / _YEAR)


def _drawn(weights: Floats, roll: Floats) -> Ints:
    """Return the place of the day of each roll (jobs x paths), by how likely each day is (jobs x days)."""
    turn, days = np.arange(len(weights))[:, None], weights.shape[1]
    upto = np.cumsum(weights, axis=1)
    upto /= upto[:, -1:]
    # One search for all jobs: each has its own stretch of the line.
    at = np.searchsorted((upto + turn).ravel(), (roll + turn).ravel(), side="right").reshape(roll.shape)
    return np.asarray(np.clip(at - turn * days, 0, days - 1))
