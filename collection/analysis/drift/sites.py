"""Stray readings, jumps and slopes that are no bell curve, each stood for by a normal that the others agree with.

Expectation propagation (Minka, UAI 2001, section 3, whose example is just this: a signal among clutter): a reading is
good or stray, a step of the walk is small or a jump, a slope comes from a mixture. What all others say of it (the
cavity) is combined with what it may be, and the normal with the same mean and variance takes its place (its site).
Sweeps are repeated a fixed number of times. They begin with readings that are all in doubt and settle from there, so
that several stray readings cannot vouch for one another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np

from collection.analysis.drift import core, slopes
from collection.analysis.drift.given import Bools, Floats, Ints
from collection.analysis.drift.layout import Layout

_SURE = 1e-3  # a jump less likely than that keeps the step a small one
_STILL = 0.1
_DAMPING = 0.7
STRAY = 0.03  # share of readings that are stray before anything is known; common practice, no source
STRAY_WIDTH = 2.0  # how far off they are, in half widths of usual limits: what slipped, not what is noisy
_JUMPS_A_YEAR = 0.01  # level jumps without a service, for each series; common practice, no source
JUMP_WIDTH = 0.5  # size of a jump, in half widths of usual limits
_STRAY_SHRUNK_BY = 40.0  # the share of stray readings is drawn to that as if by so many readings
RATIO_PRIOR = 1.6  # standard deviation of the log of an instrument's variance, against that of all together
_NEWTON = 6
DOUBTS = (100.0, 30.0, 10.0, 4.0, 2.0)  # by how much noise is overstated in the first sweeps


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """What stays the same in all sweeps.

    columns (2 + K, n): ones, years, compared instruments. values (n,), instrument (n,), series_class per run in
    `layout`. floor (instruments,): least standard deviation. usual (runs,). jump, stray: variances of what a jump
    or a slip is off by; jump_chance (n,).
    """

    layout: Layout
    columns: Floats
    values: Floats
    instrument: Ints
    instruments: int
    classes: int
    floor: Floats
    usual: Floats
    usual_slope: Floats
    half_width: float
    jump: float
    stray: float
    jump_chance: Floats


@dataclass(slots=True, eq=False)
class Sites:
    """The present normals of G nodes and what they rest on; changed from sweep to sweep.

    spread (G,): standard deviation of all instruments together; ratio (G, instruments): of each to that. rate (G,):
    share of stray readings. wander (G, n): variance of each step of the walk where it does not jump. noise, value
    (G, n): variance and place of each reading's site; step, step_mean (G, n): of each step's. precision, mean
    (G, runs): of each slope's. part: what slopes.judge said last; counts its sums. stray, jump (G, n): probabilities;
    errors: the expected square of each reading's error times the probability that it is good.
    """

    spread: Floats
    ratio: Floats
    rate: Floats
    wander: Floats
    noise: Floats
    value: Floats
    step: Floats
    step_mean: Floats
    precision: Floats
    mean: Floats
    part: Floats
    counts: Floats
    stray: Floats
    errors: Floats
    jump: Floats
    jump_size: Floats


def jump_chance(gap: Floats) -> Floats:
    """Return the chance of a jump in a time in years, before anything is known."""
    return -np.expm1(-_JUMPS_A_YEAR * gap)


def first_sites(task: Task, spread: Floats, wander: Floats) -> Sites:
    """Return sites that know nothing yet; spread (G,), wander (G, classes): variance of the walk a year."""
    layout, nodes, count = task.layout, len(spread), len(task.values)
    walk = _walk(layout, wander)
    none = np.zeros((nodes, count))
    part = np.zeros((nodes, layout.runs, slopes.COMPONENTS))
    broad = (2 * task.usual) ** 2
    return Sites(
        spread=spread,
        ratio=np.ones((nodes, task.instruments)),
        rate=np.full(nodes, STRAY),
        wander=walk,
        noise=np.repeat(spread[:, None] ** 2 * DOUBTS[0], count, axis=1),
        value=np.repeat(task.values[None], nodes, axis=0),
        step=walk + task.jump_chance * task.jump,
        step_mean=none.copy(),
        precision=np.repeat(1 / broad[None], nodes, axis=0),
        mean=np.zeros((nodes, layout.runs)),
        part=part,
        counts=slopes.even_weights(nodes, task.classes),
        stray=none.copy(),
        errors=none.copy(),
        jump=none.copy(),
        jump_size=none.copy(),
    )


def other_nodes(task: Task, sites: Sites, spread: Floats, wander: Floats) -> Sites:
    """Return the sites of one node as the first ones of many, whose spread (G,) and wander (G, classes) differ."""
    many = {field.name: np.repeat(getattr(sites, field.name), len(spread), axis=0) for field in fields(Sites)}
    walk = _walk(task.layout, wander)
    many["step"] = np.where(many["jump"] > _SURE, many["step"], walk + many["jump"] * task.jump)
    return Sites(**many | {"spread": spread, "wander": walk})


def _walk(layout: Layout, wander: Floats) -> Floats:
    return wander[:, layout.run_class[layout.run[layout.segment]]] * layout.gap


class Stand(NamedTuple):
    """Where the sites have come to: the posterior, what each reading's others say, and the values as solved for.

    risen (G, n): how far the jumps that are taken for sure have come; shifted: the sites' values less that.
    """

    solved: core.Solved
    left: core.LeftOut
    risen: Floats
    shifted: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """What a sample of the fleet has settled, so that each series can be judged alone: offsets, slopes' counts."""

    offsets: core.Offsets
    counts: Floats


