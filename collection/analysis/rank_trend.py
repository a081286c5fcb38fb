"""Trends by ranks alone, as a cross-check where one instrument read one segment often enough."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from collection.analysis.distributions import normal_quantile

Floats = npt.NDArray[np.float64]

FEWEST = 8  # readings; below that no trend of ranks can be told from chance


class RankTrend(NamedTuple):
    """The median of the slopes of all pairs, with its interval."""

    slope: float
    low: float
    high: float


class TrendTest(NamedTuple):
    """Kendall's S, its variance with ties, and the standard normal Z with a correction for continuity."""

    s: int
    variance: float
    z: float


def rank_trend(x: Floats, y: Floats, share: float = 0.95) -> RankTrend:
    """Return the Theil-Sen slope of points at two x at least (Sen, J. Amer. Statist. Assoc. 63 (1968) 1379).

    Pairs at one x are left out; the interval takes the slopes at the ranks that Kendall's S leaves, ties in y counted.
    """
    first, second = np.triu_indices(len(x), 1)
    apart = x[second] - x[first]
    told = apart != 0
    slopes = np.sort((y[second] - y[first])[told] / apart[told])
    reach = float(normal_quantile((1 + share) / 2)) * sqrt(_variance(y, x))
    low = int(np.clip(round((len(slopes) - reach) / 2) - 1, 0, len(slopes) - 1))
    high = int(np.clip(round((len(slopes) + reach) / 2), 0, len(slopes) - 1))
    return RankTrend(float(np.median(slopes)), float(slopes[low]), float(slopes[high]))


def trend_test(y: Floats) -> TrendTest:
    """Return the Mann-Kendall test of values in the order of time (EPA QA/G-9S (2006), with its variance for ties)."""
    first, second = np.triu_indices(len(y), 1)
    s = int(np.sign(y[second] - y[first]).sum())
    variance = _variance(y)
    z = (s - np.sign(s)) / sqrt(variance) if variance > 0 else 0.0
    return TrendTest(s, variance, float(z))


def _variance(*ranked: Floats) -> float:
    """Return the variance of Kendall's S: n (n - 1)(2 n + 5) / 18, less the same of each group of ties."""
    count = len(ranked[0])
    total = count * (count - 1) * (2 * count + 5)
    for values in ranked:
        _, ties = np.unique(values, return_counts=True)
        total -= int((ties * (ties - 1) * (2 * ties + 5)).sum())
    return max(total, 0) / 18
