"""Clubs with known truth, made by rules that are not the plan's own: one supply of a club, years of what it takes.

Most services are done on the open days, a dozen a year with two big ones; a service comes some days before or after it
is due, whichever open day is near, and one in seven waits for something. Repairs come unplanned, sometimes in threes.
A use takes what it takes, not what the sheet says. Orders arrive within a fortnight or, now and then, after seven
weeks. What is used does not depend on what is in the drawer, so that every rule of ordering meets the same years.
Days count from the first decision; the years before it are below 0. The same scenario and number give the same club.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import NamedTuple
from zlib import crc32

import numpy as np

YEAR, MONTH = 365, 30.4375
BEFORE = 3  # years of written history, unless a scenario has fewer
AFTER = 240  # days lived after the last decision, so that what was ordered arrives
SIBLINGS = 12  # other supplies of the same class, known by their repairs alone
OPEN_MONTHS = range(2, 11)  # March to November
BIG_MONTHS = (3, 9)  # April and October
BIG_PULL = 25  # days that a service is brought forward or put off for a big open day
LATE = 0.15  # share of services that wait for something


@dataclass(frozen=True, slots=True)
class Scenario:
    """What kind of supply, used how, bought how.

    units; months between services of a unit, 0 for none. sheet: steps that a service takes by its sheet. piece: 1 for
    what is counted, 0 for what is weighed or poured. off: spread of the true mean against the sheet, in its logarithm.
    chance: how often a service takes any, on the sheet; the true one lies elsewhere. repairs: a year, in the mean of
    the class; what one takes is `per_repair` sheets. clustered: share of repairs that bring two others within a month.
    back: share of orders that arrive late. past_orders: whose days are known from before. pack, price: steps and minor
    units; order_cost and shipping likewise, small since supplies share a parcel. keeps, keeps_open: days; drying: steps
    a day of an open pack. by_sheet: share of uses that are booked by the sheet. unrecorded: nothing was used in the
    years before. before, years: of records, and of decisions.
    """

    name: str
    units: int = 24
    months: int = 12
    sheet: int = 30
    piece: int = 0
    off: float = 0.30
    chance: float = 1.0
    repairs: float = 2.0
    per_repair: float = 1.5
    clustered: float = 0.0
    back: float = 0.08
    past_orders: int = 14
    pack: int = 50
    price: int = 600
    shipping: int = 50
    order_cost: int = 0
    keeps: int | None = None
    keeps_open: int | None = None
    drying: float = 0.0
    by_sheet: float = 0.3
    unrecorded: bool = False
    before: int = BEFORE
    years: int = 4

    @property
    def end(self) -> int:
        """The day after the last decision."""
        return self.years * YEAR

    @property
    def sheet_a_year(self) -> float:
        """Steps a year by the sheet, which is all that a newcomer has to go by."""
        planned = self.units * 12 / self.months * self.sheet * self.chance if self.months else 0.0
        return planned + self.repairs * self.sheet * self.per_repair

    @property
    def fine(self) -> bool:
        """Whether packs are small against use, so that as much can be had as is wanted: a twentieth of a year's."""
        return self.pack <= self.sheet_a_year / 20


class Use(NamedTuple):
    """What one service (or repair, due None) really took and how it is booked."""

    day: int
    unit: int
    due: int | None
    steps: int
    by_sheet: bool


@dataclass(frozen=True, slots=True, eq=False)
class World:
    """One supply of one club.

    uses: by day. mean, cv: of an amount when any is taken,
    per service and per repair. chance: that a service takes any. rate: repairs per unit-month. leads: days that each
    order will take; past_leads: that those before took. siblings: repairs and unit-months of others of the class.
    start: steps on the shelf on day 0.
    """

    scenario: Scenario
    number: int
    uses: tuple[Use, ...]
    mean: tuple[float, float]
    cv: float
    chance: float
    rate: float
    leads: tuple[int, ...]
    past_leads: tuple[int, ...]
    siblings: tuple[tuple[int, float], ...]
    start: int


@lru_cache(maxsize=32)
def make_world(scenario: Scenario, number: int) -> World:
    """Return the club of that number."""
    rng = np.random.default_rng([crc32(scenario.name.encode()), number])
    first, last = -scenario.before * YEAR, scenario.end + AFTER
    factor = float(np.exp(rng.normal(0.0, scenario.off)))
    cv = float(rng.uniform(0.2, 0.5)) if not scenario.piece else 0.0
    mean = scenario.sheet * factor if not scenario.piece else float(scenario.sheet)
    chance = float(rng.beta(4 * scenario.chance, 4 * (1 - scenario.chance))) if scenario.chance < 1 else 1.0
    rate, repairs = _repairs(rng, scenario, first, last)
    services = [
        one
        for unit in range(scenario.units if scenario.months else 0)
        for one in _services(rng, scenario, unit, first, last)
    ]
    uses = []
    for day, unit, due in sorted(services + repairs, key=lambda one: one[:2]):
        times = scenario.per_repair if due is None else 1.0
        taken = 0 if due is not None and rng.random() >= chance else _amount(rng, scenario, mean * times, cv, factor)
        uses.append(Use(day, unit, due, taken, bool(rng.random() < scenario.by_sheet)))
    a_year = sum(one.steps for one in uses) * YEAR / (last - first)
    return World(
        scenario=scenario,
        number=number,
        uses=tuple(uses),
        mean=(mean, mean * scenario.per_repair),
        cv=cv,
        chance=chance,
        rate=rate,
        leads=tuple(lead_days(rng, scenario, 400)),
        past_leads=tuple(lead_days(rng, scenario, scenario.past_orders)),
        siblings=tuple(_sibling(rng, scenario) for _ in range(SIBLINGS)),
        start=_start(rng, scenario, a_year),
    )


