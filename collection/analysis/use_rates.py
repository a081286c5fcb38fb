"""How often supplies are used that no schedule foresees: events, the time watched, and what other supplies teach.

Empirical Bayes over supplies of one class: the prior gamma(shape, rate) has the mean and the variance that the rates of
its supplies show beyond what chance alone would. From memory of the method of moments for gamma-Poisson rates.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date
from statistics import mean, variance
from typing import NamedTuple

from collection.analysis.stock_plan.given import UnplannedGiven

MONTH = 30.4375  # days
YEAR = 12  # months
LEAST_DAYS = 30  # a supply watched for less tells nothing by itself; common practice, no source
FEWEST_SUPPLIES, FEWEST_EVENTS = 8, 5  # of a class that teaches
LEAST_SHAPE, MOST_SHAPE = 0.3, 20.0
HALF = 0.5  # shape of a prior that counts as half an event
NEVER, SAID, CLASS, BOOK, NO_PRIOR = "never", "said", "class", "book", "none"


class Watched(NamedTuple):
    """How long the units of a supply were watched, unit-months and days, and how many units there are now."""

    unit_months: float
    days: int
    units: int


class Rate(NamedTuple):
    """Events of one supply in the unit-months watched; its class; the guess of events a year, None unless told."""

    events: int
    watched: Watched
    class_name: str
    guess: float | None


class Prior(NamedTuple):
    """A gamma prior of events a unit-month, and what it comes from."""

    shape: float
    rate: float
    word: str


def watched(stays: Iterable[tuple[date, date | None]], since: date, today: date) -> Watched:
    """Return how long units were here between `since` and `today`.

    stays: of each unit the spans from the day it came to the day it left (None: still here), each unit's spans apart.
    A fleet that never had such a unit counts as one: then the drawer itself is what is watched.
    """
    here = list(stays)
    days = max(0, (today - since).days)
    if not here:
        return Watched(days / MONTH, days, 1)
    unit_days = sum(max(0, (min(end or today, today) - max(start, since)).days) for start, end in here)
    now = sum(start <= today and (end is None or end > today) for start, end in here)
    return Watched(unit_days / MONTH, days, now)


def unplanned_given(rate: Rate, all_rates: Collection[Rate]) -> tuple[UnplannedGiven | None, str]:
    """Return what the projection is given of events, and what its prior comes from; None where a person said never.

    A person's own guess goes before what other supplies teach. Events that were booked outweigh a "never".
    """
    if rate.guess == 0 and not rate.events:
        return None, NEVER
    prior = _prior(rate, all_rates)
    tells = rate.watched.days >= LEAST_DAYS or prior.rate > 0
    exposure = rate.watched.unit_months if tells else 0.0
    given = UnplannedGiven(rate.events, exposure, prior.shape, prior.rate, float(rate.watched.units), 0)
    return given, prior.word


def _prior(rate: Rate, all_rates: Collection[Rate]) -> Prior:
    if rate.guess:
        a_unit_month = rate.guess / YEAR / max(1, rate.watched.units)
        return Prior(HALF, HALF / a_unit_month, SAID)
    alike = [each for each in all_rates if each.class_name == rate.class_name and each.watched.unit_months > 0]
    if _teaches(alike):
        shape, beta = class_prior([(each.events, each.watched.unit_months) for each in alike])
        return Prior(shape, beta, CLASS)
    every = [each for each in all_rates if each.watched.unit_months > 0]
    if _teaches(every):
        a_unit_month = sum(each.events for each in every) / sum(each.watched.unit_months for each in every)
        return Prior(HALF, HALF / a_unit_month, BOOK)
    return Prior(HALF, 0.0, NO_PRIOR)


def _teaches(rates: Collection[Rate]) -> bool:
    return len(rates) >= FEWEST_SUPPLIES and sum(each.events for each in rates) >= FEWEST_EVENTS


def class_prior(seen: Sequence[tuple[int, float]]) -> tuple[float, float]:
    """Return shape and rate of the gamma prior of a class from events and unit-months of its supplies, all above zero.

    The shape is kept within 0.3 and 20; 20 where the rates differ by no more than chance has them differ.
    """
    middle = sum(events for events, _ in seen) / sum(months for _, months in seen)
    beyond_chance = variance(events / months for events, months in seen) - middle * mean(
        1 / months for _, months in seen
    )
    shape = MOST_SHAPE
    if beyond_chance > 0:
        shape = min(MOST_SHAPE, max(LEAST_SHAPE, middle**2 / beyond_chance))
    return shape, shape / middle
