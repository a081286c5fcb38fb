"""What the club writes down of one supply, and the projection's input made of it: never the truth.

Uses are weighed or booked by the sheet, a count corrects the book, and what all that teaches is learnt by the program's
own functions.
"""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from math import floor, sqrt

from collection.analysis.lead_time import pooled_spread
from collection.analysis.stock_plan.given import (
    SHEET_USES,
    AmountGiven,
    JobGiven,
    LeadGiven,
    LotGiven,
    OfferGiven,
    OrderGiven,
    SupplyGiven,
    UnplannedGiven,
)
from collection.analysis.use_amounts import Seen, pooled, spread_of
from collection.analysis.use_bursts import with_bursts
from collection.analysis.use_counts import Counting, drying_of, went_by_sheet
from collection.analysis.use_occasions import Key
from collection.analysis.use_rates import Rate, Watched, unplanned_given
from collection.analysis.work_days import habit_of, next_time, past_years, times
from tests.support.workshop_shelf import FOREVER, Shelf
from tests.support.workshop_truth import MONTH, YEAR, Use, World

SERVICE, REPAIR = 0, 1
SAID_DAYS = 14  # the supplier's word
AHEAD = 545  # days that are drawn: time is short, and no quantity lasts longer by much
DAY = "2026-01-01"  # of the first decision; and of a count: only what lies between counts matters


def _on(day: int) -> date:
    """Return the date of a day."""
    return date.fromisoformat(DAY) + timedelta(days=day)


