"""How honest a fit is on simulated fleets, with what the oracle gets on the same ones beside each figure.

Figures are pooled over the fleets of a scenario; their standard errors allow for units of one fleet erring together.
A goal counts as met when it lies within two standard errors. The goals are those of `GOALS`.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple, Protocol

import numpy as np

from collection.analysis.drift.forecast import chance_outside, range_on, slope_range
from collection.analysis.drift.found import Instruments, Paths
from collection.analysis.drift.given import Bools, Fleet, Floats, Ints
from tests.support.fleet_oracle import ask_oracle
from tests.support.simulated_fleets import CRYSTAL, Scenario, Truth, make_fleet

LIMITS = (1.0, 0.25, 0.5, 0.75, 1.5, 2.0)
BINS = (0.0, 0.02, 0.10, 0.30, 0.70, 0.90, 1.0)
GROUPS = 20
NORMAL_95 = 1.959963984540054


class Figure(NamedTuple):
    """A figure with its standard error, and the range it should lie in; NaN where there was nothing to count."""

    value: float
    error: float
    low: float = -np.inf
    high: float = np.inf

    @property
    def met(self) -> bool:
        """Whether the goal lies within two standard errors; what was not seen at all meets any goal."""
        return not (self.value + 2 * self.error < self.low or self.value - 2 * self.error > self.high)


class Goals(NamedTuple):
    """What each figure of a scenario should be."""

    slope: tuple[float, float] = (0.92, 0.99)
    year: tuple[float, float] = (0.87, 0.96)
    width: tuple[float, float] = (0.0, 1.25)
    area: tuple[float, float] = (0.985, 1.0)
    caught: tuple[float, float] = (0.90, 1.0)
    offset: tuple[float, float] = (0.93, 0.98)
    answered: tuple[float, float] = (0.98, 1.0)


GOALS = Goals()
GOALS_OF_30 = Goals(area=(0.99, 1.0), caught=(0.93, 1.0))


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What came of what was said, per series: answered, drifting (not of a crystal), readings; NaN where unanswered.

    slope_in: 1 where the 95 % interval has the true slope; year_in: where the 90 % range one year ahead has the true
    value, width: of that range. chance, out: series times `LIMITS`, said and seen; the units are found by the first
    of them, the chances are judged at all. inside: not yet outside the first.
    offset_in: per instrument that is compared with the reference. fleet, offset_fleet: which fleet each belongs to.
    """

    fleet: Ints
    answered: Bools
    drifting: Bools
    readings: Ints
    slope_in: Floats
    year_in: Floats
    width: Floats
    chance: Floats
    out: Floats
    inside: Bools
    offset_in: Floats
    offset_fleet: Ints


@dataclass(frozen=True, slots=True)
class Score:
    """The figures of one scenario.

    slope: coverage of 95 % intervals of classes that drift. year: coverage of 90 % ranges one year ahead. width: of
    those ranges against the oracle's, mean of the ratios. area, caught: of all units, how well the chance to be
    outside +-1 % in a year tells those that will be (area under the curve; share found at 5 % false alarms). leaving:
    the area among units that are inside now. offset: coverage of 95 % intervals. answered: of series of two readings
    or more. bins: per bin of chances said, what was seen less what was said. seconds: the time of one fit.
    """

    slope: Figure
    year: Figure
    width: Figure
    area: Figure
    caught: Figure
    leaving: Figure
    offset: Figure
    answered: Figure
    bins: tuple[Figure, ...]
    seconds: float

    def missed(self) -> list[str]:
        """Return a line for each figure that misses its goal."""
        named = {name: getattr(self, name) for name in Goals._fields}
        for number, figure in enumerate(self.bins):
            named[f"chances said from {BINS[number]:.0%} to {BINS[number + 1]:.0%}, seen less said"] = figure
        return [
            f"{name}: {one.value:.4f}, standard error {one.error:.4f}, goal {one.low:.3f} to {one.high:.3f}"
            for name, one in named.items()
            if not one.met
        ]


