"""Fleets with known truth, made by rules that are not the model's own: straight from seeded numbers to a Fleet.

A year of speed readings looks as it does at the bench: two to six a year and unit at random days, often twice on a
visit, as found and as left; three instruments, one 2.1 % low; now and then a unit set to nominal on that very one.
The slopes of belts are no bell curve unless a scenario says so. Everything is on the scale of the model, per cent.
The same scenario and seed give the same fleet.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple
from zlib import crc32

import numpy as np

from collection.analysis.drift.given import Bools, Fleet, Floats, Ints

BELT, DIRECT, CRYSTAL = 0, 1, 2
OFFSETS = (0.0, -2.1, 0.3)
USUAL_SLOPES = (0.5, 0.1, 0.01)
LEVEL_SD, SET_ON_BIASED, CRYSTAL_LEVEL_SD = 0.4, 0.2, 0.05
SLOWING_YEARS, TYPICAL_AGE = 5.0, 4.0


class Slopes(NamedTuple):
    """A distribution of slopes as a mixture of normals: weights that sum to 1, means, standard deviations."""

    weight: Floats
    mean: Floats
    sd: Floats


@dataclass(frozen=True, slots=True)
class Scenario:
    """How a fleet is made.

    belts: what the slopes of belts are, "mixed" (two thirds N(0, 0.03), the others 0.33 to 1.33 a year, four in five
    of them down), "normal" (-0.25 +- 0.20) or "heavy" (-0.25 + 0.15 t(3)). walk: standard deviation of the random walk
    in a year. stray: share of stray readings. curve: "", "slowing" or "speeding". uneven: the instruments take 75, 20
    and 5 % of readings and a fifth of the units knows one instrument only. new_belts, jumps: the share of units with
    a belt changed, with a jump of level that no service explains. prior: what usual_slope is wrong by. late: the
    share of units that came within the last two years.
    """

    name: str
    units: int = 12
    belts: str = "mixed"
    walk: float = 0.05
    stray: float = 0.02
    curve: str = ""
    uneven: bool = False
    new_belts: float = 0.0
    jumps: float = 0.0
    prior: float = 1.0
    late: float = 0.0
    half_width: float = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """What is true of a fleet.

    Per series: slope (at its last reading, a year), mean_slope (from the first to the last reading of its present
    run; slope where that is one day), now (the true value at its last reading), year (one year later with no service).
    Per reading: stray, jump (the level jumped since the reading before it in its segment), value. Per instrument:
    offset, noise. walk: its standard deviation in a year. slopes: per class, as a straight line would see them.
    """

    slope: Floats
    mean_slope: Floats
    now: Floats
    year: Floats
    stray: Bools
    jump: Bools
    value: Floats
    offset: Floats
    noise: Floats
    walk: float
    slopes: tuple[Slopes, ...]

    def leaves(self, limit: float) -> Bools:
        """Return which series are outside -limit..limit one year after their last reading."""
        return np.abs(self.year) > limit


BASE = Scenario("12 units")
SCENARIOS: tuple[Scenario, ...] = (
    BASE,
    replace(BASE, name="3 units", units=3),
    replace(BASE, name="5 units", units=5),
    replace(BASE, name="30 units", units=30),
    replace(BASE, name="300 units", units=300),
    replace(BASE, name="no stray", stray=0.0),
    replace(BASE, name="4 % stray", stray=0.04),
    replace(BASE, name="10 % stray", stray=0.10),
    replace(BASE, name="5 u, 4 % stray", units=5, stray=0.04),
    replace(BASE, name="normal slopes", belts="normal"),
    replace(BASE, name="heavy tails", belts="heavy"),
    replace(BASE, name="no walk", walk=0.0),
    replace(BASE, name="more walk", walk=0.1),
    replace(BASE, name="slowing", curve="slowing"),
    replace(BASE, name="speeding", curve="speeding"),
    replace(BASE, name="uneven", uneven=True),
    replace(BASE, name="new belts", new_belts=0.6),
    replace(BASE, name="jumps", jumps=0.15),
    replace(BASE, name="prior x 4", prior=4.0),
    replace(BASE, name="prior / 4", prior=0.25),
    replace(BASE, name="5 u, prior x 4", units=5, prior=4.0),
    replace(BASE, name="5 u, prior / 4", units=5, prior=0.25),
    replace(BASE, name="late arrivals", late=0.4),
    replace(BASE, name="limits 1 %", half_width=1.0),
)


class _Visits(NamedTuple):
    """Days at the bench, by unit and time: first and last of its unit, level set anew, belt changed."""

    unit: Ints
    years: Floats
    first: Bools
    last: Bools
    reset: Bools
    belt: Bools


def make_fleet(scenario: Scenario, seed: int) -> tuple[Fleet, Truth]:
    """Return the fleet of a scenario that has this number, with its truth."""
    rng = np.random.Generator(np.random.PCG64([crc32(scenario.name.encode()), seed]))
    classes = classes_of(scenario.units)
    visits = _visits(rng, scenario, classes)
    slopes = tuple(slopes_of(scenario, one) for one in (BELT, DIRECT, CRYSTAL))
    starts, begins = visits.first | visits.reset, visits.first | visits.belt
    segment_after, run = np.cumsum(starts) - 1, np.cumsum(begins) - 1
    run_series = visits.unit[begins]
    run_slope = _drawn_slopes(rng, scenario, classes[run_series])
    age = visits.years - visits.years[begins][run]
    jumped = _jumps(rng, scenario, visits)
    rise = _rise(rng, scenario, visits, (run, run_slope, age, classes[visits.unit] == BELT)) + np.cumsum(jumped)
    level = _levels(rng, classes[visits.unit[starts]])

    visit, left = _readings(rng, visits)
    segment = segment_after[visit] - (visits.reset[visit] & ~left)
    value = level[segment] + rise[visit] - rise[starts][segment]
    instrument = _instruments(rng, scenario, visits.unit[visit])
    noise = np.array([rng.uniform(0.05, 0.10), 0.10, 0.25])
    stray = rng.random(len(visit)) < scenario.stray
    slip = rng.choice([-1.0, 1.0], len(visit)) * rng.uniform(1.5, 5.0, len(visit))
    error = noise[instrument] * rng.standard_normal(len(visit)) + stray * slip
    used, place = np.unique(segment, return_inverse=True)
    fleet = Fleet(
        years=visits.years[visit],
        values=value + np.array(OFFSETS)[instrument] + error,
        segment=place,
        instrument=instrument,
        segment_run=run[starts][used],
        run_series=run_series,
        series_class=classes,
        usual_slope=np.array(USUAL_SLOPES) * scenario.prior,
        reference=np.array([True, False, False]),
        resolution=np.zeros(3),
        uncertainty=np.zeros(3),
        half_width=scenario.half_width,
    )
    final = np.flatnonzero(visits.last)
    bend, belt = scenario.curve, classes == BELT
    at, last_slope, now = age[final], run_slope[run[final]], value[_ends(visits.unit[visit])]
    year = now + last_slope * (_drifted(at + 1, bend, belt) - _drifted(at, bend, belt))
    same = np.append(False, place[1:] == place[:-1])
    steps = np.cumsum(jumped != 0)[visit]
    truth = Truth(
        slope=last_slope * _steepness(at, bend, belt),
        mean_slope=last_slope * np.where(at > 0, _drifted(at, bend, belt) / np.where(at > 0, at, 1), 1.0),
        now=now,
        year=year + scenario.walk * rng.standard_normal(len(final)),
        stray=stray,
        jump=same & np.append(False, steps[1:] > steps[:-1]),
        value=value,
        offset=np.array(OFFSETS),
        noise=noise,
        walk=scenario.walk,
        slopes=slopes,
    )
    return fleet, truth


def classes_of(units: int) -> Ints:
    """Return the class of each unit: about two thirds belts, the rest half and half, one crystal at least."""
    belts = max(1, round(0.65 * units))
    crystals = max(1, (units - belts) // 2)
    counts = (belts, units - belts - crystals, crystals)
    return np.repeat(np.array([BELT, DIRECT, CRYSTAL]), counts)


def slopes_of(scenario: Scenario, one: int) -> Slopes:
    """Return the slopes of a class as a mixture of normals, as a straight line through a typical span sees them.

    The slopes of the belts that drift are uniform: narrow normals side by side. Student's t is a mixture of normals
    whose precision is gamma distributed: eight equally likely parts of it.
    """
    if one != BELT:
        return Slopes(np.ones(1), np.zeros(1), np.array([0.08 if one == DIRECT else 0.005]))
    age = np.array([TYPICAL_AGE])
    seen = float(_drifted(age, scenario.curve, np.array([True]))[0] / TYPICAL_AGE)
    if scenario.belts == "normal":
        return Slopes(np.ones(1), np.array([-0.25 * seen]), np.array([0.20 * seen]))
    if scenario.belts == "heavy":
        precision = (
            np.sort(np.random.Generator(np.random.PCG64(3)).chisquare(3, 8000) / 3).reshape(8, 1000).mean(axis=1)
        )
        return Slopes(np.full(8, 1 / 8), np.full(8, -0.25 * seen), 0.15 * seen / np.sqrt(precision))
    middles = 1 / 3 + (np.arange(4) + 0.5) / 4
    weight = np.concatenate([[2 / 3], np.full(4, 0.8 / 12), np.full(4, 0.2 / 12)])
    mean = np.concatenate([[0.0], -middles, middles]) * seen
    return Slopes(weight, mean, np.array([0.03] + [0.25 / np.sqrt(12)] * 8) * seen)


def _drawn_slopes(rng: np.random.Generator, scenario: Scenario, classes: Ints) -> Floats:
    count = len(classes)
    if scenario.belts == "mixed":
        much = rng.uniform(1 / 3, 4 / 3, count) * np.where(rng.random(count) < 0.8, -1, 1)
        belts = np.where(rng.random(count) < 2 / 3, 0.03 * rng.standard_normal(count), much)
    elif scenario.belts == "normal":
        belts = -0.25 + 0.20 * rng.standard_normal(count)
    else:
        belts = -0.25 + 0.15 * rng.standard_t(3, count)
    others = np.where(classes == DIRECT, 0.08, 0.005) * rng.standard_normal(count)
    return np.where(classes == BELT, belts, others)


def _drifted(age: Floats, curve: str, belt: Bools) -> Floats:
    """Return how far a slope of one a year takes a level in this many years: straight but for curved belts."""
    if curve == "slowing":
        return np.where(belt, SLOWING_YEARS * -np.expm1(-age / SLOWING_YEARS), age)
    if curve == "speeding":
        return np.where(belt, age * (0.6 + 0.08 * age), age)
    return age


def _steepness(age: Floats, curve: str, belt: Bools) -> Floats:
    if curve == "slowing":
        return np.where(belt, np.exp(-age / SLOWING_YEARS), 1.0)
    if curve == "speeding":
        return np.where(belt, 0.6 + 0.16 * age, 1.0)
    return np.ones_like(age)


def _visits(rng: np.random.Generator, scenario: Scenario, classes: Ints) -> _Visits:
    units = len(classes)
    late = rng.random(units) < scenario.late
    span = np.where(late, rng.uniform(0.2, 2.0, units), rng.uniform(4.5, 5.5, units))
    count = np.maximum(1, np.rint(span * rng.uniform(1.5, 4.5, units))).astype(np.int64)
    unit = np.repeat(np.arange(units), count)
    years = (5.5 - rng.uniform(0, 0.3, units) - span)[unit] + span[unit] * rng.random(len(unit))
    years = years[np.lexsort((years, unit))]
    first = np.append(True, unit[1:] != unit[:-1])
    starts = np.flatnonzero(first)
    chance = np.where(first, 2.0, rng.random(len(unit)))
    rank = np.empty(len(unit), dtype=np.int64)
    rank[np.lexsort((chance, unit))] = np.arange(len(unit)) - starts[unit]
    resets = rng.choice(3, units, p=[0.4, 0.4, 0.2])
    belt = (rng.random(units) < scenario.new_belts) & (classes == BELT)
    changed = ~first & belt[unit] & (rank == resets[unit])
    return _Visits(unit, years, first, np.append(first[1:], True), (~first & (rank < resets[unit])) | changed, changed)


def _rise(
    rng: np.random.Generator, scenario: Scenario, visits: _Visits, drift: tuple[Ints, Floats, Floats, Bools]
) -> Floats:
    """Return how far each level has come since the first visit of all, resets left out.

    What came about between two visits is the doing of the belt that was in at the former.
    """
    run, run_slope, age, belt = drift
    before = np.maximum(np.arange(len(run)) - 1, 0)
    between = np.where(visits.first, 0.0, visits.years - visits.years[before])
    was = age[before]
    moved = _drifted(was + between, scenario.curve, belt) - _drifted(was, scenario.curve, belt)
    wandered = scenario.walk * np.sqrt(between) * rng.standard_normal(len(run))
    return np.cumsum(np.where(visits.first, 0.0, run_slope[run[before]] * moved + wandered))


def _jumps(rng: np.random.Generator, scenario: Scenario, visits: _Visits) -> Floats:
    """Return per visit how far the level jumped just before it; one jump a unit at most."""
    units = visits.unit[-1] + 1
    has, where = rng.random(units) < scenario.jumps, rng.random(units)
    starts = np.flatnonzero(visits.first)
    count = np.diff(np.append(starts, len(visits.unit)))
    size = rng.uniform(0.5, 1.5, units) * rng.choice([-1.0, 1.0], units)
    jumped = np.zeros(len(visits.unit))
    able = has & (count > 1)
    jumped[(starts + 1 + np.floor(where * (count - 1)).astype(np.int64))[able]] = size[able]
    return jumped


def _levels(rng: np.random.Generator, classes: Ints) -> Floats:
    """Return the true level after each setting; now and then nominal on the instrument that reads low was aimed at."""
    usual = LEVEL_SD * rng.standard_normal(len(classes))
    fooled = -OFFSETS[1] + 0.15 * rng.standard_normal(len(classes))
    set_by_it = rng.random(len(classes)) < SET_ON_BIASED
    crystal = CRYSTAL_LEVEL_SD * rng.standard_normal(len(classes))
    return np.where(classes == CRYSTAL, crystal, np.where(set_by_it, fooled, usual))


def _readings(rng: np.random.Generator, visits: _Visits) -> tuple[Ints, Bools]:
    """Return the visit of each reading and whether it is the second of its visit, as left where the level was set."""
    count = len(visits.unit)
    found = ~visits.reset | (rng.random(count) < 0.85)
    left = np.where(visits.reset, (rng.random(count) < 0.85) | visits.last | visits.belt, rng.random(count) < 0.35)
    taken = np.column_stack([found, left]).ravel()
    return np.repeat(np.arange(count), 2)[taken], np.tile([False, True], count)[taken]


def _instruments(rng: np.random.Generator, scenario: Scenario, unit: Ints) -> Ints:
    if not scenario.uneven:
        return rng.choice(3, len(unit))
    units = int(unit[-1]) + 1
    usual, only = rng.choice(3, len(unit), p=[0.75, 0.20, 0.05]), rng.choice(3, units, p=[0.6, 0.3, 0.1])
    return np.where((rng.random(units) < 0.2)[unit], only[unit], usual)


def _ends(unit: Ints) -> Ints:
    return np.flatnonzero(np.append(unit[1:] != unit[:-1], True))
