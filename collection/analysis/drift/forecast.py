"""Looking ahead along the paths of series: ranges, chances of being outside limits, when a limit is crossed.

Times are in years on the clock of `Paths.start`; one for all series or one for each. Limits are on the scale, -inf or
inf where there is none. A series without a level (see `known`) yields NaN.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from collection.analysis.distributions import normal_cdf, normal_quantile
from collection.analysis.drift.found import Paths
from collection.analysis.drift.given import Bools, Floats

_AT_ONCE = 400_000  # components that are held in memory together
_ROUNDS = 200
_ROOT = float(np.sqrt(2 * np.pi))
_CROSSING_STEPS = 480  # months looked ahead for a crossing: beyond 40 years no line is drawn


def known(paths: Paths) -> Bools:
    """Return which series have a level."""
    return np.isfinite(paths.level[:, 0])


def mean_on(paths: Paths, years: Floats | float) -> Floats:
    """Return the mean of the true value at a time."""
    mean, _ = _normals(paths, years, None)
    return np.asarray((paths.weight * mean).sum(axis=1))


def range_on(
    paths: Paths, years: Floats | float, share: float = 0.9, extra_variance: Floats | None = None
) -> tuple[Floats, Floats]:
    """Return the range that holds the true value at a time with probability `share`, the rest halved on both sides.

    extra_variance: what is added per series, as the square of the reference's own uncertainty (JCGM 100:2008, 5.1).
    """
    mean, sd = _normals(paths, years, extra_variance)
    low, high = quantiles(paths.weight, mean, sd, ((1 - share) / 2, (1 + share) / 2))
    return low, high


def slope_range(paths: Paths, share: float = 0.95) -> tuple[Floats, Floats]:
    """Return the range that holds each slope with probability `share`, a year."""
    ends = ((1 - share) / 2, (1 + share) / 2)
    low, high = quantiles(paths.weight, paths.slope, np.sqrt(paths.var_slope), ends)
    return low, high


def mean_slope(paths: Paths) -> Floats:
    """Return the mean of each slope, a year."""
    return np.asarray((paths.weight * paths.slope).sum(axis=1))


def chance_outside(
    paths: Paths, years: Floats | float, lower: Floats, upper: Floats, extra_variance: Floats | None = None
) -> Floats:
    """Return the chance that the true value lies outside lower..upper at a time.

    One less the conformance probability of JCGM 106:2012, 7.2 to 7.4, with the forecast in the place of the
    measurement.
    """
    mean, sd = _normals(paths, years, extra_variance)
    low, high = np.asarray(lower, dtype=float)[:, None], np.asarray(upper, dtype=float)[:, None]
    safe = np.where(sd > 0, sd, 1.0)
    below = np.where(sd > 0, normal_cdf((low - mean) / safe), (mean < low).astype(float))
    above = np.where(sd > 0, normal_cdf((mean - high) / safe), (mean > high).astype(float))
    outside = (paths.weight * np.where(np.isnan(mean), np.nan, below + above)).sum(axis=1)
    return np.asarray(np.minimum(outside, 1.0))  # weights sum to 1 but for rounding


class Crossing(NamedTuple):
    """When a limit is reached if nothing is done, in years: the middle way's day, and the range around it.

    at: NaN where the middle of the forecast never gets there. first: NaN where nothing of the band does in forty
    years. last: NaN where the band never has left the limit wholly behind: then there is no date, only a day before
    which it will not be.
    """

    at: float
    first: float
    last: float


def crossing(paths: Paths, place: int, limit: float, share: float = 0.95) -> Crossing:
    """Return when one series crosses a limit: the times at which the band of its true value holds the limit.

    The inversion of a band (Fieller, J. Roy. Statist. Soc. B 16 (1954) 175), looked up month by month; the set may
    have no end.
    """
    months = np.arange(_CROSSING_STEPS + 1) / 12
    every = Paths(*(np.repeat(part[place : place + 1], len(months), axis=0) for part in _fields(paths)))
    start = float(paths.start[place])
    low, high = range_on(every, start + months, share)
    middle = mean_on(every, start + months)
    side = np.sign(limit - middle[0])
    near, far = (low, high) if side > 0 else (high, low)
    # A narrow band may step over the limit between two months: what counts is on which side of it each edge is.
    passed, met = (np.flatnonzero(side * (limit - edge) <= 0) for edge in (middle, far))
    behind = np.flatnonzero(side * (limit - near) < 0)
    first = (start + months[found[0]] if len(found) else float("nan") for found in (passed, met, behind))
    return Crossing(*map(float, first))


def _fields(paths: Paths) -> tuple[Floats, ...]:
    return (
        paths.start, paths.weight, paths.level, paths.slope, paths.var_level, paths.cov, paths.var_slope, paths.wander,
    )  # fmt: skip


def _normals(paths: Paths, years: Floats | float, extra_variance: Floats | None) -> tuple[Floats, Floats]:
    """Return means and standard deviations of all components at a time."""
    after = np.broadcast_to(np.asarray(years, dtype=float), paths.start.shape)[:, None] - paths.start[:, None]
    mean = paths.level + paths.slope * after
    variance = paths.var_level + 2 * paths.cov * after + paths.var_slope * after**2 + paths.wander * np.abs(after)
    if extra_variance is not None:
        variance = variance + np.asarray(extra_variance)[:, None]
    return mean, np.sqrt(np.maximum(variance, 0.0))


def quantiles(weight: Floats, mean: Floats, sd: Floats, chances: Sequence[float]) -> tuple[Floats, ...]:
    """Return quantiles of each mixture, to 1e-9 of its width: for each chance one of every mixture.

    weight, mean, sd: (mixtures, components). A block of mixtures is gone through at a time.
    """
    rows = max(1, _AT_ONCE // max(1, weight.shape[1] * len(chances)))
    made = []
    for first in range(0, len(weight), rows):
        block = (np.tile(part[first : first + rows], (len(chances), 1)) for part in (weight, mean, sd))
        made.append(_quantile_of(_Mixtures(*block), chances))
    if not made:
        return tuple(np.zeros(0) for _ in chances)
    split = [part.reshape(len(chances), -1) for part in made]
    return tuple(np.concatenate(split, axis=1))


class _Mixtures(NamedTuple):
    """Weight, mean and standard deviation of components (mixtures, components)."""

    weight: Floats
    mean: Floats
    sd: Floats


def _quantile_of(mixtures: _Mixtures, chances: Sequence[float]) -> Floats:
    """Go by the tangent, and halve the bracket where that does not come twice as near as the step before.

    From where one normal of the same mean and spread has it; only what is not yet found goes on.
    """
    weight, mean, sd = mixtures
    chance = np.repeat(np.array(chances), len(weight) // len(chances))
    safe = np.where(sd > 0, sd, 1e-300)
    used = weight > 0
    below = np.where(used, mean - 9 * sd, np.inf).min(axis=1)
    above = np.where(used, mean + 9 * sd, -np.inf).max(axis=1)
    middle = (weight * mean).sum(axis=1)
    width = np.sqrt((weight * (sd**2 + (mean - middle[:, None]) ** 2)).sum(axis=1))
    found = np.clip(middle + normal_quantile(chance) * width, below, above)
    moved = np.full(len(found), np.inf)
    left = np.flatnonzero(np.isfinite(found))
    for _ in range(_ROUNDS):
        at = found[left]
        apart = (at[:, None] - mean[left]) / safe[left]
        over = (weight[left] * normal_cdf(apart)).sum(axis=1) - chance[left]
        below[left], above[left] = np.where(over > 0, below[left], at), np.where(over > 0, at, above[left])
        with np.errstate(all="ignore"):
            density = (weight[left] * np.exp(-0.5 * apart**2) / safe[left]).sum(axis=1) / _ROOT
            tangent = at - over / density
        nearer = (tangent > below[left]) & (tangent < above[left]) & (np.abs(tangent - at) < moved[left] / 2)
        tried = np.where(over == 0, at, np.where(nearer, tangent, (below[left] + above[left]) / 2))
        found[left], moved[left] = tried, np.abs(tried - at)
        near = (moved[left] <= 1e-9 * width[left]) & (np.abs(over) <= 1e-8)
        left = left[~near & (above[left] - below[left] > 1e-9 * width[left])]
        if not len(left):
            break
    return np.asarray(found)