class Book:
    """The records of one supply. exact: whoever writes knows everything, as the oracle does."""

    def __init__(self, world: World, *, exact: bool = False) -> None:
        self.world, self.exact = world, exact
        scenario = world.scenario
        self.sheets = (scenario.sheet, round(scenario.sheet * scenario.per_repair))
        self.shelf = Shelf(scenario.keeps_open, scenario.drying if exact else 0.0)
        self.weighed: tuple[list[Seen], list[Seen]] = ([], [])
        self.services = [0, 0]  # that were done, and that took any
        self.by_sheet = [0, 0]  # uses by the sheet since the last count, of services and repairs
        self.open_days = 0
        self.counts: list[Counting] = []
        self.events, self.recorded, self.moves, self.changed = 0, 0, 0, 0
        self.leads = list(world.past_leads)
        self.orders: list[tuple[int, int]] = []  # placed, packs
        self.done: dict[int, int] = {}
        self.late: list[int] = []
        self.repaired: list[int] = []
        self.worked: Counter[int] = Counter()  # services by day
        self.booked = 0  # steps in all
        self._read_history()

    def _read_history(self) -> None:
        """Read the years before, as of a drawer that was counted twice a year."""
        missing = 0
        for use in self.world.uses:
            if use.day >= 0:
                break
            missing += use.steps - self._note(use)
            if use.day // (YEAR // 2) != (use.day + 1) // (YEAR // 2):
                self._learn_from_count(missing)
                missing = 0
        self._learn_from_count(missing)
        self.changed = 0

    def _note(self, use: Use) -> int:
        """Write down a use, and return the steps that it is booked with."""
        kind = REPAIR if use.due is None else SERVICE
        self.events += kind == REPAIR
        self.repaired += [use.day] * (kind == REPAIR)
        if use.due is not None:
            self.done[use.unit] = use.day
            self.late.append(use.day - use.due)
            self.worked[use.day] += 1
            self.services[0] += 1
            self.services[1] += use.steps > 0
        if not use.steps:
            return 0
        guessed = use.by_sheet and not self.world.scenario.piece and not self.exact
        booked = self.sheets[kind] if guessed else use.steps
        if guessed:
            self.by_sheet[kind] += 1
        else:
            self.weighed[kind].append(Seen(1.0, use.steps, alone=True, counted=False))
        self.booked += booked
        self.recorded, self.moves, self.changed = self.recorded + 1, self.moves + 1, use.day
        return booked

    def use(self, use: Use, shelf: Shelf) -> None:
        """Book a use, and count where the book and the shelf disagree on whether anything is left."""
        self.shelf.take(self._note(use), use.day)
        if (shelf.steps() >= 1) != (self.shelf.steps() >= 1):
            self.count(shelf)

    def count(self, shelf: Shelf) -> None:
        """Count the shelf: the book is right from now on, and what it was off by teaches."""
        self._learn_from_count(round(self.shelf.steps() - shelf.steps()))
        self.shelf.copy_from(shelf)
        self.moves += 1

    def _learn_from_count(self, missing: int) -> None:
        kinds: list[Key] = [("service", SERVICE, None), ("event", REPAIR, None)]
        booked = [uses * sheet for uses, sheet in zip(self.by_sheet, self.sheets, strict=True)]
        sheets = {kind: steps for kind, steps in zip(kinds, booked, strict=True) if steps}
        count = Counting(DAY, sheets, missing, self.open_days)
        self.counts.append(count)
        if count.booked:
            ratio = went_by_sheet(count, self._drying()[0]) / count.booked
            for seen, uses, sheet in zip(self.weighed, self.by_sheet, self.sheets, strict=True):
                if uses:
                    seen.append(Seen(uses, uses * sheet * ratio, alone=min(self.by_sheet) == 0, counted=True))
        self.by_sheet, self.open_days = [0, 0], 0

    def week(self, days: int) -> None:
        """Let the days pass."""
        self.open_days += days * sum(one.opened and one.steps > 0 for one in self.shelf.packs)
        self.shelf.dry(days)

    def order(self, day: int, packs: int) -> None:
        """Write down an order placed."""
        self.orders.append((day, packs))
        self.moves, self.changed = self.moves + 1, day

    def receive(self, day: int, placed: int, packs: int) -> None:
        """Write down that an order came."""
        scenario = self.world.scenario
        self.orders.remove((placed, packs))
        self.leads.append(day - placed)
        self.shelf.put(packs, scenario.pack, day, scenario.keeps)
        self.moves, self.changed = self.moves + 1, day

    @property
    def on_order(self) -> int:
        """Steps that are ordered and not there."""
        return sum(packs for _, packs in self.orders) * self.world.scenario.pack

    def given(self, day: int, wanted: float, paths: int) -> SupplyGiven:
        """Return what a projection may know on the morning of a day."""
        scenario = self.world.scenario
        lead = LeadGiven(SAID_DAYS, tuple(self.leads), pooled_spread([self.leads]))
        return SupplyGiven(
            seed=self.world.number * 100_003 + self.moves,
            lots=self._lots(day),
            jobs=self._jobs(day),
            amounts=self._amounts(),
            unplanned=self._unplanned(day),
            orders=tuple(
                OrderGiven(packs * scenario.pack, day - placed, lead, None, scenario.keeps, 0)
                for placed, packs in self.orders
            ),
            offers=(OfferGiven(0, scenario.pack, scenario.price, 1, 1, scenario.shipping, lead),),
            wanted=wanted,
            keeps=scenario.keeps,
            keeps_open=scenario.keeps_open,
            drying=self._drying(),
            unbooked=self._unbooked(),
            order_cost=scenario.order_cost,
            quiet=min(YEAR, day - self.changed),
            work_days=past_years({_on(each): units for each, units in self.worked.items()}, _on(day)),
            ahead=AHEAD,
            paths=paths,
        )

    def _unbooked(self) -> tuple[float, float]:
        """Return what the shelf likely has less than the book: uses by the sheet that took more, and what has dried."""
        rate, spread = self._drying()
        steps, squares = rate * self.open_days, (spread * self.open_days) ** 2
        for known, uses, sheet in zip(self._amounts(), self.by_sheet, self.sheets, strict=True):
            if uses and known.uses:
                mean = (known.total + SHEET_USES * sheet) / (known.uses + SHEET_USES)
                steps, squares = steps + uses * (mean - sheet), squares + uses * (known.spread * mean) ** 2
        return (steps, sqrt(squares)) if steps > 0 and not self.exact else (0.0, 0.0)

    def _lots(self, day: int) -> tuple[LotGiven, ...]:
        keeps_open = self.world.scenario.keeps_open
        return tuple(
            LotGiven(
                floor(one.steps),
                None if one.through >= FOREVER else one.through - day,
                None if one.opened else keeps_open,
            )
            for one in self.shelf.in_order()
            if one.steps >= 1
        )

    def _jobs(self, day: int) -> tuple[JobGiven, ...]:
        scenario = self.world.scenario
        if not scenario.months:
            return ()
        every = round(scenario.months * MONTH)
        habit = habit_of(self.late, every)
        return tuple(
            JobGiven(when.about, when.spread, 1.0, SERVICE)
            for done in self.done.values()
            for when in times(next_time(done + every - day, habit), every, habit, AHEAD)
        )

    def _amounts(self) -> tuple[AmountGiven, AmountGiven]:
        scenario = self.world.scenario
        spread = pooled(spread_of(each) for each in self.weighed).to_plan
        times, taken = self.services if scenario.chance < 1 else (0, 0)
        uses = [sum(one.uses for one in seen) for seen in self.weighed]
        totals = [sum(one.total for one in seen) for seen in self.weighed]
        service = AmountGiven(
            scenario.sheet, uses[0], totals[0], spread, scenario.chance, times, taken, scenario.piece
        )  # fmt: skip
        return service, AmountGiven(self.sheets[REPAIR], uses[1], totals[1], spread, piece=scenario.piece)

    def _unplanned(self, day: int) -> UnplannedGiven | None:
        scenario = self.world.scenario
        days = scenario.before * YEAR + day
        own = Rate(self.events, Watched(scenario.units * days / MONTH, days, scenario.units), "", None)
        others = [
            Rate(events, Watched(months, scenario.before * YEAR, scenario.units), "", None)
            for events, months in self.world.siblings
        ]
        given, _ = unplanned_given(own, [own, *others])
        if given is None:
            return None
        return with_bursts(given._replace(amount=REPAIR), [_on(each) for each in self.repaired], days, _on(day))

    def _drying(self) -> tuple[float, float]:
        return (self.world.scenario.drying, 0.0) if self.exact else drying_of(self.counts)
