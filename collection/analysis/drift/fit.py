"""The fit of one measurement over the whole fleet, small or large.

Up to _TOGETHER series are fitted in one. Of a larger fleet a sample is, chosen by the series' places alone, with
every instrument, every pair of instruments that meet, and every class well in it; with what the sample settles (noise,
wandering, offsets, the slopes of classes) each series is then judged by itself. So a new reading changes its own
series, and the others only where the sample has it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from collection.analysis.drift import core
from collection.analysis.drift.compare import Groups, groups_of, same_groups
from collection.analysis.drift.found import Found, Paths, Told
from collection.analysis.drift.given import Fleet, Floats, Ints
from collection.analysis.drift.sample import before, part_of, sample_of
from collection.analysis.drift.sites import DOUBTS, Held, first_sites, settle, stand_of
from collection.analysis.drift.summary import Shared, found_of, nothing, told_of
from collection.analysis.drift.together import fit_together, task_of

_TOGETHER = 800  # series; more are fitted by a sample of so many
_KEEP, _KEEP_OF_MANY = 24, 8  # components of each series
_AT_ONCE = 4000  # series judged together
_LEAST = 0.1  # a node less likely than that for every class is left out
# The sweeps of a series by itself: by how much noise is overstated in each.
_QUICK, _THOROUGH = (10.0, 1.0, 1.0, 1.0), (*DOUBTS, *(1.0,) * 6)


def fit_fleet(fleet: Fleet) -> Found:
    """Fit one measurement; what cannot be fitted was refused when the fleet was made (see given.Fleet)."""
    groups = groups_of(fleet)
    if not len(fleet.values):
        return nothing(fleet, groups)
    if is_large(fleet):
        return fit_by(fleet, settle_shared(fleet, groups)[0])
    joint = fit_together(fleet, groups)
    told = told_of(fleet, joint.task, joint.sites, joint.stand, joint.shared, None, _KEEP)
    return found_of(fleet, groups, joint.shared, told)


def is_large(fleet: Fleet) -> bool:
    """Say whether the series of a fleet are judged one by one, by what a sample has settled."""
    return fleet.series > _TOGETHER


def settle_shared(fleet: Fleet, groups: Groups, until: float | None = None) -> tuple[Shared, bool]:
    """Return what a sample of a large fleet settles, and whether later readings had no say; groups: of the whole fleet.

    until: only the readings before that time (in years) settle it, so that later ones change their own series alone;
    unless instruments are tied by later ones only.
    """
    early = fleet if until is None else before(fleet, until)
    alone = until is not None and same_groups(groups, groups_of(early))
    chosen = early if alone else fleet
    part, _ = part_of(chosen, sample_of(chosen, _TOGETHER))
    return _likely(fit_together(part, groups).shared), alone


def fit_by(fleet: Fleet, shared: Shared) -> Found:
    """Fit each series of a fleet by itself, by what is settled for its instruments and classes."""
    return found_of(fleet, shared.groups, shared, judge_series(fleet, shared.groups, shared))


def judge_series(fleet: Fleet, groups: Groups, shared: Shared) -> Told:
    """Return what is found of each series by itself, by what is settled; groups: as settled.

    Most series are settled after a few sweeps; the others begin again, with all the doubt that there is.
    """
    told, readings = [], []
    for first in range(0, fleet.series, _AT_ONCE):
        part, places = part_of(fleet, np.arange(first, min(first + _AT_ONCE, fleet.series)))
        told.append(_judged_twice(part, groups, shared))
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


def _judged_twice(part: Fleet, groups: Groups, shared: Shared) -> Told:
    told, moving = _judged(part, groups, shared, _QUICK)
    if len(moving):
        again, places = part_of(part, moving)
        slow, _ = _judged(again, groups, shared, _THOROUGH)
        for name in ("stray", "jump", "jump_size", "smooth", "smooth_sd"):
            getattr(told, name)[places] = getattr(slow, name)
        one, other = _padded(told.paths, slow.paths.weight.shape[1]), _padded(slow.paths, told.paths.weight.shape[1])
        for mine, better in zip(one, other, strict=True):
            mine[moving] = better
        told = replace(told, paths=Paths(*one))
    return told


def _judged(part: Fleet, groups: Groups, shared: Shared, doubts: Sequence[float]) -> tuple[Told, Ints]:
    """Return what is found of a part of the fleet, and which of its series have not settled."""
    if not len(part.values):
        empty = np.zeros(0)
        return Told(empty, empty, empty, empty, empty, nothing(part, groups).paths), np.zeros(0, dtype=np.int64)
    task = task_of(part, groups)
    sites = first_sites(task, shared.spread, shared.wander**2)
    sites.ratio, sites.rate = shared.ratio, shared.rate
    moves = settle(task, sites, doubts, held=shared.held)
    stand = stand_of(task, sites, shared.held)
    moving = np.unique(task.layout.series[task.layout.run[task.layout.segment[moves]]])
    return told_of(part, task, sites, stand, shared, shared.held, _KEEP_OF_MANY), moving


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
    """Return the paths of all parts as one."""
    most = max(one.weight.shape[1] for one in paths)
    return Paths(*(np.concatenate(parts) for parts in zip(*(_padded(one, most) for one in paths), strict=True)))


def _padded(paths: Paths, many: int) -> list[Floats]:
    """Return the fields of paths with at least so many components; those that are added have no weight."""
    missing = max(0, many - paths.weight.shape[1])

    def wide(part: Floats, last: Floats) -> Floats:
        return np.concatenate((part, np.repeat(last, missing, axis=1)), axis=1)

    others = (paths.level, paths.slope, paths.var_level, paths.cov, paths.var_slope, paths.wander)
    no_weight = np.zeros((len(paths.start), 1))
    return [paths.start.copy(), wide(paths.weight, no_weight), *(wide(part, part[:, -1:]) for part in others)]