def lead_days(rng: np.random.Generator, scenario: Scenario, orders: int) -> list[int]:
    """Return the days that orders take: about twelve, and seven weeks for those that are not in stock."""
    usual = rng.gamma(12.0, 1.0, orders)
    late = rng.gamma(16.0, 3.1, orders)
    return [round(float(day)) for day in np.where(rng.random(orders) < scenario.back, late, usual)]


def open_days(first: int, last: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the days on which the club opens, and which of them are big ones (two days running)."""
    days, big = [], []
    for year in range(first // YEAR, last // YEAR + 1):
        for month in OPEN_MONTHS:
            at = year * YEAR + round(month * MONTH) + 12
            days += [at, at + 1] if month in BIG_MONTHS else [at]
            big += [True, True] if month in BIG_MONTHS else [False]
    return np.array(days), np.array(big)


def _services(
    rng: np.random.Generator, scenario: Scenario, unit: int, first: int, last: int
) -> list[tuple[int, int, int | None]]:
    """Return (day, unit, day due) of the services of a unit; its first was done in the year before the history."""
    days, big = open_days(first - 2 * YEAR, last + 2 * YEAR)
    every = round(scenario.months * MONTH)
    season = BIG_MONTHS[unit % 2] * MONTH + 12
    done = int(first - YEAR + season + rng.normal(0, 15))
    found: list[tuple[int, int, int | None]] = []
    while done < last:
        due = done + every
        want = due + rng.normal(0.0, 10.0) + (rng.exponential(45.0) if rng.random() < LATE else 0.0)
        away = np.abs(days - want) - np.where(big, BIG_PULL, 0) + np.where(days <= done, 10**6, 0)
        done = int(days[int(np.argmin(away))])
        if first <= done < last:
            found.append((done, unit, due))
    return found


def _repairs(
    rng: np.random.Generator, scenario: Scenario, first: int, last: int
) -> tuple[float, list[tuple[int, int, int | None]]]:
    """Return the true rate of repairs, and (day, unit, None) of each; half of them show on the next open day."""
    days, _ = open_days(first - YEAR, last + YEAR)
    while True:
        rate = float(rng.gamma(0.8, scenario.repairs / 0.8)) / scenario.units / 12
        count = rng.poisson(rate * scenario.units * (last - first) / MONTH)
        at = rng.integers(first, last, count)
        at = np.where(rng.random(count) < 0.5, days[np.searchsorted(days, at)], at)
        more = at[rng.random(count) < scenario.clustered]
        at = np.concatenate([at, more + rng.integers(1, 30, len(more)), more + rng.integers(1, 30, len(more))])
        at = at[at < last]
        if not scenario.unrecorded or not (at < 0).any():
            return rate * (1 + 2 * scenario.clustered), [
                (int(day), int(rng.integers(scenario.units)), None) for day in at
            ]


def _sibling(rng: np.random.Generator, scenario: Scenario) -> tuple[int, float]:
    exposure = scenario.units * 12.0 * scenario.before
    rate = float(rng.gamma(0.8, scenario.repairs / 0.8)) / scenario.units / 12
    return int(rng.poisson(rate * exposure)), exposure


def _amount(rng: np.random.Generator, scenario: Scenario, mean: float, cv: float, factor: float) -> int:
    """Return what a use took: pieces as told, several pieces some more or fewer; what is weighed, by a gamma."""
    if not scenario.piece:
        return max(1, round(float(rng.gamma(1 / cv**2, mean * cv**2))))
    if mean <= 2:
        return max(1, int(mean) + int(rng.random() < mean % 1))
    return max(1, int(rng.poisson(mean * factor)))


def _start(rng: np.random.Generator, scenario: Scenario, a_year: float) -> int:
    """Return what is on the shelf on the first day: enough for some months, in whole packs."""
    if scenario.unrecorded:
        return int(rng.integers(1, 3)) * scenario.pack
    return scenario.pack * max(1, round(a_year * float(rng.uniform(0.3, 0.7)) / scenario.pack))


GREASE = Scenario("grease, small packs", pack=20, price=240)
BELTS = Scenario("belts, on inspection", sheet=1, piece=1, chance=0.5, per_repair=1.0, pack=1, price=400)
SPARES = Scenario("spares, repairs only", months=0, sheet=1, piece=1, repairs=3.0, per_repair=1.0, pack=1, price=900)
SCENARIOS = (
    GREASE,
    replace(GREASE, name="amounts by the sheet", by_sheet=0.8, off=0.4),
    replace(GREASE, name="more back-orders", back=0.25),
    replace(GREASE, name="a new supplier", past_orders=0),
    Scenario("grease, large tubes", pack=500, price=4000, keeps=1095, keeps_open=365, drying=0.15),
    replace(GREASE, name="solvent that dries", pack=100, price=300, keeps_open=180, drying=0.2, by_sheet=0.0),
    BELTS,
    replace(BELTS, name="belts in tens", pack=10, price=3500),
    Scenario("swabs by the handful", sheet=4, piece=1, pack=5, price=150),
    SPARES,
    replace(SPARES, name="repairs in threes", clustered=0.3),
    replace(SPARES, name="nothing recorded", unrecorded=True, repairs=0.8, before=2),
)
