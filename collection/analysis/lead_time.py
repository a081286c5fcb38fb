"""When an order comes that is under way: by the supplier's word and past orders, in closed form.

The projection of a supply draws lead times; a list of orders only says what 8 in 10 of them lie between. Quantiles of a
gamma distribution by the cube root that is nearly normal (E. B. Wilson, M. M. Hilferty, PNAS 17, 1931; from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from math import ceil, floor, sqrt
from typing import NamedTuple

from collection.analysis.stock_plan.given import ENOUGH_FREE, LEAST_SPREAD, SAID_ORDERS, USUAL_LEAD_SPREAD, LeadGiven

_TENTH = 1.2815515655446004  # standard deviations from the middle of a normal distribution to its outer tenth


class Usual(NamedTuple):
    """Days from order to arrival: the mean, and whole days that 8 in 10 orders lie between."""

    mean: float
    low: int
    high: int


class Expected(NamedTuple):
    """When an order comes. on: the day named, else the usual one; first, last: 8 in 10 lie between.

    because: what that rests on, in words. overdue: days past `last`, 0 for none.
    """

    on: date
    first: date
    last: date
    because: str
    overdue: int


def pooled_spread(observed: Iterable[Sequence[int]]) -> float:
    """Return the spread of lead times about the mean of their supplier, as a part of it.

    Pooled over suppliers by their degrees of freedom; the usual one until there are 8 of those, and never below 0.10.
    """
    free, total = 0, 0.0
    for days in observed:
        mean = sum(days) / len(days) if days else 0.0
        if mean > 0:
            free += len(days) - 1
            total += sum((each - mean) ** 2 for each in days) / mean**2
    return max(LEAST_SPREAD, sqrt(total / free)) if free >= ENOUGH_FREE else USUAL_LEAD_SPREAD


def usual_days(lead: LeadGiven) -> Usual | None:
    """Return how long orders take; the supplier's word counts as two. None where nothing is known."""
    if not lead.is_known:
        return None
    said = SAID_ORDERS if lead.said is not None else 0
    weight = said + len(lead.observed)
    mean = (said * (lead.said or 0.0) + sum(lead.observed)) / weight
    if len(lead.observed) >= ENOUGH_FREE:  # enough to stand for themselves: back-orders make two humps
        days, tenth = sorted(lead.observed), len(lead.observed) // 10
        return Usual(sum(days) / len(days), days[tenth], days[-1 - tenth])
    spread = lead.spread**2 * (1 + 1 / weight)  # that of a single order, and of the mean it lies about
    low, high = (mean * max(0.0, 1 - spread / 9 + side * sqrt(spread) / 3) ** 3 for side in (-_TENTH, _TENTH))
    return Usual(mean, floor(low), ceil(high))


def expected(ordered: date, named: date | None, told: str, lead: LeadGiven, today: date) -> Expected | None:
    """Return when what is still to come of an order comes; None where nobody knows how long it takes.

    named: the day that the supplier named last, on the day `told`. An order that has not come by its usual day is
    expected from today on.
    """
    if named is not None:
        return Expected(max(named, today), named, named, f"confirmed {told}", max(0, (today - named).days))
    usual = usual_days(lead)
    if usual is None:
        return None
    on, first, last = (ordered + timedelta(days) for days in (round(usual.mean), usual.low, usual.high))
    late = max(0, (today - last).days)
    return Expected(max(on, today), max(first, today), max(last, today), lead_words(lead), late)


def lead_words(lead: LeadGiven) -> str:
    """Return in words what the usual days of a supplier rest on."""
    orders = len(lead.observed)
    if not orders:
        return "their word" if lead.said is not None else ""
    said = "1 past order" if orders == 1 else f"{orders} past orders"
    return said if lead.said is None or orders >= ENOUGH_FREE else f"their word and {said}"