def stand_of(task: Task, sites: Sites, held: Held | None = None) -> Stand:
    """Solve under the present sites."""
    layout = task.layout
    noise = core.Noise(sites.noise, sites.step, sites.precision, sites.mean)
    risen = _risen(layout, sites.step_mean)
    shifted = sites.value - risen
    solved = core.solve(layout, task.columns, shifted, noise, None if held is None else held.offsets)
    return Stand(solved, core.leave_out(layout, solved), risen, shifted)


def settle(
    task: Task, sites: Sites, doubts: Sequence[float], *, fit_spread: bool = False, held: Held | None = None
) -> Bools:
    """Renew every site once for each doubt: by how much noise is overstated in that sweep.

    Returns which readings still move (n,): by more than a tenth of their own width in any node.
    """
    before = sites.noise, sites.value
    for number, doubt in enumerate(doubts):
        before = sites.noise, sites.value
        damping = 1.0 if number == 0 and doubt > 1 else _DAMPING
        stand = stand_of(task, sites, held)
        _readings(task, sites, stand.left, damping, doubt)
        if held is None:
            _shared(task, sites, stand.left, fit_spread=fit_spread and number >= 2)
        _steps(task, sites, stand.left, damping)
        _slopes(task, sites, stand.solved, damping, held)
        if doubt == 1.0 and not np.isfinite(stand.left.variance).any():
            break  # no reading vouches for another: nothing is left to settle
    noise, value = before
    moved = np.maximum(np.abs(sites.value - value) / np.sqrt(noise), np.abs(np.log(sites.noise / noise)))
    return np.asarray((moved > _STILL).any(axis=0))


def _variances(task: Task, sites: Sites) -> Floats:
    """Return the variance of a good reading of each instrument (G, instruments)."""
    return np.maximum(sites.spread[:, None] * sites.ratio, task.floor) ** 2