class Fit(Protocol):
    """What is judged of a fit: a Found has it."""

    @property
    def paths(self) -> Paths:
        """Where the true values are and go."""

    @property
    def instruments(self) -> Instruments:
        """What the instruments read against the reference."""


class Gathered(NamedTuple):
    """What came of what a fit said, and the oracle, of the same fleets; seconds of the processor for one fit."""

    found: Seen
    oracle: Seen
    seconds: float


def score(scenario: Scenario, fit: Callable[[Fleet], Fit], fleets: int) -> tuple[Score, Score]:
    """Return the figures of a fit over so many fleets of a scenario, and those of the oracle on the same fleets."""
    return scores([gather(scenario, fit, fleets)], GOALS_OF_30 if scenario.units >= 30 else GOALS)


def gather(scenario: Scenario, fit: Callable[[Fleet], Fit], fleets: int, first: int = 0) -> Gathered:
    """Return what came of the first fleets of a scenario, numbered from `first` on so that others can be added."""
    found_seen, oracle_seen, seconds = [], [], 0.0
    for number in range(fleets):
        fleet, truth = make_fleet(scenario, number)
        began = time.process_time()
        found = fit(fleet)
        seconds += time.process_time() - began
        given = found.instruments
        compared = given.to_reference & ~fleet.reference
        held = ((given.low <= truth.offset) & (truth.offset <= given.high))[compared]
        found_seen.append(look(fleet, truth, found.paths, held, first + number))
        oracle = ask_oracle(fleet, truth)
        held = (np.abs(oracle.offset - truth.offset) <= NORMAL_95 * np.sqrt(oracle.variance))[1:]
        oracle_seen.append(look(fleet, truth, oracle.paths, held, first + number))
    return Gathered(_together(found_seen), _together(oracle_seen), seconds / fleets)


def scores(gathered: list[Gathered], goals: Goals = GOALS) -> tuple[Score, Score]:
    """Return the figures of a fit over all that was gathered, and those of the oracle."""
    found = _together([one.found for one in gathered])
    oracle = _together([one.oracle for one in gathered])
    seconds = sum(one.seconds for one in gathered) / len(gathered)
    ratio = found.width / oracle.width
    return _scored(found, ratio, goals, seconds), _scored(oracle, ratio * 0 + 1, goals, 0.0)


def look(fleet: Fleet, truth: Truth, paths: Paths, offset_in: Bools, number: int) -> Seen:
    """Return what came of what these paths say of a fleet."""
    year = paths.start + 1
    slope_low, slope_high = slope_range(paths, 0.95)
    low, high = range_on(paths, year, 0.90)
    bounds = [np.full(fleet.series, limit) for limit in LIMITS]
    chance = np.column_stack([chance_outside(paths, year, -bound, bound) for bound in bounds])
    said = np.column_stack([paths.level, slope_low, slope_high, low, high, chance])
    answered = np.asarray(np.isfinite(said).all(axis=1))

    def known(values: Floats | Bools) -> Floats:
        return np.where(answered, values, np.nan)

    return Seen(
        fleet=np.full(fleet.series, number),
        answered=answered,
        drifting=fleet.series_class != CRYSTAL,
        readings=np.bincount(fleet.run_series[fleet.segment_run[fleet.segment]], minlength=fleet.series),
        slope_in=known((slope_low <= truth.slope) & (truth.slope <= slope_high)),
        year_in=known((low <= truth.year) & (truth.year <= high)),
        width=known(high - low),
        chance=np.where(answered[:, None], chance, np.nan),
        out=np.column_stack([truth.leaves(limit) for limit in LIMITS]).astype(np.float64),
        inside=np.abs(truth.now) <= LIMITS[0],
        offset_in=offset_in.astype(np.float64),
        offset_fleet=np.full(len(offset_in), number),
    )


def _together(seen: list[Seen]) -> Seen:
    return Seen(*(np.concatenate([getattr(one, name) for one in seen]) for name in Seen.__slots__))


