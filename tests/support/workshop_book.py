"""What the club writes down of one supply, and the projection's input made of it: never the truth.

Uses are weighed or booked by the sheet; a count corrects the book and, where nothing dries, tells what the uses by the
sheet since the last count really took.
"""

from __future__ import annotations

import numpy as np

from collection.analysis.stock_plan.given import (
    AHEAD,
    ENOUGH_FREE,
    LEAST_SPREAD,
    USUAL_LEAD_SPREAD,
    USUAL_SPREAD,
    AmountGiven,
    JobGiven,
    LeadGiven,
    LotGiven,
    OfferGiven,
    OrderGiven,
    SupplyGiven,
    UnplannedGiven,
)
from tests.support.workshop_shelf import FOREVER, Shelf
from tests.support.workshop_truth import MONTH, YEAR, Use, World

SERVICE, REPAIR = 0, 1
SAID_DAYS = 14  # the supplier's word
USUAL_JOB_SPREAD = 14.0


class Learnt:
    """What is known of the amount of one kind of use: how many uses took how much."""

    def __init__(self) -> None:
        self.uses, self.total, self.squares = 0.0, 0.0, 0.0  # squares: of weighed uses
        self.weighed = 0
        self.weighed_total = 0.0
        self.times, self.taken = 0, 0

    def weigh(self, steps: int) -> None:
        """Learn from a use that was weighed or counted."""
        self.uses, self.total = self.uses + 1, self.total + steps
        self.weighed, self.weighed_total = self.weighed + 1, self.weighed_total + steps
        self.squares += steps**2

    def spread(self) -> tuple[int, float]:
        """Return the degrees of freedom and the squared spread, as a part of the mean, of what was weighed."""
        if self.weighed < 2:
            return 0, 0.0
        mean = self.weighed_total / self.weighed
        return self.weighed - 1, max(0.0, self.squares / self.weighed - mean**2) * self.weighed / (
            self.weighed - 1
        ) / mean**2