def _readings(task: Task, sites: Sites, left: core.LeftOut, damping: float, overstated: float) -> None:
    """Renew the site of each reading: good, or stray."""
    good = _variances(task, sites)[:, task.instrument] * overstated
    told = np.isfinite(left.variance)
    cavity = np.where(told, np.maximum(left.variance - sites.noise, 1e-3 * good), 1.0)
    apart = task.values - (sites.value - left.residual)  # from where the others expect it
    chance, mean, variance, sites.errors = _tilted(apart, cavity, good, good + task.stray, sites.rate[:, None])
    stray = np.where(told, chance, 0.0)
    least = 0.1 / (good + task.stray)
    precision = np.clip(1 / variance - 1 / cavity, least, 1 / good)
    place = (mean / variance) / precision  # the cavity's own mean is 0 here
    place = np.where(1 / variance - 1 / cavity > least, place, apart)
    place = apart + np.clip(place - apart, -3 * np.sqrt(cavity + good), 3 * np.sqrt(cavity + good))
    _blend(sites, "noise", "value", precision, task.values - apart + place, told, good, damping, task.values)
    sites.stray = stray


def _shared(task: Task, sites: Sites, left: core.LeftOut, *, fit_spread: bool) -> None:
    """Renew what all readings have in common: how many are stray, and the noise of each instrument."""
    told = np.isfinite(left.variance)
    sites.rate = (sites.stray.sum(axis=1) + STRAY * _STRAY_SHRUNK_BY) / (told.sum(axis=1) + _STRAY_SHRUNK_BY)
    _renew_ratio(task, sites, told, fit_spread=fit_spread)


