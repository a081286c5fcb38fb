"""What can be known of a simulated fleet at best: generalised least squares that is told the true variances.

Told: the noise of each instrument, the variance of the random walk, the distribution of the slopes of each class as a
mixture of normals, which readings are stray (left out) and where a level jumped (a new level). Not told, and free of
any prior as they are to the model: the levels, and the offsets of the instruments, estimated jointly by the fleet.
Of each unit every combination of slope components is weighed exactly; what a unit says of the offsets is passed on to
the others as the normal of the same mean and variance (expectation propagation), which is exact where slopes are one
normal.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from collection.analysis.drift.found import Paths
from collection.analysis.drift.given import Fleet, Floats, Ints
from tests.support.simulated_fleets import Slopes, Truth

PASSES = 4
ALL_BUT_FLAT = 1e-4  # precision of the prior of an offset, a standard deviation of 100 %


@dataclass(frozen=True, slots=True, eq=False)
class Oracle:
    """The best paths, and the offsets of instruments (the first is the reference) with their variances."""

    paths: Paths
    offset: Floats
    variance: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Unit:
    """What the readings of one series say of its slopes (runs first) and the offsets, its levels gone.

    information, pull: of slopes and offsets. fixed, design, spread: the level at the last reading is
    fixed - design @ (slopes, offsets), with variance spread beside theirs. means, variances, weights: of the
    combinations of slope components, combinations times runs.
    """

    runs: int
    information: Floats
    pull: Floats
    fixed: float
    design: Floats
    spread: float
    weights: Floats
    means: Floats
    variances: Floats


def ask_oracle(fleet: Fleet, truth: Truth) -> Oracle:
    """Return what is known of the fleet at best."""
    units = [_unit(fleet, truth, one) for one in range(fleet.series)]
    free = fleet.instruments - 1
    said = np.zeros((fleet.series, free, free))
    pulled = np.zeros((fleet.series, free))
    prior = ALL_BUT_FLAT * np.eye(free)
    for _ in range(PASSES):
        for number, unit in enumerate(units):
            others = prior + said.sum(axis=0) - said[number], pulled.sum(axis=0) - pulled[number]
            weight, mean, variance = _weighed(unit, *others)
            middle = weight @ mean[:, unit.runs :]
            away = mean[:, unit.runs :] - middle
            spread = np.einsum(
                "m,mij->ij", weight, variance[:, unit.runs :, unit.runs :] + away[:, :, None] * away[:, None, :]
            )
            precision = np.linalg.inv(spread)
            said[number], pulled[number] = precision - others[0], precision @ middle - others[1]
    ends = [
        _ended(unit, *_weighed(unit, prior + said.sum(axis=0) - said[number], pulled.sum(axis=0) - pulled[number]))
        for number, unit in enumerate(units)
    ]
    spread = np.linalg.inv(prior + said.sum(axis=0))
    return Oracle(
        paths=_paths(fleet, truth, ends),
        offset=np.append(0.0, spread @ pulled.sum(axis=0)),
        variance=np.append(0.0, np.diag(spread)),
    )


def _unit(fleet: Fleet, truth: Truth, one: int) -> _Unit:
    """Return what one series says; stray readings are out, a jump starts a new level."""
    run_of = fleet.segment_run[fleet.segment]
    mine = np.flatnonzero(fleet.run_series[run_of] == one)
    mine = mine[np.lexsort((np.arange(len(mine)), fleet.years[mine]))]
    runs = np.flatnonzero(fleet.run_series == one)
    part = np.cumsum(np.append(0, np.diff(fleet.segment[mine]) != 0) | truth.jump[mine])
    end, last_part = fleet.years[mine[-1]], part[-1]
    kept = ~truth.stray[mine]
    mine, part = mine[kept], part[kept]
    levels, place = np.unique(part, return_inverse=True)
    years, values, instrument = fleet.years[mine], fleet.values[mine], fleet.instrument[mine]

    opened = np.full(len(levels), np.inf)
    np.minimum.at(opened, place, years)
    since = years - opened[place]
    within = place[:, None] == place[None, :]
    walk = truth.walk**2 * np.where(within, np.minimum(since[:, None], since[None, :]), 0.0)
    whiten = np.linalg.inv(walk + np.diag(truth.noise[instrument] ** 2))
    level = (place[:, None] == np.arange(len(levels))[None, :]).astype(float)
    inner = np.linalg.inv(level.T @ whiten @ level)
    bare = whiten - whiten @ level @ inner @ level.T @ whiten
    time = np.where(run_of[mine][:, None] == runs[None, :], (years - end)[:, None], 0.0)
    used = (instrument[:, None] == np.arange(1, fleet.instruments)[None, :]).astype(float)
    design = np.column_stack([time, used])

    known = len(levels) > 0 and levels[-1] == last_part
    if known:
        pick = (levels == last_part).astype(float)
        covers = np.where(part == last_part, truth.walk**2 * since, 0.0)
        reach = pick - level.T @ whiten @ covers
        row = whiten @ level @ inner @ pick + bare @ covers
        spread = truth.walk**2 * (end - opened[-1]) - covers @ whiten @ covers + reach @ inner @ reach
        fixed, along = float(row @ values), row @ design
    else:
        fixed, along, spread = np.nan, np.zeros(design.shape[1]), np.nan
    weights, means, variances = _combinations(truth.slopes[fleet.series_class[one]], len(runs))
    return _Unit(
        len(runs),
        design.T @ bare @ design,
        design.T @ bare @ values,
        fixed,
        along,
        float(spread),
        weights,
        means,
        variances,
    )


def _combinations(slopes: Slopes, runs: int) -> tuple[Floats, Floats, Floats]:
    picks: Ints = np.array(list(product(range(len(slopes.weight)), repeat=runs)))
    return slopes.weight[picks].prod(axis=1), slopes.mean[picks], slopes.sd[picks] ** 2


def _weighed(unit: _Unit, precision: Floats, pull: Floats) -> tuple[Floats, Floats, Floats]:
    """Return per combination its weight, and mean and variance of slopes and offsets, given what others say."""
    inner = np.tile(unit.information, (len(unit.weights), 1, 1))
    inner[:, unit.runs :, unit.runs :] += precision
    slopes = np.arange(unit.runs)
    inner[:, slopes, slopes] += 1 / unit.variances
    pulls = np.tile(unit.pull, (len(unit.weights), 1))
    pulls[:, : unit.runs] += unit.means / unit.variances
    pulls[:, unit.runs :] += pull
    variance = np.linalg.inv(inner).astype(np.float64)
    mean = np.asarray(np.einsum("mij,mj->mi", variance, pulls), dtype=np.float64)
    log_weight = np.log(unit.weights) + 0.5 * (
        np.einsum("mi,mi->m", mean, pulls)
        - np.linalg.slogdet(inner)[1]
        - (unit.means**2 / unit.variances + np.log(unit.variances)).sum(axis=1)
    )
    weight = np.exp(log_weight - log_weight.max()).astype(np.float64)
    return weight / weight.sum(), mean, variance


def _ended(unit: _Unit, weight: Floats, mean: Floats, variance: Floats) -> Floats:
    """Return the rows of the end of one series: weight, level, slope, var_level, cov, var_slope of each combination."""
    now = unit.runs - 1
    leaning = np.einsum("mij,j->mi", variance, unit.design)
    return np.array(
        [
            weight,
            unit.fixed - mean @ unit.design,
            mean[:, now],
            unit.spread + leaning @ unit.design,
            -leaning[:, now],
            variance[:, now, now],
        ]
    )


def _paths(fleet: Fleet, truth: Truth, ends: list[Floats]) -> Paths:
    start = np.full(fleet.series, -np.inf)
    np.maximum.at(start, fleet.run_series[fleet.segment_run[fleet.segment]], fleet.years)
    rows = np.zeros((6, fleet.series, max(one.shape[1] for one in ends)))
    rows[3] = rows[5] = 1.0
    for number, one in enumerate(ends):
        rows[:, number, : one.shape[1]] = one
    weight, level, slope, var_level, cov, var_slope = rows
    return Paths(start, weight, level, slope, var_level, cov, var_slope, np.full_like(weight, truth.walk**2))
