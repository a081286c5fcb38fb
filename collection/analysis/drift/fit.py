"""The fit of one measurement over the whole fleet, small or large.

Up to _TOGETHER series are fitted in one. Of a larger fleet a sample is, chosen by the series' places alone, with
every instrument, every pair of instruments that meet, and every class well in it; with what the sample settles (noise,
wandering, offsets, the slopes of classes) each series is then judged by itself. So a new reading changes its own
series, and the others only where the sample has it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from collection.analysis.drift import core
from collection.analysis.drift.compare import Groups, groups_of
from collection.analysis.drift.found import Found, Paths
from collection.analysis.drift.given import Fleet, Floats
from collection.analysis.drift.sample import part_of, sample_of
from collection.analysis.drift.sites import Held, first_sites, settle, stand_of
from collection.analysis.drift.summary import Shared, Told, found_of, nothing, told_of
from collection.analysis.drift.together import fit_together, task_of

_TOGETHER = 800  # series; more are fitted by a sample of so many
_KEEP, _KEEP_OF_MANY = 24, 8  # components of each series
_AT_ONCE = 4000  # series judged together
_LEAST = 0.02  # a node less likely than that for every class is left out
_SWEEPS = 10


def fit_fleet(fleet: Fleet) -> Found:
    """Fit one measurement; what cannot be fitted was refused when the fleet was made (see given.Fleet)."""
    groups = groups_of(fleet)
    if not len(fleet.values):
        return nothing(fleet, groups)
    if is_large(fleet):
        shared = settle_shared(fleet, groups)
        return found_of(fleet, groups, shared, judge_series(fleet, groups, shared))
    joint = fit_together(fleet, groups)
    told = told_of(fleet, joint.task, joint.sites, joint.stand, joint.shared, None, _KEEP)
    return found_of(fleet, groups, joint.shared, told)


def is_large(fleet: Fleet) -> bool:
    """Say whether the series of a fleet are judged one by one, by what a sample has settled."""
    return fleet.series > _TOGETHER


def settle_shared(fleet: Fleet, groups: Groups) -> Shared:
    """Return what a sample of a large fleet settles; groups: of the whole fleet."""
    part, _ = part_of(fleet, sample_of(fleet, _TOGETHER))
    return _likely(fit_together(part, groups).shared)


def judge_series(fleet: Fleet, groups: Groups, shared: Shared) -> Told:
    """Return what is found of each series by itself, by what is settled; groups: as settled."""
    told, readings = [], []
    for first in range(0, fleet.series, _AT_ONCE):
        part, places = part_of(fleet, np.arange(first, min(first + _AT_ONCE, fleet.series)))
        told.append(_judged(part, groups, shared))
        readings.append(places)
    back = np.argsort(np.concatenate(readings), kind="stable")

    def whole(name: str) -> Floats:
        return np.asarray(np.concatenate([getattr(one, name) for one in told])[back])

    return Told(
        whole("stray"),
        whole("jump"),
        whole("jump_size"),
        whole("smooth"),
        whole("smooth_sd"),
        _stacked([one.paths for one in told]),
    )


def _judged(part: Fleet, groups: Groups, shared: Shared) -> Told:
    if not len(part.values):
        empty = np.zeros(0)
        return Told(empty, empty, empty, empty, empty, nothing(part, groups).paths)
    task = task_of(part, groups)
    sites = first_sites(task, shared.spread, shared.wander**2)
    sites.ratio, sites.rate = shared.ratio, shared.rate
    settle(task, sites, _SWEEPS, fresh=True, held=shared.held)
    stand = stand_of(task, sites, shared.held)
    return told_of(part, task, sites, stand, shared, shared.held, _KEEP_OF_MANY)


def _likely(shared: Shared) -> Shared:
    """Return what is settled with the unlikely nodes left out."""
    kept = shared.weight.max(axis=1) >= _LEAST
    weight = shared.weight[kept]
    offsets = core.Offsets(*(part[kept] for part in shared.held.offsets))
    return replace(
        shared,
        weight=weight / weight.sum(axis=0),
        wander=shared.wander[kept],
        spread=shared.spread[kept],
        ratio=shared.ratio[kept],
        rate=shared.rate[kept],
        held=Held(offsets, shared.held.counts[kept]),
    )


def _stacked(paths: list[Paths]) -> Paths:
    """Return the paths of all parts as one; a part with fewer components has the rest with no weight."""
    most = max(one.weight.shape[1] for one in paths)

    def wide(part: Floats, fill: bool) -> Floats:
        missing = most - part.shape[1]
        last = np.repeat(part[:, -1:], missing, axis=1)
        return np.concatenate((part, last if fill else np.zeros_like(last)), axis=1)

    fields = ("level", "slope", "var_level", "cov", "var_slope", "wander")
    return Paths(
        np.concatenate([one.start for one in paths]),
        np.concatenate([wide(one.weight, fill=False) for one in paths]),
        *(np.concatenate([wide(getattr(one, name), fill=True) for one in paths]) for name in fields),
    )
