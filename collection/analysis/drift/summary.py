"""What is told of a fit: paths of series, offsets of instruments, slopes of classes, with the nodes mixed."""

from __future__ import annotations

import numpy as np

from collection.analysis.distributions import normal_cdf
from collection.analysis.drift import core, present, slopes
from collection.analysis.drift.compare import Groups
from collection.analysis.drift.found import Classes, Found, Instruments, Paths
from collection.analysis.drift.given import Bools, Fleet, Floats, Ints
from collection.analysis.drift.sites import Sites, Task

_KEEP = 48  # components of each series
_LOW, _HIGH = 0.025, 0.975


def summary(
    fleet: Fleet, groups: Groups, task: Task, sites: Sites, solved: core.Solved, weight: Floats, wander: Floats
) -> Found:
    """Return what is found; weight (G, classes) of the nodes, wander (G, classes): standard deviation in a year."""
    layout = task.layout
    by_run = weight[:, layout.run_class]
    by_reading = by_run[:, layout.run[layout.segment]]
    paths = _paths(fleet, task, sites, by_run, wander)
    instruments = _instruments(fleet, groups, task, sites, solved, weight)
    classes = _classes(fleet, task, sites, weight)
    offsets = np.where(instruments.to_reference, instruments.offset, 0.0)
    back = np.empty_like(layout.order)
    back[layout.order] = np.arange(len(layout.order))
    chance = (by_reading * sites.jump).sum(axis=0)
    size = (by_reading * sites.jump * sites.jump_size).sum(axis=0) / np.where(chance > 0, chance, 1.0)
    return Found(
        corrected=fleet.values - offsets[fleet.instrument],
        stray=(by_reading * sites.stray).sum(axis=0)[back],
        jump=chance[back],
        jump_size=size[back],
        paths=paths,
        own=_own(fleet, paths, classes),
        corrected_series=_corrected(fleet, groups),
        instruments=instruments,
        classes=classes,
    )


def nothing(fleet: Fleet, groups: Groups) -> Found:
    """Return what is found without a single reading: the classes as they are taken for before anything is known."""
    count = fleet.series
    classes = _class_ranges(fleet, np.repeat(slopes.SHARE[None], fleet.classes, axis=0), np.zeros(fleet.classes))
    usual = fleet.usual_slope[fleet.series_class][:, None]
    ones = np.ones((count, 1))
    paths = Paths(
        np.zeros(count),
        slopes.SHARE * ones,
        np.full((count, slopes.COMPONENTS), np.nan),
        usual * slopes.MIDDLE,
        np.zeros((count, slopes.COMPONENTS)),
        np.zeros((count, slopes.COMPONENTS)),
        (usual * slopes.SPREAD) ** 2,
        np.zeros((count, slopes.COMPONENTS)),
    )
    none = np.zeros(fleet.instruments)
    instruments = Instruments(
        groups.group, groups.to_reference, none, none, none, np.zeros((len(none), len(none))), none, none
    )
    empty = np.zeros(0)
    return Found(empty, empty, empty, empty, paths, np.zeros(count), np.zeros(count, dtype=bool), instruments, classes)


def _paths(fleet: Fleet, task: Task, sites: Sites, by_run: Floats, wander: Floats) -> Paths:
    runs = present.last_runs(task.layout)
    parts = present.parts_of(task, sites)
    flat = [part[:, runs].transpose(1, 0, 2).reshape(len(runs), -1) for part in parts]
    flat[0] = (parts.weight[:, runs] * by_run[:, runs, None]).transpose(1, 0, 2).reshape(len(runs), -1)
    walk = (wander[:, task.layout.run_class[runs]] ** 2).T
    flat.append(np.repeat(walk, slopes.COMPONENTS, axis=1))
    kept = _in_doubt(task, sites, by_run[:, runs], runs, present.fewer(flat, _KEEP))
    whole = nothing_but_class(fleet, task, sites, by_run, kept[0].shape[1])
    series = task.layout.series[runs]
    for filled, part in zip(whole, kept, strict=True):
        filled[series] = part
    return Paths(np.where(np.isfinite(task.layout.end), task.layout.end, 0.0), *whole)


def _in_doubt(task: Task, sites: Sites, node: Floats, runs: Ints, parts: list[Floats]) -> list[Floats]:
    """Add a component for series whose last segment has a single reading, which nothing vouches for.

    It is stray as often as any other reading; then the level is wherever a slip may have been from.
    """
    lone = np.bincount(task.layout.segment)[task.layout.last_segment[runs]] == 1
    rate = np.where(lone, (node * sites.rate[:, None]).sum(axis=0), 0.0)[:, None]
    weight, level, slope, var_level, cov, var_slope, wander = present.melted(parts)
    doubtful = [rate, level, slope, var_level + task.stray, cov, var_slope, wander]
    parts = [parts[0] * (1 - rate), *parts[1:]]
    return [np.concatenate((sure, doubt), axis=1) for sure, doubt in zip(parts, doubtful, strict=True)]