def _tilted(
    apart: Floats, cavity: Floats, good: Floats, wide: Floats, rate: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Combine cavities N(0, cavity) with readings at `apart` that are good or stray.

    Returns the chance of stray, mean and variance of the true value, and the expected square of the error times the
    chance that the reading is good.
    """
    log_good = np.log1p(-rate) - 0.5 * (np.log(cavity + good) + apart**2 / (cavity + good))
    log_wide = np.log(rate) - 0.5 * (np.log(cavity + wide) + apart**2 / (cavity + wide))
    chance = 1 / (1 + np.exp(np.clip(log_good - log_wide, -700, 700)))
    share_good, share_wide = cavity / (cavity + good), cavity / (cavity + wide)
    mean_good, mean_wide = share_good * apart, share_wide * apart
    mean = (1 - chance) * mean_good + chance * mean_wide
    within = (1 - chance) * share_good * good + chance * share_wide * wide
    variance = within + chance * (1 - chance) * (mean_good - mean_wide) ** 2
    errors = (1 - chance) * ((apart - mean_good) ** 2 + share_good * good)
    return chance, mean, variance, errors


def _blend(
    sites: Sites,
    noise: str,
    value: str,
    precision: Floats,
    place: Floats,
    told: Floats,
    plain: Floats,
    damping: float,
    own: Floats,
) -> None:
    """Move sites towards new ones in their natural parameters; one nobody tells of stays plain."""
    old = 1 / getattr(sites, noise)
    mixed = (1 - damping) * old + damping * precision
    where = ((1 - damping) * old * getattr(sites, value) + damping * precision * place) / mixed
    setattr(sites, noise, np.where(told, 1 / mixed, plain))
    setattr(sites, value, np.where(told, where, own))


def _renew_ratio(task: Task, sites: Sites, told: Bools, *, fit_spread: bool) -> None:
    """Estimate the noise of each instrument from the expected squares of errors, drawn to that of all in its log.

    Stray readings are left out: they are as far off as they like, whatever the noise.
    """
    good_ones = np.where(told, 1 - sites.stray, 0.0)
    sums = core.sums_by(task.instrument, np.where(told, sites.errors, 0.0), task.instruments)
    counts = core.sums_by(task.instrument, good_ones, task.instruments)
    if fit_spread:
        total, many = sums.sum(axis=1), counts.sum(axis=1)
        prior = 2.0
        sites.spread = np.sqrt((total + prior * first_spread(task) ** 2) / (many + prior))
    sums /= sites.spread[:, None] ** 2
    log_ratio = np.log((sums + 0.5) / (counts + 0.5))
    for _ in range(_NEWTON):
        half = sums / 2 * np.exp(-log_ratio)
        pull = half - counts / 2 - log_ratio / RATIO_PRIOR**2
        log_ratio = log_ratio + pull / (np.maximum(half, counts / 4) + 1 / RATIO_PRIOR**2)
    sites.ratio = np.exp(log_ratio / 2)


def first_spread(task: Task) -> float:
    """Return the size of noise that is nothing unusual: an eighth of the size of a jump."""
    return float(np.sqrt(task.jump)) / 8


def _steps(task: Task, sites: Sites, left: core.LeftOut, damping: float) -> None:
    """Renew the site of each step of the walk: small, or a jump."""
    told = np.isfinite(left.step_variance) & (task.layout.gap > 0)
    cavity = np.where(told, np.maximum(left.step_variance - sites.step, 1e-6 * task.jump), 1.0)
    rise = left.step + sites.step_mean
    small, big = sites.wander, sites.wander + task.jump
    log_small = np.log1p(-task.jump_chance) - 0.5 * (np.log(cavity + small) + rise**2 / (cavity + small))
    log_big = np.log(np.maximum(task.jump_chance, 1e-12)) - 0.5 * (np.log(cavity + big) + rise**2 / (cavity + big))
    chance = 1 / (1 + np.exp(np.clip(log_small - log_big, -700, 700)))
    mean_small, mean_big = small / (cavity + small) * rise, big / (cavity + big) * rise
    mean = (1 - chance) * mean_small + chance * mean_big
    variance = (1 - chance) * small * cavity / (cavity + small) + chance * big * cavity / (cavity + big)
    variance += chance * (1 - chance) * (mean_small - mean_big) ** 2
    precision = np.where(variance > 0, 1 / np.where(variance > 0, variance, 1.0), np.inf)
    least = 1 / (small + task.jump)
    precision = np.clip(precision - 1 / cavity, least, 1e12 / task.jump)
    place = mean / np.maximum(variance, 1e-300) - rise / cavity
    place = np.where(chance > _SURE, place / precision, 0.0)
    place = np.clip(place, -np.abs(rise) - np.sqrt(cavity), np.abs(rise) + np.sqrt(cavity))
    step = np.where(chance > _SURE, 1 / precision, small + chance * task.jump)
    sites.step = np.where(told, (1 - damping) * sites.step + damping * step, small)
    sites.step_mean = np.where(told, (1 - damping) * sites.step_mean + damping * place, 0.0)
    sites.jump = np.where(told, chance, 0.0)
    sites.jump_size = np.where(told, mean_big, 0.0)


def _cavity_of_slopes(sites: Sites, solved: core.Solved) -> tuple[Floats, Floats]:
    """Return what the readings alone say of each slope: mean and precision (G, runs)."""
    total = 1 / solved.slope_variance
    known = np.maximum(total - sites.precision, 0.0)
    known = np.where(known > 1e-9 * total, known, 0.0)
    weighted = solved.slope * total - sites.precision * sites.mean
    return np.where(known > 0, weighted / np.where(known > 0, known, 1.0), 0.0), known


def judged(task: Task, sites: Sites, solved: core.Solved, held: Held | None) -> tuple[slopes.Judged, Floats, Floats]:
    """Return what the mixture of its class says of each slope, with mean and precision of the readings alone."""
    mean, known = _cavity_of_slopes(sites, solved)
    counts, own = (sites.counts, sites.part) if held is None else (held.counts, np.zeros(1))
    return slopes.judge(mean, known, task.usual, task.layout.run_class, counts, own), mean, known


def _slopes(task: Task, sites: Sites, solved: core.Solved, damping: float, held: Held | None) -> None:
    """Renew the site of each slope from the mixture of its class."""
    now, mean, known = judged(task, sites, solved, held)
    least = 0.02 * known + 1 / (30 * task.usual) ** 2
    precision = np.maximum(1 / now.variance - known, least)
    middle = (now.mean * (precision + known) - known * mean) / precision
    mixed = (1 - damping) * sites.precision + damping * precision
    pulled = (1 - damping) * sites.precision * sites.mean + damping * precision * middle
    sites.precision, sites.mean = mixed, pulled / mixed
    if held is None:
        sites.part = (1 - damping) * sites.part + damping * now.part
        sites.counts = slopes.counted(sites.part, task.layout.run_class, task.classes)


def _risen(layout: Layout, step_mean: Floats) -> Floats:
    """Return the sums of the steps' means along each segment (G, n)."""
    if not step_mean.any():
        return np.zeros_like(step_mean)
    risen = np.empty_like(step_mean)
    held = np.zeros((len(step_mean), layout.segments))
    for start, reach in zip(layout.starts, layout.counts, strict=True):
        held[:, :reach] += step_mean[:, start : start + reach]
        risen[:, start : start + reach] = held[:, :reach]
    return risen


def evidence(task: Task, sites: Sites, stand: Stand) -> Floats:
    """Return the log of how well each run is foretold (G, runs), offsets at their best.

    The evidence of expectation propagation: that of the sites, and for each site how much better the cavity is met
    by what it stands for.
    """
    layout, solved = task.layout, stand.solved
    noise = core.Noise(sites.noise, sites.step, sites.precision, sites.mean)
    clean = stand.shifted - np.einsum("kn,gk->gn", task.columns[2:], solved.offsets)
    whole = core.run_likelihood(layout, clean, stand.left.score, noise, solved)
    per_reading = _reading_gain(task, sites, stand.left) + _step_gain(task, sites, stand.left)
    whole += layout.of_runs(core.sums_by(layout.segment, per_reading, layout.segments))
    now, mean, known = judged(task, sites, solved, None)
    share = 1 + known / sites.precision
    site = -0.5 * (np.log(share) + known * (mean - sites.mean) ** 2 / share)
    return np.asarray(whole + now.log_chance - site)


def free_readings(task: Task, sites: Sites, stand: Stand) -> Floats:
    """Return how many readings of each instrument are not taken up by levels, slopes and offsets (G, instruments)."""
    told = np.isfinite(stand.left.variance)
    free = np.where(told, (1 - sites.stray) * sites.noise / np.where(told, stand.left.variance, 1.0), 0.0)
    return core.sums_by(task.instrument, free, task.instruments)


def _reading_gain(task: Task, sites: Sites, left: core.LeftOut) -> Floats:
    good = _variances(task, sites)[:, task.instrument]
    told = np.isfinite(left.variance)
    cavity = np.where(told, np.maximum(left.variance - sites.noise, 0.0), 1.0)
    apart = task.values - (sites.value - left.residual)
    wide = good + task.stray
    rate = sites.rate[:, None]
    chance = (1 - rate) * _density(apart, cavity + good) + rate * _density(apart, cavity + wide)
    gain = np.log(np.maximum(chance, 1e-300)) - _log_density(left.residual, cavity + sites.noise)
    return np.where(told, gain, 0.0)


def _step_gain(task: Task, sites: Sites, left: core.LeftOut) -> Floats:
    told = np.isfinite(left.step_variance) & (task.layout.gap > 0)
    cavity = np.where(told, np.maximum(left.step_variance - sites.step, 0.0), 1.0)
    rise = left.step + sites.step_mean
    small, big = cavity + sites.wander, cavity + sites.wander + task.jump
    chance = (1 - task.jump_chance) * _density(rise, np.maximum(small, 1e-300)) + task.jump_chance * _density(rise, big)
    gain = np.log(np.maximum(chance, 1e-300)) - _log_density(left.step, np.maximum(cavity + sites.step, 1e-300))
    return np.where(told, gain, 0.0)


def _density(apart: Floats, variance: Floats) -> Floats:
    return np.exp(_log_density(apart, variance))


def _log_density(apart: Floats, variance: Floats) -> Floats:
    return -0.5 * (np.log(2 * np.pi * variance) + apart**2 / variance)
