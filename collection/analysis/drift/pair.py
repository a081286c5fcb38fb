"""A last segment of two readings: where they disagree, no other tells which of them slipped.

A single normal cannot stand for a level that is either here or there, so the possibilities are written out: both are
good, one or the other is stray, both are, or the level jumped between them.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from collection.analysis.drift.given import Floats, Ints
from collection.analysis.drift.sites import Sites, Task

_AGREE = 0.98  # both good for all but so much: then the fit stands as it is
WAYS = 5


class Pair(NamedTuple):
    """Two last readings (places by step) of some of the series, less what their instruments read off.

    place: of the series among those asked for. apart: years between them. noise: their variances.
    """

    place: Ints
    first: Ints
    second: Ints
    apart: Floats
    values: tuple[Floats, Floats]
    noise: tuple[Floats, Floats]


class Torn(NamedTuple):
    """Series whose two last readings disagree: the components that stand for them, and how likely each is stray.

    place: among the series asked for. parts: weight, level, slope, var_level, cov, var_slope, wander, each (series,
    components). readings: places by step of first and second, with stray for each.
    """

    place: Ints
    parts: list[Floats]
    readings: tuple[Ints, Ints]
    stray: tuple[Floats, Floats]


def pairs_of(task: Task, runs: Ints, offsets: Floats, variances: Floats) -> Pair:
    """Return the runs whose last segment has just two readings; variances (runs asked for, instruments)."""
    layout = task.layout
    lengths = np.bincount(layout.segment)
    last = layout.last_segment[runs]
    place = np.flatnonzero(lengths[last] == 2)
    first = layout.starts[0] + last[place]
    second = (layout.starts[1] if len(layout.starts) > 1 else 0) + last[place]
    cleared = task.values - offsets[task.instrument]
    return Pair(
        place,
        first,
        second,
        layout.gap[second],
        (cleared[first], cleared[second]),
        (variances[place, task.instrument[first]], variances[place, task.instrument[second]]),
    )


def torn_of(task: Task, pair: Pair, slopes: list[Floats], rate: Floats, walk: Floats) -> Torn:
    """Return the series of pairs that are not clearly good.

    slopes: one component of each series (series, 1) as present.melted gives it. rate, walk: share of stray readings
    and variance of the walk in a year, per series asked for.
    """
    slope, var_slope = slopes[2][pair.place, 0], slopes[5][pair.place, 0]
    rate, walk, apart = rate[pair.place], walk[pair.place], pair.apart
    earlier = pair.values[0] + slope * apart  # what the first reading says of the time of the second
    var_earlier = pair.noise[0] + apart**2 * var_slope + walk * apart
    differ, spread = pair.values[1] - earlier, var_earlier + pair.noise[1]
    jump = task.jump_chance[pair.second]
    chance = np.stack(
        [
            (1 - rate) ** 2 * (1 - jump) * _density(differ, spread),
            rate * (1 - rate) * _density(differ, spread + task.stray),
            rate * (1 - rate) * _density(differ, spread + task.stray),
            rate**2 * _density(differ, spread + 2 * task.stray),
            (1 - rate) ** 2 * jump * _density(differ, spread + task.jump),
        ],
        axis=1,
    )
    weight = chance / chance.sum(axis=1, keepdims=True)
    share = var_earlier / spread  # of the second reading, where both are good
    both, of_both = earlier + share * differ, share * pair.noise[1]
    level = np.stack([both, pair.values[1], earlier, both, pair.values[1]], axis=1)
    var_level = np.stack([of_both, pair.noise[1], var_earlier, of_both + task.stray, pair.noise[1]], axis=1)
    cov = apart * var_slope
    none = np.zeros_like(cov)
    chosen = np.flatnonzero(weight[:, 0] < _AGREE)
    parts = [
        weight,
        level,
        np.repeat(slope[:, None], WAYS, axis=1),
        var_level,
        np.stack([cov * (1 - share), none, cov, cov * (1 - share), none], axis=1),
        np.repeat(var_slope[:, None], WAYS, axis=1),
        np.repeat(walk[:, None], WAYS, axis=1),
    ]
    return Torn(
        pair.place[chosen],
        [part[chosen] for part in parts],
        (pair.first[chosen], pair.second[chosen]),
        (weight[chosen, 1] + weight[chosen, 3], weight[chosen, 2] + weight[chosen, 3]),
    )


def _density(apart: Floats, variance: Floats) -> Floats:
    # A chance of less than e^-700 counts for nothing, and for no warning.
    return np.exp(np.maximum(-0.5 * apart**2 / variance, -700.0)) / np.sqrt(variance)


def node_variances(task: Task, sites: Sites, node: Floats) -> Floats:
    """Return the variance of each instrument's good readings, mixed over the nodes (series, instruments)."""
    spread = np.maximum(sites.spread[:, None] * sites.ratio, task.floor) ** 2
    return np.asarray(node.T @ spread)