def nothing_but_class(fleet: Fleet, task: Task, sites: Sites, by_run: Floats, many: int) -> list[Floats]:
    """Return components (series, many) for series without a reading: no level, the slope unknown."""
    shape = (fleet.series, many)
    usual = np.repeat(fleet.usual_slope[fleet.series_class][:, None], many, axis=1)
    zero = np.zeros(shape)
    return [
        np.full(shape, 1 / many), np.full(shape, np.nan), zero.copy(), zero.copy(), zero.copy(), usual**2, zero.copy(),
    ]  # fmt: skip


def _instruments(
    fleet: Fleet, groups: Groups, task: Task, sites: Sites, solved: core.Solved, weight: Floats
) -> Instruments:
    count = fleet.instruments
    runs = np.bincount(task.layout.run_class, minlength=task.classes)
    node = weight @ (runs / runs.sum())
    mean = node @ solved.offsets
    apart = solved.offsets - mean
    low, high = mixture_range(node[:, None], solved.offsets, np.sqrt(np.einsum("gkk->gk", solved.covariance)))
    covariance = np.einsum("g,gkl->kl", node, solved.covariance) + np.einsum("g,gk,gl->kl", node, apart, apart)
    spread = np.maximum(sites.spread[:, None] * sites.ratio, task.floor)
    told = np.bincount(task.instrument, minlength=count)
    segments = np.zeros(count)
    np.add.at(segments, task.instrument, 1 / np.bincount(task.layout.segment)[task.layout.segment])
    return Instruments(
        group=groups.group,
        to_reference=groups.to_reference,
        offset=_spread_out(groups, mean, count),
        low=_spread_out(groups, low, count),
        high=_spread_out(groups, high, count),
        covariance=_spread_matrix(groups, covariance, count),
        repeatability=node @ spread,
        free=np.maximum(told - segments, 0.0),
    )


def _spread_out(groups: Groups, values: Floats, count: int) -> Floats:
    whole = np.zeros(count)
    whole[groups.compared] = values
    return whole


def _spread_matrix(groups: Groups, values: Floats, count: int) -> Floats:
    whole = np.zeros((count, count))
    whole[np.ix_(groups.compared, groups.compared)] = values
    return whole


def _classes(fleet: Fleet, task: Task, sites: Sites, weight: Floats) -> Classes:
    counts = np.einsum("gc,gck->ck", weight, sites.counts)
    runs = counts.sum(axis=1)
    share = (slopes.SHARE * slopes.KNOWN + counts) / (slopes.KNOWN + runs[:, None])
    return _class_ranges(fleet, share, runs)


def _class_ranges(fleet: Fleet, share: Floats, runs: Floats) -> Classes:
    usual = fleet.usual_slope[:, None]
    means, sds = (usual * slopes.MIDDLE).T, (usual * slopes.SPREAD).T
    low, high = mixture_range(share.T, means, sds)
    middle, _ = mixture_range(share.T, means, sds, 0.5, 0.5)
    return Classes(middle, low, high, np.rint(runs).astype(np.int64))


def mixture_range(
    weight: Floats, mean: Floats, sd: Floats, low: float = _LOW, high: float = _HIGH
) -> tuple[Floats, Floats]:
    """Return two quantiles of mixtures of normals; components along the first axis, one mixture for each other place.

    By bisection, to 2^-60 of the width of the components' reach.
    """
    weight = np.broadcast_to(weight, mean.shape)
    safe = np.maximum(sd, 1e-300)

    def quantile(chance: float) -> Floats:
        below, above = (mean - 12 * sd).min(axis=0), (mean + 12 * sd).max(axis=0)
        for _ in range(60):
            middle = (below + above) / 2
            over = (weight * normal_cdf((middle - mean) / safe)).sum(axis=0) > chance
            above, below = np.where(over, middle, above), np.where(over, below, middle)
        return np.asarray((below + above) / 2)

    if not mean.size:
        return np.zeros(mean.shape[1:]), np.zeros(mean.shape[1:])
    return quantile(low), quantile(high)


def _own(fleet: Fleet, paths: Paths, classes: Classes) -> Floats:
    """Return by how much the 95 % range of each slope is narrower than that of its class, as a share of that."""
    low, high = mixture_range(paths.weight.T, paths.slope.T, np.sqrt(paths.var_slope).T)
    width = (classes.high - classes.low)[fleet.series_class]
    share = np.clip(1 - (high - low) / width, 0.0, 1.0)
    return np.where(np.isfinite(paths.level[:, 0]), share, 0.0)


def _corrected(fleet: Fleet, groups: Groups) -> Bools:
    """Say of which series the last segment was read by an instrument that is tied to a reference."""
    tied = np.zeros(fleet.segments, dtype=bool)
    np.logical_or.at(tied, fleet.segment, groups.to_reference[fleet.instrument])
    read = np.bincount(fleet.segment, minlength=fleet.segments) > 0
    last = np.full(fleet.series, -1)
    np.maximum.at(last, fleet.run_series[fleet.segment_run[read]], np.flatnonzero(read))
    return np.where(last >= 0, tied[last], False)
