"""Rules of ordering: the plan's own, the oracle's, and the two that people use without a plan."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, sqrt
from typing import Protocol

import numpy as np

from collection.analysis.stock_plan.found import PlanFound
from collection.analysis.stock_plan.given import AmountGiven, LeadGiven, SupplyGiven, UnplannedGiven
from tests.support.workshop_book import REPAIR, SAID_DAYS, Book
from tests.support.workshop_run import WEEK, Buy
from tests.support.workshop_truth import MONTH, YEAR, World, lead_days

CALM = 28  # an order-by day further off than this, with nothing booked since, is not asked for again next week
CERTAIN = 10**6  # uses, or unit-months, after which nothing is left to learn


class Plan(Protocol):
    """The projection."""

    def __call__(self, given: SupplyGiven, /) -> PlanFound:
        """Return what to do about a supply."""


class Planned:
    """Order what the plan chose, on its own day to order by, once that lies before the next decision."""

    def __init__(self, plan: Plan, wanted: float, paths: int = 1000) -> None:
        self.plan, self.wanted, self.paths = plan, wanted, paths
        self.asked, self.quiet_until, self.moves = 0, -1, -1
        self.said: list[float] = []

    def given(self, book: Book, day: int) -> SupplyGiven:
        """Return what the projection rests on."""
        return book.given(day, self.wanted, self.paths)

    def __call__(self, book: Book, day: int) -> Buy | None:
        """Return the order to place before the next decision, if any."""
        if day < self.quiet_until and book.moves == self.moves:
            return None
        found = self.plan(self.given(book, day))
        self.asked, self.moves = self.asked + 1, book.moves
        order_by = found.order_by
        self.quiet_until = day + (YEAR if order_by is None else order_by) - CALM
        if order_by is None or order_by >= WEEK or found.chosen is None:
            return None
        if found.short_before is not None:
            self.said.append(found.short_before)
        return Buy(day + max(0, order_by), found.candidates[found.chosen].packs)


class Told(Planned):
    """The same for whoever knows the true rates, amounts and times; its book is exact."""

    def __init__(self, plan: Plan, world: World, wanted: float, paths: int = 1000) -> None:
        super().__init__(plan, wanted, paths)
        rng = np.random.default_rng([1, world.number])
        self.lead = LeadGiven(None, tuple(lead_days(rng, world.scenario, 400)))
        scenario = world.scenario
        service, repair = (
            AmountGiven(None, CERTAIN, CERTAIN * mean, world.cv or 0.1, piece=scenario.piece) for mean in world.mean
        )
        many = round(CERTAIN * world.chance)
        self.amounts = (service._replace(chance=scenario.chance, times=CERTAIN, taken=many), repair)
        follows = 3 * scenario.clustered / (1 + 2 * scenario.clustered)  # pairs within bursts of three, per use
        self.unplanned = UnplannedGiven(
            round(world.rate * CERTAIN * 1000), CERTAIN * 1000.0, 0.0, 0.0, float(scenario.units), REPAIR, follows
        )

    def given(self, book: Book, day: int) -> SupplyGiven:
        """Return what the book has, with the truth in place of what was learnt."""
        given = super().given(book, day)
        return replace(
            given,
            amounts=self.amounts,
            unplanned=self.unplanned,
            offers=tuple(one._replace(lead=self.lead) for one in given.offers),
            orders=tuple(one._replace(lead=self.lead) for one in given.orders),
        )


class AverageUse:
    """Order when stock and orders are down to the mean use over the mean lead time, times a factor."""

    def __init__(self, factor: float) -> None:
        self.factor = factor

    def __call__(self, book: Book, day: int) -> Buy | None:
        """Return an order of the economic quantity, if it is time."""
        a_day = book.booked / (book.world.scenario.before * YEAR + day)
        point = self.factor * a_day * float(np.mean(book.leads or [SAID_DAYS]))
        if book.shelf.steps() + book.on_order > point:
            return None
        return Buy(day, economic_packs(book, a_day * YEAR))


class FixedMinimum:
    """Order when stock and orders are down to so many months of use by the sheet."""

    def __init__(self, months: float) -> None:
        self.months = months

    def __call__(self, book: Book, day: int) -> Buy | None:
        """Return an order of the economic quantity, if it is time."""
        a_year = book.world.scenario.sheet_a_year
        if book.shelf.steps() + book.on_order > self.months * a_year * MONTH / YEAR:
            return None
        return Buy(day, economic_packs(book, a_year))


def economic_packs(book: Book, a_year: float) -> int:
    """Return whole packs nearest to the economic quantity (Harris 1913), not more than is used while they keep."""
    scenario = book.world.scenario
    holding = 0.10 * scenario.price / scenario.pack
    quantity = sqrt(2 * (scenario.order_cost + scenario.shipping) * a_year / holding)
    lives = [days for days in (scenario.keeps, scenario.keeps_open) if days is not None]
    if lives:
        quantity = min(quantity, a_year * min(lives) / YEAR)
    return max(1, ceil(quantity / scenario.pack - 0.5))