class Book:
    """The records of one supply. exact: whoever writes knows everything, as the oracle does."""

    def __init__(self, world: World, *, exact: bool = False) -> None:
        self.world, self.exact = world, exact
        scenario = world.scenario
        self.sheets = (scenario.sheet, round(scenario.sheet * scenario.per_repair))
        self.shelf = Shelf(scenario.keeps_open, scenario.drying if exact else 0.0)
        self.learnt = (Learnt(), Learnt())
        self.by_sheet = [0, 0]  # uses by the sheet since the last count, of services and repairs
        self.open_days, self.dried = 0, []  # type: tuple[int, list[float]]
        self.events, self.recorded, self.moves = 0, 0, 0
        self.leads = list(world.past_leads)
        self.orders: list[tuple[int, int]] = []  # placed, packs
        self.done: dict[int, int] = {}
        self.late: list[int] = []
        self.used: list[tuple[int, int]] = []  # day, steps booked
        self._read_history()

    def _read_history(self) -> None:
        off, nobody = 0, Shelf()
        for use in self.world.uses:
            if use.day >= 0:
                break
            off += use.steps - self._note(use)
            if use.day // (YEAR // 2) != (use.day + 1) // (YEAR // 2):
                self._learn_from_count(off)
                off = 0
        self._learn_from_count(off)
        del nobody

    def _note(self, use: Use) -> int:
        """Write down a use, and return the steps that it is booked with."""
        kind = REPAIR if use.due is None else SERVICE
        learnt, scenario = self.learnt[kind], self.world.scenario
        self.events += kind == REPAIR
        if use.due is not None:
            self.done[use.unit] = use.day
            self.late.append(use.day - use.due)
            learnt.times += 1
            learnt.taken += use.steps > 0
        if not use.steps:
            return 0
        self.recorded += 1
        guessed = use.by_sheet and not scenario.piece and not self.exact
        booked = self.sheets[kind] if guessed else use.steps
        if guessed:
            self.by_sheet[kind] += 1
        else:
            learnt.weigh(use.steps)
        self.used.append((use.day, booked))
        self.moves += 1
        return booked

    def use(self, use: Use, shelf: Shelf) -> None:
        """Book a use, and count where the book and the shelf disagree on whether anything is left."""
        self.shelf.take(self._note(use), use.day)
        if (shelf.steps() >= 1) != (self.shelf.steps() >= 1):
            self.count(use.day, shelf)

    def count(self, day: int, shelf: Shelf) -> None:
        """Count the shelf: the book is right from now on, and what it was off by teaches."""
        self._learn_from_count(self.shelf.steps() - shelf.steps())
        self.shelf.copy_from(shelf)
        self.moves += 1

    def _learn_from_count(self, off: float) -> None:
        scenario = self.world.scenario
        if scenario.drying:
            if self.open_days >= 30:
                self.dried.append(off / self.open_days)
        elif sum(self.by_sheet):
            told = sum(uses * sheet for uses, sheet in zip(self.by_sheet, self.sheets, strict=True))
            share = max(0.0, 1 + off / told)
            for learnt, uses, sheet in zip(self.learnt, self.by_sheet, self.sheets, strict=True):
                learnt.uses, learnt.total = learnt.uses + uses, learnt.total + uses * sheet * share
        self.by_sheet, self.open_days = [0, 0], 0

    def week(self, days: int) -> None:
        """Let the days pass."""
        self.open_days += days if any(one.opened and one.steps > 0 for one in self.shelf.packs) else 0
        self.shelf.dry(days)

    def order(self, day: int, packs: int) -> None:
        """Write down an order placed."""
        self.orders.append((day, packs))
        self.moves += 1

    def receive(self, day: int, placed: int, packs: int) -> None:
        """Write down that an order came."""
        scenario = self.world.scenario
        self.orders.remove((placed, packs))
        self.leads.append(day - placed)
        self.shelf.put(packs, scenario.pack, day, scenario.keeps)
        self.moves += 1

    @property
    def on_order(self) -> int:
        """Steps that are ordered and not there."""
        return sum(packs for _, packs in self.orders) * self.world.scenario.pack

    def given(self, day: int, wanted: float, paths: int) -> SupplyGiven:
        """Return what a projection may know on the morning of a day."""
        scenario = self.world.scenario
        lead = LeadGiven(SAID_DAYS, tuple(self.leads), _lead_spread(self.leads))
        return SupplyGiven(
            seed=self.world.number * 100_003 + self.moves * 1009 + day,
            lots=tuple(
                LotGiven(
                    int(one.steps),
                    None if one.through == FOREVER else one.through - day,
                    None if one.opened else scenario.keeps_open,
                )
                for one in self.shelf.in_order()
                if one.steps >= 1
            ),
            jobs=self._jobs(day),
            amounts=self._amounts(),
            unplanned=self._unplanned(day),
            orders=tuple(
                OrderGiven(packs * scenario.pack, day - placed, lead, None, scenario.keeps)
                for placed, packs in self.orders
            ),
            offers=(OfferGiven(0, scenario.pack, scenario.price, 1, 1, scenario.shipping, lead),),
            wanted=wanted,
            keeps=scenario.keeps,
            keeps_open=scenario.keeps_open,
            drying=self._drying(),
            order_cost=scenario.order_cost,
            paths=paths,
        )

    def _jobs(self, day: int) -> tuple[JobGiven, ...]:
        scenario = self.world.scenario
        if not scenario.months:
            return ()
        every = round(scenario.months * MONTH)
        spread = float(np.sqrt(np.mean(np.square(self.late)))) if len(self.late) >= 8 else USUAL_JOB_SPREAD
        jobs = []
        for done in self.done.values():
            on, times = max(0, done + every - day), 1
            while on < AHEAD:
                jobs.append(JobGiven(on, spread * times**0.5, 1.0, SERVICE))
                on, times = on + every, times + 1
        return tuple(sorted(jobs))

    def _amounts(self) -> tuple[AmountGiven, AmountGiven]:
        scenario = self.world.scenario
        free = [one.spread() for one in self.learnt]
        known = sum(number for number, _ in free)
        spread = (
            max(LEAST_SPREAD, float(np.sqrt(sum(number * square for number, square in free) / known)))
            if known >= ENOUGH_FREE
            else USUAL_SPREAD
        )
        service, repair = self.learnt
        return (
            AmountGiven(
                scenario.sheet, service.uses, service.total, spread, scenario.chance, service.times, service.taken,
                scenario.piece,
            ),
            AmountGiven(self.sheets[REPAIR], repair.uses, repair.total, spread, piece=scenario.piece),
        )  # fmt: skip

    def _unplanned(self, day: int) -> UnplannedGiven:
        scenario = self.world.scenario
        shape, rate = class_prior(self.world.siblings)
        exposure = scenario.units * (scenario.before * YEAR + day) / MONTH
        return UnplannedGiven(self.events, exposure, shape, rate, float(scenario.units), REPAIR)

    def _drying(self) -> tuple[float, float]:
        if self.exact:
            return self.world.scenario.drying, 0.0
        if not self.dried:
            return 0.0, 0.0
        return max(0.0, float(np.mean(self.dried))), float(np.std(self.dried))


def class_prior(others: tuple[tuple[int, float], ...]) -> tuple[float, float]:
    """Return shape and rate of a class's repairs per unit-month."""
    events, exposure = np.array(others, dtype=np.float64).T
    rates = events / exposure
    middle = events.sum() / exposure.sum()
    variance = rates.var(ddof=1) - middle * np.mean(1 / exposure)
    shape = float(np.clip(middle**2 / variance, 0.3, 20.0)) if variance > 0 else 20.0
    return shape, float(shape / middle)


def _lead_spread(leads: list[int]) -> float:
    if len(leads) <= ENOUGH_FREE:
        return USUAL_LEAD_SPREAD
    return max(LEAST_SPREAD, float(np.std(leads, ddof=1) / np.mean(leads)))
