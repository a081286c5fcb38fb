"""The fit of one measurement over a fleet whose series are all looked at together.

The variances are not estimated and then taken for true: a grid of noise and wandering is gone through, each node is
fitted by sweeps of its sites, and what comes out is the mixture of all nodes by how well they foretell the readings.
Noise and wandering are weighed for each class apart; they share the noise, each class has its own wandering.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from collection.analysis.drift.compare import Groups
from collection.analysis.drift.given import Fleet, Floats
from collection.analysis.drift.layout import layout_of
from collection.analysis.drift.sites import (
    DOUBTS,
    JUMP_WIDTH,
    RATIO_PRIOR,
    STRAY_WIDTH,
    Sites,
    Stand,
    Task,
    evidence,
    first_sites,
    first_spread,
    free_readings,
    jump_chance,
    other_nodes,
    settle,
    stand_of,
)
from collection.analysis.drift.summary import Shared, shared_of

_WANDERS = np.array([0.0, 0.004, 0.012, 0.033, 0.09, 0.25])  # standard deviation in a year, in half widths of limits
_WANDER_CHANCE = np.array([0.1, 0.06, 0.14, 0.4, 0.27, 0.03])  # of each before anything is known
_ALIKE = 0.7  # the chance that all classes wander alike
_AROUND = np.array([-1.5, -0.5, 0.5, 1.5])  # where the second grid of wandering stands, in standard deviations
_SPREADS = (  # where the noise stands likewise, for fewer free readings than so many
    (60.0, np.array([-2.2, -1.1, 0.0, 1.1, 2.2])),
    (250.0, np.array([-1.5, 0.0, 1.5])),
    (np.inf, np.array([0.0])),
)
_SPREAD_PRIOR = 1.2  # standard deviation of the log of the noise before anything is known
_FEW = 30.0  # free readings
# By how much noise is overstated in each sweep of the three stages; more sweeps settle nothing that counts.
_FIRST, _SECOND, _THIRD = (*DOUBTS, 1.0, 1.0, 1.0, 1.0), (1.0,) * 4, (1.0,) * 3
_NEVER = 1e-9  # a chance so small that it counts for nothing
_COARSE = 0.3  # what the first grid of wandering cannot tell, in its log


class Joint(NamedTuple):
    """A fit of all series together: the task, its sites and where they stand, and what is shared."""

    task: Task
    sites: Sites
    stand: Stand
    shared: Shared


def fit_together(fleet: Fleet, groups: Groups) -> Joint:
    """Fit all series of a fleet, which has a reading, in one."""
    task = task_of(fleet, groups)
    start, certain = _start(task)
    plain = _decided(task, start)
    grid = _wander_grid(plain, start) if certain > _FEW else _coarse_grid(task)
    spread = start.spread * np.exp(_spreads(certain) / np.sqrt(2 * certain + 1 / _SPREAD_PRIOR**2))
    wander = np.tile(grid.sd, (len(spread), 1))
    sites = other_nodes(task, start, np.repeat(spread, len(grid.sd)), wander**2)
    settle(plain, sites, _SECOND)
    weighed = stand_of(plain, sites)
    weight = _weights(plain, evidence(plain, sites, weighed), _shared(plain, sites, weighed), grid)
    settle(task, sites, _THIRD)
    stand = stand_of(task, sites)
    return Joint(task, sites, stand, shared_of(fleet, groups, task, sites, stand, weight, wander))


def _decided(task: Task, start: Sites) -> Task:
    """Return the task with every step either a jump or none, as the start found it, to weigh the nodes by.

    Where a step may be both, neighbouring nodes settle in different places, and their evidence is jagged.
    """
    jumps = np.where(start.jump[0] > 0.5, 1 - _NEVER, _NEVER)
    return replace(task, jump_chance=np.where(task.jump_chance > 0, jumps, 0.0))


def task_of(fleet: Fleet, groups: Groups) -> Task:
    """Return what all sweeps rest on."""
    layout = layout_of(fleet)
    instrument = fleet.instrument[layout.order]
    compared = (np.where(instrument == number, 1.0, 0.0) for number in groups.compared)
    return Task(
        layout=layout,
        columns=np.stack([np.ones(len(instrument)), layout.years, *compared]),
        values=fleet.values[layout.order],
        instrument=instrument,
        instruments=fleet.instruments,
        classes=fleet.classes,
        floor=np.maximum(fleet.resolution / np.sqrt(12), 1e-6 * fleet.half_width),
        usual=fleet.usual_slope[layout.run_class],
        usual_slope=fleet.usual_slope,
        half_width=fleet.half_width,
        jump=(JUMP_WIDTH * fleet.half_width) ** 2,
        stray=(STRAY_WIDTH * fleet.half_width) ** 2,
        jump_chance=jump_chance(layout.gap),
    )


def _spreads(free: float) -> Floats:
    """Return where noise is tried, in standard deviations of its log: the surer it is, the fewer."""
    return next(grid for most, grid in _SPREADS if free < most)


class _Wander(NamedTuple):
    """A grid of wandering (nodes, classes): standard deviation in a year and the log of its chance beforehand."""

    sd: Floats
    log_chance: Floats


def _start(task: Task) -> tuple[Sites, float]:
    """Return sites with the likely noise, and on how many free readings that rests."""
    wander = np.full((1, task.classes), (_WANDERS[2] * task.half_width) ** 2)
    sites = first_sites(task, np.array([first_spread(task)]), wander)
    settle(task, sites, _FIRST, fit_spread=True)
    return sites, float(free_readings(task, sites, stand_of(task, sites)).sum())


def _coarse_grid(task: Task) -> _Wander:
    """Return the same grid for every class, for readings too few to say where a finer one should stand."""
    sd = np.repeat(_WANDERS[:, None] * task.half_width, task.classes, axis=1)
    return _Wander(sd, np.repeat(np.log(_WANDER_CHANCE)[:, None], task.classes, axis=1))


def _wander_grid(task: Task, start: Sites) -> _Wander:
    """Return the grid of wandering of each class, around what its readings make likely."""
    coarse = np.repeat(_WANDERS[:, None] * task.half_width, task.classes, axis=1)
    sites = other_nodes(task, start, np.repeat(start.spread, len(coarse)), coarse**2)
    settle(task, sites, _SECOND)
    stand = stand_of(task, sites)
    told = _by_class(task, evidence(task, sites, stand)) + _shared(task, sites, stand)[:, None] / task.classes
    chance = _wander_chance(told)
    logs = told + np.log(chance)
    weight = np.exp(logs[1:] - logs[1:].max(axis=0))
    weight /= weight.sum(axis=0)
    where = np.log(coarse[1:])
    middle = (weight * where).sum(axis=0)
    apart = np.sqrt((weight * (where - middle) ** 2).sum(axis=0) + _COARSE**2)
    fine = middle + _AROUND[:, None] * apart
    log_chance = [np.interp(fine[:, c], where[:, c], np.log(chance[1:, c])) for c in range(task.classes)]
    wide = np.log(apart * (_AROUND[1] - _AROUND[0]) / (where[1, 0] - where[0, 0]))
    sd = np.concatenate((np.zeros((1, task.classes)), np.exp(fine)))
    return _Wander(sd, np.concatenate((np.log(chance[:1]), np.stack(log_chance, axis=1) + wide)))


def _wander_chance(told: Floats) -> Floats:
    """Return the chance of each coarse node (nodes, classes) beforehand.

    Part of it is the same for every class, part is what the other classes say: classes may wander alike or not.
    """
    others = told.sum(axis=1, keepdims=True) - told + np.log(_WANDER_CHANCE)[:, None]
    alike = np.exp(others - others.max(axis=0))
    return np.asarray((1 - _ALIKE) * _WANDER_CHANCE[:, None] + _ALIKE * alike / alike.sum(axis=0))


def _by_class(task: Task, gain: Floats) -> Floats:
    return np.stack([gain[:, task.layout.run_class == c].sum(axis=1) for c in range(task.classes)], axis=1)


def _shared(task: Task, sites: Sites, stand: Stand) -> Floats:
    """Return what belongs to no class (G,): the offsets' freedom, and the noise's chance beforehand and freedom.

    The noise of each instrument is found at its best in each node; the more freely it could have been another, the
    more there is to the node (Laplace's rule).
    """
    free = free_readings(task, sites, stand)
    apart = 2 * np.log(sites.ratio) / RATIO_PRIOR
    noise = -0.5 * (apart**2 + np.log(free / 2 + 1 / RATIO_PRIOR**2)).sum(axis=1)
    unusual = (np.log(sites.spread / first_spread(task)) / _SPREAD_PRIOR) ** 2
    return np.asarray(noise - 0.5 * stand.solved.log_volume - 0.5 * unusual)


def _weights(task: Task, gain: Floats, shared: Floats, wander: _Wander) -> Floats:
    """Return the weight of each node for each class (G, classes)."""
    columns = len(wander.sd)
    rows = len(gain) // columns
    cells = _by_class(task, gain).reshape(rows, columns, -1) + wander.log_chance
    sums = _log_sum(cells, axis=1)  # (spreads, classes)
    others = sums.sum(axis=1, keepdims=True) - sums
    logs = cells + others[:, None, :] + shared.reshape(rows, columns, 1)
    logs -= logs.max(axis=(0, 1), keepdims=True)
    weight = np.exp(logs)
    return np.asarray((weight / weight.sum(axis=(0, 1), keepdims=True)).reshape(rows * columns, -1))


def _log_sum(logs: Floats, axis: int) -> Floats:
    top = logs.max(axis=axis, keepdims=True)
    return np.asarray(np.squeeze(top, axis) + np.log(np.exp(logs - top).sum(axis=axis)))