def _scored(seen: Seen, ratio: Floats, goals: Goals, seconds: float) -> Score:
    first, out = seen.chance[:, 0], seen.out[:, 0] > 0
    more = seen.readings >= 2
    drifting = np.where(seen.drifting, seen.slope_in, np.nan)
    return Score(
        slope=share(drifting, seen.fleet, goals.slope),
        year=share(seen.year_in, seen.fleet, goals.year),
        width=mean(ratio, seen.fleet, goals.width),
        area=jackknifed(area, first, out, seen.fleet, goals.area),
        caught=jackknifed(caught, first, out, seen.fleet, goals.caught),
        leaving=jackknifed(area, np.where(seen.inside, first, np.nan), out, seen.fleet, (0.0, 1.0)),
        offset=share(seen.offset_in, seen.offset_fleet, goals.offset),
        answered=share(seen.answered[more].astype(np.float64), seen.fleet[more], goals.answered),
        bins=tuple(_bin(seen, low, high) for low, high in pairwise(BINS)),
        seconds=seconds,
    )


def _bin(seen: Seen, low: float, high: float) -> Figure:
    """Return seen less said where the chance said lies in a bin, within 5 points as far as chance can tell."""
    inside = (seen.chance >= low) & ((seen.chance < high) | (high == 1))
    away = np.where(inside, seen.out - seen.chance, np.nan)
    fleet = np.repeat(seen.fleet[:, None], len(LIMITS), axis=1)
    found = mean(away.ravel(), fleet.ravel(), (-0.05, 0.05))
    count, said = inside.sum(), seen.chance[inside].mean() if inside.any() else np.nan
    binomial = float(np.sqrt(said * (1 - said) / count)) if count else np.nan
    return found._replace(error=max(found.error, binomial))


def share(values: Floats, fleet: Ints, goal: tuple[float, float]) -> Figure:
    """Return the share of ones; its standard error is never below the binomial one, nor nought at 0 or 1."""
    found, count = mean(values, fleet, goal), int(np.isfinite(values).sum())
    if not count:
        return found
    smooth = (np.nansum(values) + 1) / (count + 2)
    return found._replace(error=max(found.error, float(np.sqrt(smooth * (1 - smooth) / count))))


def mean(values: Floats, fleet: Ints, goal: tuple[float, float]) -> Figure:
    """Return the mean of what is not NaN, with the standard error of a ratio of totals of fleets."""
    used = np.isfinite(values)
    if not used.any():
        return Figure(np.nan, np.nan, *goal)
    values, fleet = values[used], fleet[used]
    middle = float(values.mean())
    totals = np.bincount(fleet - fleet.min(), weights=values - middle)
    fleets = len(np.unique(fleet))
    spread = float(np.sqrt((totals**2).sum() * fleets / max(1, fleets - 1))) / len(values)
    return Figure(middle, spread, *goal)


def area(chance: Floats, out: Bools) -> float:
    """Return the area under the curve: how often a unit that will be out has a higher chance than one that won't."""
    hits, others = chance[out], np.sort(chance[~out])
    if not (len(hits) and len(others)):
        return np.nan
    below, upto = np.searchsorted(others, hits), np.searchsorted(others, hits, "right")
    return float((below + upto).mean() / 2 / len(others))


def caught(chance: Floats, out: Bools) -> float:
    """Return the share of units that will be out whose chance is above that of all but 5 % of the others."""
    if not (out.any() and (~out).any()):
        return np.nan
    return float((chance[out] > np.quantile(chance[~out], 0.95)).mean())


def jackknifed(
    of: Callable[[Floats, Bools], float], chance: Floats, out: Bools, fleet: Ints, goal: tuple[float, float]
) -> Figure:
    """Return a figure of all fleets, with its standard error by leaving out groups of fleets in turn."""
    used = np.isfinite(chance)
    chance, out, fleet = chance[used], out[used], fleet[used]
    parts = min(GROUPS, len(np.unique(fleet)))
    without = np.array([of(chance[fleet % parts != one], out[fleet % parts != one]) for one in range(parts)])
    away = without - without.mean()
    return Figure(of(chance, out), float(np.sqrt((parts - 1) / parts * (away**2).sum())), *goal)
