"""How far each reading of a series came from what the readings before it foretold.

One-step prediction errors, turned into standard normal ones by their own chance (the idea of Q charts: Quesenberry,
J. Qual. Technol. 23 (1991) 213, 224, for short runs of unequal trust): z is the normal quantile of the chance of a
smaller reading. Drift that is known, offsets of instruments and resets are foretold, so that what is left is news.
Readings that all others make out as stray count for little in what is foretold after them.
"""

from __future__ import annotations

import numpy as np

from collection.analysis.distributions import normal_cdf, normal_quantile
from collection.analysis.drift import slopes
from collection.analysis.drift.found import Found
from collection.analysis.drift.given import Fleet, Floats, Ints
from collection.analysis.drift.sites import STRAY_WIDTH

_MOST = 8.0  # a chance too small for a double is shown as so many standard deviations


def prediction_errors(fleet: Fleet, found: Found, series: int) -> tuple[Ints, Floats]:
    """Return the readings of one series in the order of time (places in the fleet), and the error z of each.

    NaN for the first reading of a segment, which nothing foretells. Within -8..8.
    """
    run = fleet.segment_run[fleet.segment]
    mine = np.flatnonzero(fleet.run_series[run] == series)
    mine = mine[np.lexsort((mine, fleet.years[mine], fleet.segment[mine], run[mine]))]
    z = np.full(len(mine), np.nan)
    filter_: _Filter | None = None
    segment = -1
    for place, reading in enumerate(map(int, mine)):
        if filter_ is None or run[reading] != filter_.run:
            filter_ = _Filter(fleet, found, series, int(run[reading]))
        if fleet.segment[reading] != segment:
            segment = int(fleet.segment[reading])
            filter_.begin(reading)
        else:
            z[place] = filter_.take(reading)
    return mine, z


class _Filter:
    """Level and slope of one run under every component of its class, as the readings come in."""

    def __init__(self, fleet: Fleet, found: Found, series: int, run: int) -> None:
        usual = float(fleet.usual_slope[fleet.series_class[series]])
        self.fleet, self.found, self.run = fleet, found, run
        self.weight = found.classes.share[fleet.series_class[series]].copy()
        self.slope = usual * slopes.MIDDLE
        self.var_slope = (usual * slopes.SPREAD) ** 2
        self.level, self.var_level, self.cov = (np.zeros(slopes.COMPONENTS) for _ in range(3))
        self.wander = float((found.paths.weight[series] * found.paths.wander[series]).sum())
        self.slip = (STRAY_WIDTH * fleet.half_width) ** 2
        self.years = 0.0

    def begin(self, reading: int) -> None:
        """Let a segment begin with its first reading: the level is free, the slope is what it was."""
        self.level = np.full(slopes.COMPONENTS, self._value(reading))
        self.var_level = np.full(slopes.COMPONENTS, self._doubted(reading))
        self.cov = np.zeros(slopes.COMPONENTS)
        self.years = float(self.fleet.years[reading])

    def take(self, reading: int) -> float:
        """Foretell a reading, return how far off it was, and learn from it."""
        after = float(self.fleet.years[reading]) - self.years
        self.years += after
        self.level = self.level + self.slope * after
        self.var_level = self.var_level + 2 * self.cov * after + self.var_slope * after**2 + self.wander * after
        self.cov = self.cov + self.var_slope * after
        value, noise = self._value(reading), self._noise(reading)
        total = self.var_level + noise
        apart = value - self.level
        chance = float((self.weight * normal_cdf(apart / np.sqrt(total))).sum())
        tiny = float(normal_cdf(-_MOST))
        z = float(np.clip(normal_quantile(np.clip(chance, tiny, 1 - 1e-16)), -_MOST, _MOST))
        self._learn(apart, self._doubted(reading))
        return z

    def _learn(self, apart: Floats, noise: float) -> None:
        """Take in a reading for what it is worth."""
        total = self.var_level + noise
        log_weight = np.log(np.maximum(self.weight, 1e-300)) - 0.5 * (apart**2 / total + np.log(total))
        weight = np.exp(log_weight - log_weight.max())
        self.weight = weight / weight.sum()
        level, slope = self.var_level / total, self.cov / total
        self.level, self.slope = self.level + level * apart, self.slope + slope * apart
        self.var_slope = self.var_slope - slope * self.cov
        self.cov = self.cov * (1 - level)
        self.var_level = self.var_level * (1 - level)

    def _doubted(self, reading: int) -> float:
        """Return the variance of a reading for those after it: one that turned out stray says little."""
        noise, stray = self._noise(reading), float(self.found.stray[reading])
        return 1 / ((1 - stray) / noise + stray / (noise + self.slip))

    def _value(self, reading: int) -> float:
        return float(self.fleet.values[reading] - self.found.instruments.offset[self.fleet.instrument[reading]])

    def _noise(self, reading: int) -> float:
        return float(self.found.instruments.repeatability[self.fleet.instrument[reading]] ** 2)
