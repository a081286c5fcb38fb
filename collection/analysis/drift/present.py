"""Where each series stands now and how fast it goes: the mixture that a fit leaves of it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from collection.analysis.drift import core, slopes
from collection.analysis.drift.given import Floats, Ints
from collection.analysis.drift.layout import Layout
from collection.analysis.drift.sites import Held, Sites, Stand, Task, judged


class Now(NamedTuple):
    """The true value at the last reading of each run as it hangs on the slope (G, runs).

    Given slope b it is normal with mean level + lean b and variance rest.
    """

    level: Floats
    lean: Floats
    rest: Floats


class Parts(NamedTuple):
    """The mixture of each run (G, runs, COMPONENTS): see found.Paths."""

    weight: Floats
    level: Floats
    slope: Floats
    var_level: Floats
    cov: Floats
    var_slope: Floats


def parts_of(task: Task, sites: Sites, stand: Stand, held: Held | None) -> Parts:
    """Return the mixture that each node leaves of each run."""
    now = _now(task.layout, stand.solved, stand.risen)
    said, mean, known = judged(task, sites, stand.solved, held)
    usual = task.usual[:, None]
    prior = 1 / (usual * slopes.SPREAD) ** 2
    precision = known[..., None] + prior
    slope = ((known * mean)[..., None] + prior * (usual * slopes.MIDDLE)) / precision
    lean, var_slope = now.lean[..., None], 1 / precision
    return Parts(
        weight=said.part,
        level=now.level[..., None] + lean * slope,
        slope=slope,
        var_level=now.rest[..., None] + lean**2 * var_slope,
        cov=lean * var_slope,
        var_slope=var_slope,
    )


def _now(layout: Layout, solved: core.Solved, risen: Floats) -> Now:
    made, at = solved.made, layout.last_segment
    end = np.zeros(layout.segments)
    last_risen = np.zeros((len(risen), layout.segments))
    for start, reach in zip(layout.starts, layout.counts, strict=True):
        now = slice(start, start + reach)
        end[:reach], last_risen[:, :reach] = layout.years[now], risen[:, now]
    share = (1 - made.state[0])[:, at]
    level = made.state[:, :, at] + share * solved.level_share[:, :, at]
    lean = end[at] - level[1]
    towards = level[2:-1]  # (K, G, runs), of the offsets
    value = level[-1] + last_risen[:, at]
    own = made.left[:, at] + share**2 / made.level[0][:, at]
    return _with_offsets(solved, value, lean, towards, own)


def _with_offsets(solved: core.Solved, value: Floats, lean: Floats, towards: Floats, own: Floats) -> Now:
    """Integrate the offsets out: their uncertainty leans on the slope as well."""
    by_slope = solved.trend_share[2:-1]
    at_slope = np.where(solved.weight > 0, 1 / np.where(solved.weight > 0, solved.weight, 1.0), 0.0)
    spread = core.spread_by(solved.covariance, by_slope)
    var_slope = at_slope + (by_slope * spread).sum(axis=0)
    whole = lean * by_slope + towards
    cov = lean * at_slope + (whole * spread).sum(axis=0)
    whole_spread = core.spread_by(solved.covariance, whole)
    var = own + lean**2 * at_slope + (whole * whole_spread).sum(axis=0)
    mean = value + lean * solved.slope - np.einsum("kgr,gk->gr", towards, solved.offsets)
    leans = np.where(var_slope > 0, cov / np.where(var_slope > 0, var_slope, 1.0), lean)
    return Now(mean - leans * solved.slope, leans, np.maximum(var - leans * cov, 0.0))


def fewer(parts: list[Floats], keep: int) -> list[Floats]:
    """Return the `keep` heaviest components of each row, the rest melted into one with its mean and variance.

    parts: weight, level, slope, var_level, cov, var_slope, wander, each (series, components).
    """
    weight = parts[0]
    if weight.shape[1] <= keep:
        return parts
    order = np.argsort(-weight, axis=1, kind="stable")
    ordered = [np.take_along_axis(part, order, axis=1) for part in parts]
    rest = melted([part[:, keep - 1 :] for part in ordered])
    return [np.concatenate((part[:, : keep - 1], last), axis=1) for part, last in zip(ordered, rest, strict=True)]


def melted(parts: list[Floats]) -> list[Floats]:
    """Return one component in the place of all of a row, with their mean and variance; each (series, 1)."""
    weight, level, slope, var_level, cov, var_slope, wander = parts
    total = weight.sum(axis=1, keepdims=True)
    share = np.where(total > 0, weight / np.where(total > 0, total, 1.0), 1.0 / weight.shape[1])

    def mean(values: Floats) -> Floats:
        return np.asarray((share * values).sum(axis=1, keepdims=True))

    at, go = mean(level), mean(slope)
    return [
        total,
        at,
        go,
        mean(var_level + (level - at) ** 2),
        mean(cov + (level - at) * (slope - go)),
        mean(var_slope + (slope - go) ** 2),
        mean(wander),
    ]


def last_runs(layout: Layout) -> Ints:
    """Return the last run of each series that has a reading, in the order of series."""
    last = np.full(int(layout.series.max()) + 1, -1)
    np.maximum.at(last, layout.series, np.arange(layout.runs))
    return last[last >= 0]
