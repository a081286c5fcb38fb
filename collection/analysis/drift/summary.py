"""What is told of a fit: paths of series, offsets of instruments, slopes of classes, with the nodes mixed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from collection.analysis.drift import core, pair, present, slopes
from collection.analysis.drift.compare import Groups
from collection.analysis.drift.forecast import quantiles, slope_range
from collection.analysis.drift.found import Classes, Found, Instruments, Paths, Told
from collection.analysis.drift.given import Bools, Fleet, Floats, Ints
from collection.analysis.drift.sites import Held, Sites, Stand, Task

_LOW, _MIDDLE, _HIGH = 0.025, 0.5, 0.975


@dataclass(frozen=True, slots=True, eq=False)
class Shared:
    """What a fit settles for the whole fleet, in G nodes; each series can be judged alone with it.

    weight, wander (G, classes): how likely each node is for a class, and its walk's standard deviation in a year.
    spread (G,), ratio (G, instruments), rate (G,): see sites.Sites. held: offsets and slopes' counts. groups: which
    instruments can be compared.
    """

    weight: Floats
    wander: Floats
    spread: Floats
    ratio: Floats
    rate: Floats
    held: Held
    groups: Groups
    instruments: Instruments
    classes: Classes


def shared_of(
    fleet: Fleet, groups: Groups, task: Task, sites: Sites, stand: Stand, weight: Floats, wander: Floats
) -> Shared:
    """Return what is settled; weight, wander (G, classes) of the nodes."""
    solved = stand.solved
    return Shared(
        weight,
        wander,
        sites.spread,
        sites.ratio,
        sites.rate,
        Held(core.Offsets(solved.offsets, solved.covariance, solved.log_volume), sites.counts),
        groups,
        _instruments(fleet, groups, task, sites, solved, weight),
        _classes(fleet, sites, weight),
    )


def told_of(fleet: Fleet, task: Task, sites: Sites, stand: Stand, shared: Shared, held: Held | None, keep: int) -> Told:
    """Return what is found of each reading and series, a mixture of `keep` components at most for each series."""
    layout = task.layout
    by_run = shared.weight[:, layout.run_class]
    by_reading = by_run[:, layout.run[layout.segment]]
    back = np.empty_like(layout.order)
    back[layout.order] = np.arange(len(layout.order))
    chance = (by_reading * sites.jump).sum(axis=0)
    size = (by_reading * sites.jump * sites.jump_size).sum(axis=0) / np.where(chance > 0, chance, 1.0)
    smooth, smooth_sd = _smooth(sites, stand, by_reading)
    stray = (by_reading * sites.stray).sum(axis=0)
    paths, torn = _paths(fleet, task, sites, stand, shared, held, keep)
    for places, likely in zip(torn.readings, torn.stray, strict=True):
        stray[places] = likely
    offsets = np.where(shared.instruments.to_reference, 0.0, shared.instruments.offset)
    return Told(
        stray=stray[back],
        jump=chance[back],
        jump_size=size[back],
        smooth=smooth[back] - shared.instruments.offset[fleet.instrument] + offsets[fleet.instrument],
        smooth_sd=smooth_sd[back],
        paths=paths,
    )


def found_of(fleet: Fleet, groups: Groups, shared: Shared, told: Told) -> Found:
    """Return the whole of what is found."""
    instruments = shared.instruments
    offsets = np.where(instruments.to_reference, instruments.offset, 0.0)
    return Found(
        told.stray,
        told.jump,
        told.jump_size,
        told.smooth,
        told.smooth_sd,
        told.paths,
        fleet.values - offsets[fleet.instrument],
        own_share(told.paths, fleet.series_class, shared.classes),
        _corrected(fleet, groups),
        instruments,
        shared.classes,
    )


def nothing(fleet: Fleet, groups: Groups) -> Found:
    """Return what is found without a single reading: the classes as they are taken for before anything is known."""
    classes = _class_ranges(fleet, np.repeat(slopes.SHARE[None], fleet.classes, axis=0), np.zeros(fleet.classes))
    none = np.zeros(fleet.instruments)
    instruments = Instruments(groups.group, groups.to_reference, none, none, none, none, none)
    paths = Paths(np.zeros(fleet.series), *_no_level(fleet, 1))
    empty, untold = np.zeros(0), np.zeros(fleet.series)
    told = (empty, empty, empty, empty, empty, paths)
    return Found(*told, empty, untold, untold.astype(bool), instruments, classes)


def _smooth(sites: Sites, stand: Stand, by_reading: Floats) -> tuple[Floats, Floats]:
    """Return the true value at each reading, offset included, with its standard deviation (n,)."""
    left = stand.left
    told = np.isfinite(left.variance)
    share = np.where(told, sites.noise / np.where(told, left.variance, 1.0), 0.0)
    at = stand.shifted + stand.risen - np.where(told, sites.noise * left.score, 0.0)
    mean = (by_reading * at).sum(axis=0)
    variance = sites.noise * np.maximum(1 - share, 0.0) + (at - mean) ** 2
    return mean, np.sqrt((by_reading * variance).sum(axis=0))


def _paths(
    fleet: Fleet, task: Task, sites: Sites, stand: Stand, shared: Shared, held: Held | None, keep: int
) -> tuple[Paths, pair.Torn]:
    layout = task.layout
    runs = present.last_runs(layout)
    node = shared.weight[:, layout.run_class[runs]]
    parts = present.parts_of(task, sites, stand, held)
    flat = [part[:, runs].transpose(1, 0, 2).reshape(len(runs), -1) for part in parts]
    flat[0] = (parts.weight[:, runs] * node[..., None]).transpose(1, 0, 2).reshape(len(runs), -1)
    walk = (shared.wander[:, layout.run_class[runs]] ** 2).T
    flat.append(np.repeat(walk, slopes.COMPONENTS, axis=1))
    rate = (node * sites.rate[:, None]).sum(axis=0)
    kept = _in_doubt(task, rate, runs, present.fewer(flat, keep))
    pairs = pair.pairs_of(task, runs, shared.instruments.offset, pair.node_variances(task, sites, node))
    torn = pair.torn_of(task, pairs, present.melted(kept), rate, (node * walk.T).sum(axis=0))
    for part, better in zip(kept, torn.parts, strict=True):
        missing = part.shape[1] - better.shape[1]
        part[torn.place] = np.pad(better, ((0, 0), (0, missing)), mode="edge")
    kept[0][torn.place, pair.WAYS :] = 0.0
    whole = _no_level(fleet, kept[0].shape[1])
    series = layout.series[runs]
    for filled, part in zip(whole, kept, strict=True):
        filled[series] = part
    return Paths(np.where(np.isfinite(layout.end), layout.end, 0.0), *whole), torn


def _in_doubt(task: Task, each_rate: Floats, runs: Ints, parts: list[Floats]) -> list[Floats]:
    """Add a component for series whose last segment has a single reading, which nothing vouches for.

    It is stray as often as any other reading; then the level is wherever a slip may have been from.
    """
    lone = np.bincount(task.layout.segment)[task.layout.last_segment[runs]] == 1
    rate = np.where(lone, each_rate, 0.0)[:, None]
    _, level, slope, var_level, cov, var_slope, wander = present.melted(parts)
    doubtful = [rate, level, slope, var_level + task.stray, cov, var_slope, wander]
    parts = [parts[0] * (1 - rate), *parts[1:]]
    return [np.concatenate((sure, doubt), axis=1) for sure, doubt in zip(parts, doubtful, strict=True)]


def _no_level(fleet: Fleet, many: int) -> list[Floats]:
    """Return components (series, many) for series without a reading: no level, the slope unknown."""
    shape = (fleet.series, many)
    usual = np.repeat(fleet.usual_slope[fleet.series_class][:, None], many, axis=1)
    nowhere, zero = np.full(shape, np.nan), np.zeros(shape)
    return [np.full(shape, 1 / many), nowhere, zero.copy(), zero.copy(), zero.copy(), usual**2, zero.copy()]


def _instruments(
    fleet: Fleet, groups: Groups, task: Task, sites: Sites, solved: core.Solved, weight: Floats
) -> Instruments:
    count = fleet.instruments
    runs = np.bincount(task.layout.run_class, minlength=task.classes)
    node = weight @ (runs / runs.sum())
    sd = np.sqrt(np.einsum("gkk->gk", solved.covariance)).T
    by_instrument = np.repeat(node[None], len(sd), axis=0)
    low, high = quantiles(by_instrument, solved.offsets.T, sd, (_LOW, _HIGH))
    spread = np.maximum(sites.spread[:, None] * sites.ratio, task.floor)
    told = np.bincount(task.instrument, minlength=count)
    segments = np.zeros(count)
    np.add.at(segments, task.instrument, 1 / np.bincount(task.layout.segment)[task.layout.segment])
    return Instruments(
        group=groups.group,
        to_reference=groups.to_reference,
        offset=_placed(groups, np.clip(node @ solved.offsets, low, high), count),
        low=_placed(groups, low, count),
        high=_placed(groups, high, count),
        repeatability=np.asarray(node @ spread),
        free=np.maximum(told - segments, 0.0),
    )


def _placed(groups: Groups, values: Floats, count: int) -> Floats:
    whole = np.zeros(count)
    whole[groups.compared] = values
    return whole


def _classes(fleet: Fleet, sites: Sites, weight: Floats) -> Classes:
    counts = np.einsum("gc,gck->ck", weight, sites.counts)
    runs = counts.sum(axis=1)
    return _class_ranges(fleet, (slopes.SHARE * slopes.KNOWN + counts) / (slopes.KNOWN + runs[:, None]), runs)


def _class_ranges(fleet: Fleet, share: Floats, runs: Floats) -> Classes:
    usual = fleet.usual_slope[:, None]
    means, sds = usual * slopes.MIDDLE, usual * slopes.SPREAD
    low, middle, high = quantiles(share, means, sds, (_LOW, _MIDDLE, _HIGH))
    return Classes(share, middle, low, high, np.rint(runs).astype(np.int64))


def own_share(paths: Paths, series_class: Ints, classes: Classes) -> Floats:
    """Return by how much the 95 % range of each slope is narrower than that of its class, as a share of that."""
    low, high = slope_range(paths)
    share = np.clip(1 - (high - low) / (classes.high - classes.low)[series_class], 0.0, 1.0)
    return np.where(np.isfinite(paths.level[:, 0]), share, 0.0)


def _corrected(fleet: Fleet, groups: Groups) -> Bools:
    """Say of which series the last segment was read by an instrument that is tied to a reference."""
    tied = np.zeros(fleet.segments, dtype=bool)
    np.logical_or.at(tied, fleet.segment, groups.to_reference[fleet.instrument])
    read = np.bincount(fleet.segment, minlength=fleet.segments) > 0
    last = np.full(fleet.series, -1)
    np.maximum.at(last, fleet.run_series[fleet.segment_run[read]], np.flatnonzero(read))
    return np.where(last >= 0, tied[last], False)
