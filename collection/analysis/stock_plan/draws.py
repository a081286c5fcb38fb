"""Random draws of all that the projection does not know for certain, one path beside another.

Amounts per use and lead times: a gamma distribution whose rate is itself known by a gamma distribution (the gamma-gamma
model of P. Fader and B. Hardie, note 025, "The Gamma-Gamma Model of Monetary Value"), drawn once for all uses of a
path, since what is not known of the mean does not average out over uses. Parts changed on inspection: beta-binomial.
Pieces by the handful and unplanned use: gamma-Poisson (A. Johnson, M. Ott, M. Dogucu, "Bayes Rules!", 5.2). A spread
of 0 is no spread: the mean is drawn.

Each kind of thing has its own stream of random numbers, so that a change of one leaves the draws of the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from collection.analysis.stock_plan.given import (
    ENOUGH_FREE,
    NEVER,
    SAID_ORDERS,
    SHEET_USES,
    AmountGiven,
    LeadGiven,
    OrderGiven,
    SupplyGiven,
    UnplannedGiven,
)
from collection.analysis.stock_plan.job_days import job_days
from collection.analysis.use_bursts import WITHIN, brought, worth

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Generator = np.random.Generator
Uses = tuple[Ints, Ints, Floats]  # path, day and steps of each

DAYS_A_MONTH = 30.4375
_MOST_DRAWS = 2_000_000  # single uses; of very large fleets fewer paths are drawn
_LEAST_PATHS = 500
_AT_ONCE = 400_000  # draws held at once
_SMOOTHED = 0.1  # spread that past lead times get when they stand for those to come
_ORDERS_ALONE = ENOUGH_FREE  # orders from which on past lead times stand for themselves: back-orders make two humps
_POOL = 8  # draws of a lead time for each that is wanted, of which those longer than the time passed are kept
_OVERDUE = 0.01  # share of lead times that are longer than the time passed, below which an order is not counted on
_PROMISE_SPREAD = 0.5  # part of the spread that is left once the supplier has named a day; common practice, no source
_AMOUNTS, _JOBS, _UNPLANNED, _LEADS, _NEXT_LEADS, _ORDERS, _DRYING, _UNBOOKED = range(8)


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """Paths of use.

    path, day, steps: of every use drawn, in no order. drying: what an open lot loses a day (paths), None where nothing
    dries. missing: what the shelf has less than the book (paths). planned, unplanned: what each took within the horizon
    (paths). sudden: unplanned uses alone, by path and day. job_days: the day
    of each job (jobs x paths), NEVER where it does not happen within the days drawn.
    """

    days: int
    path: Ints
    day: Ints
    steps: Floats
    drying: Floats | None
    missing: Floats
    planned: Floats
    unplanned: Floats
    sudden: Uses
    job_days: npt.NDArray[np.int32]

    def by_day(self) -> Floats:
        """Return what is used on each day from today on (paths x days)."""
        paths = len(self.planned)
        at = self.path * self.days + self.day
        return np.bincount(at, self.steps, paths * self.days).astype(np.float64).reshape(paths, self.days)


def stream(given: SupplyGiven, *kind: int) -> Generator:
    """Return the random numbers of one kind of thing."""
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([given.seed, *kind])))


def how_many_paths(given: SupplyGiven) -> int:
    """Return how many paths are drawn: those asked for, fewer where a fleet is so large that each counts little."""
    uses = max(1, len(given.jobs))
    return max(min(given.paths, _LEAST_PATHS), min(given.paths, _MOST_DRAWS // uses))


def draw(given: SupplyGiven) -> Drawn:
    """Return the paths of use of one supply."""
    paths, days = how_many_paths(given), given.ahead
    takers = [_Taker(each, stream(given, _AMOUNTS, number), paths) for number, each in enumerate(given.amounts)]
    on_days = np.full((len(given.jobs), paths), NEVER, dtype=np.int32)
    dice = stream(given, _JOBS)
    at_once = max(1, _AT_ONCE // paths)
    drawn = [_no_uses()]
    for first in range(0, len(given.jobs), at_once):
        some = given.jobs[first : first + at_once]
        on = job_days(some, given.work_days, paths, days, dice)
        on_days[first : first + at_once] = on
        job, path = np.nonzero(on < NEVER)
        amount = np.array([each.amount for each in some])[job]
        drawn.append((path, on[job, path], _amounts(takers, amount, path)))
    planned = _joined(drawn)
    unplanned = _no_uses()
    if given.unplanned is not None and given.unplanned.has_basis:
        day, path = _events(given.unplanned, paths, days, stream(given, _UNPLANNED))
        unplanned = path, day, takers[given.unplanned.amount].take(path)
    return Drawn(
        days,
        *_joined([planned, unplanned]),
        _drying(given, paths),
        _gamma(given.unbooked, paths, stream(given, _UNBOOKED)),
        _within(planned, given.horizon, paths),
        _within(unplanned, given.horizon, paths),
        unplanned,
        on_days,
    )


def _no_uses() -> Uses:
    return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0)


def _joined(uses: Sequence[Uses]) -> Uses:
    path, day, steps = (np.concatenate(part) for part in zip(*uses, strict=True))
    return path, day, steps


def _within(uses: Uses, days: int, paths: int) -> Floats:
    """Return what uses take within so many days in each path."""
    path, day, steps = uses
    return np.bincount(path, np.where(day < days, steps, 0.0), paths).astype(np.float64)


def _events(told: UnplannedGiven, paths: int, days: int, dice: Generator) -> tuple[Ints, Ints]:
    """Return the day and the path of every unplanned use: of those that begin a burst, and of those that they bring."""
    counts, more = worth(told.follows), brought(told.follows)
    rate = dice.standard_gamma(told.shape + told.events * counts, paths) / (told.rate + told.exposure * counts)
    number = dice.poisson(rate * told.a_month * days / DAYS_A_MONTH / (1 + more))
    path = np.repeat(np.arange(paths), number)
    day = dice.integers(0, days, len(path))
    if not told.follows:
        return day, path
    further = dice.poisson(more, len(path))
    path, day = np.concatenate([path, np.repeat(path, further)]), np.concatenate([day, _after(day, further, dice)])
    if told.last is not None and told.last < WITHIN:
        still = dice.poisson(told.follows * (1 - told.last / WITHIN), paths)
        path = np.concatenate([path, np.repeat(np.arange(paths), still)])
        day = np.concatenate([day, dice.integers(0, WITHIN - told.last, int(still.sum()))])
    return day[day < days], path[day < days]


def _after(day: Ints, further: Ints, dice: Generator) -> Ints:
    """Return the days of further uses of bursts that begin on these days."""
    return np.repeat(day, further) + dice.integers(1, WITHIN + 1, int(further.sum()))


def _drying(given: SupplyGiven, paths: int) -> Floats | None:
    """Return what an open lot loses a day in each path."""
    return None if given.drying[0] <= 0 else _gamma(given.drying, paths, stream(given, _DRYING))


def _gamma(known: tuple[float, float], paths: int, dice: Generator) -> Floats:
    """Return draws of a gamma distribution of this mean and standard deviation; of no mean or deviation, the mean."""
    mean, spread = known
    if mean <= 0 or spread <= 0:
        return np.full(paths, max(mean, 0.0))
    shape = (mean / spread) ** 2
    return np.asarray(dice.standard_gamma(shape, paths) * mean / shape)


# --- amounts -----------------------------------------------------------------------------------------------


class _Taker:
    """Draws of the amount that one kind of use takes; what is not known of its mean is drawn once a path."""

    def __init__(self, given: AmountGiven, dice: Generator, paths: int) -> None:
        self._given, self._dice = given, dice
        said = 0 if given.sheet is None else SHEET_USES
        self._weight = said + given.uses
        total = (given.sheet or 0.0) * said + given.total
        self._mean = total / self._weight if self._weight else 0.0
        self._single = given.piece > 0 and total == self._weight * given.piece
        self._often = self._chances(paths)
        self._rate = self._rates(total, paths)

    def _chances(self, paths: int) -> Floats | None:
        """Return per path how often a use takes any; None for always."""
        given = self._given
        yes = SHEET_USES * given.chance + given.taken
        no = SHEET_USES * (1 - given.chance) + given.times - given.taken
        if no <= 0:
            return None
        return self._dice.beta(yes, no, paths) if yes > 0 else np.zeros(paths)

    def _rates(self, total: float, paths: int) -> Floats:
        """Return per path what scales its draws: the mean number of pieces, or the rate of the gamma distribution."""
        given = self._given
        if self._mean <= 0 or self._single:
            return np.ones(paths)
        if given.piece:
            return self._dice.standard_gamma(total / given.piece, paths) / self._weight
        if given.spread <= 0:
            return np.full(paths, self._mean)
        shape = 1 / given.spread**2
        return np.asarray(self._dice.standard_gamma(self._weight * shape + 1, paths) / total)

    def take(self, path: Ints) -> Floats:
        """Return what each of many uses takes, given the path of each."""
        given, dice = self._given, self._dice
        if self._mean <= 0:
            return np.zeros(len(path))
        if self._single:
            amount = np.full(len(path), float(given.piece))
        elif given.piece:
            amount = dice.poisson(self._rate[path]) * float(given.piece)
        elif given.spread <= 0:
            amount = self._rate[path]
        else:
            amount = dice.standard_gamma(1 / given.spread**2, len(path)) / self._rate[path]
        return amount if self._often is None else np.where(dice.random(len(path)) < self._often[path], amount, 0.0)


def _amounts(takers: Sequence[_Taker], amount: Ints, path: Ints) -> Floats:
    taken = np.zeros(len(path))
    for number, taker in enumerate(takers):
        mine = np.flatnonzero(amount == number)
        if len(mine):
            taken[mine] = taker.take(path[mine])
    return taken


# --- lead times --------------------------------------------------------------------------------------------


def lead_days(given: SupplyGiven, supplier: int, lead: LeadGiven, paths: int, *, after: bool = False) -> Floats:
    """Return days from order to arrival in each path; after: those of the order that follows this one."""
    kind = _NEXT_LEADS if after else _LEADS
    return _lead(lead, paths, stream(given, kind, supplier))


def _lead(lead: LeadGiven, paths: int, dice: Generator) -> Floats:
    """Return whole days, rounded up: what arrives in the course of a day is there at its end."""
    if len(lead.observed) >= _ORDERS_ALONE:
        shape = 1 / _SMOOTHED**2
        days = dice.choice(np.array(lead.observed, dtype=float), paths) * dice.standard_gamma(shape, paths) / shape
        return np.ceil(days - 1e-9)
    said = 0 if lead.said is None else SAID_ORDERS
    weight, total = said + len(lead.observed), (lead.said or 0.0) * said + sum(lead.observed)
    if total <= 0 or lead.spread <= 0:
        return np.full(paths, np.ceil(total / max(weight, 1) - 1e-9))
    shape = 1 / lead.spread**2
    rate = dice.standard_gamma(weight * shape + 1, paths) / total
    return np.asarray(np.ceil(dice.standard_gamma(shape, paths) / rate - 1e-9))


def arrivals(given: SupplyGiven, paths: int) -> tuple[Floats, tuple[int, ...]]:
    """Return the day on which each open order arrives in each path (orders x paths), and the places of those overdue.

    An order that is out for some days takes longer than those. One that is so late that hardly any lead time is as
    long, or of which no lead time is known, does not arrive.
    """
    days = np.full((len(given.orders), paths), float(NEVER))
    overdue = []
    for place, order in enumerate(given.orders):
        lead = _promised(order)
        if not lead.is_known:
            continue
        pool = _lead(lead, paths * _POOL, stream(given, _ORDERS, place))
        longer = pool[pool > order.elapsed]
        if len(longer) < _OVERDUE * len(pool) or not len(longer):
            overdue.append(place)
            continue
        days[place] = longer[np.arange(paths) * len(longer) // paths] - order.elapsed
    return days, tuple(overdue)


def _promised(order: OrderGiven) -> LeadGiven:
    if order.confirmed is None:
        return order.lead
    return LeadGiven(float(order.elapsed + order.confirmed), (), order.lead.spread * _PROMISE_SPREAD)
