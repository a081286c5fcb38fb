"""Years of one supply under one rule of ordering: what ran short between arrivals, and what lay on the shelf.

A decision is taken each week, in the morning, from the book alone; the book is counted twice a year and whenever book
and shelf disagree on whether anything is left. An order cycle lasts from one arrival to the next.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple

from tests.support.workshop_book import Book
from tests.support.workshop_shelf import Shelf
from tests.support.workshop_truth import AFTER, Use, World

WEEK = 7
COUNTS = 182


class Buy(NamedTuple):
    """An order to be placed on a day of the coming week."""

    day: int
    packs: int


Rule = Callable[[Book, int], Buy | None]


class Cycle(NamedTuple):
    """One order: when it was decided and placed, when it came, what it held.

    short: a use was not met in full since the arrival before it; waiting: since the decision. recorded: uses that had
    been written down at the arrival before it. A use that was not met and followed by no order makes a cycle too, as
    of an order that never came.
    """

    decided: int
    placed: int
    arrived: int
    packs: int
    short: bool
    waiting: bool
    recorded: int


@dataclass(slots=True)
class Lived:
    """What came of the years: cycles, average value of the stock and value wasted a year, in minor units."""

    cycles: list[Cycle] = field(default_factory=list)
    stock: float = 0.0
    waste: float = 0.0


class _Coming(NamedTuple):
    arrives: int
    decided: int
    placed: int
    packs: int


def live(world: World, rule: Rule, book: Book) -> Lived:
    """Let the club live with a rule from the first decision to the last, and return what came of it."""
    years = _Years(world, rule, book)
    for day in range(world.scenario.end + AFTER):
        if day >= world.scenario.end and not years.waits:
            break
        years.morning(day)
        years.evening(day)
    return years.lived()


class _Years:
    """The shelf as it really is, day after day, and what came of it so far."""

    def __init__(self, world: World, rule: Rule, book: Book) -> None:
        self.world, self.rule, self.book = world, rule, book
        scenario = world.scenario
        self.shelf = Shelf(scenario.keeps_open, scenario.drying)
        self.shelf.put(world.start // scenario.pack, scenario.pack, 0, scenario.keeps)
        book.shelf.copy_from(self.shelf)
        self.uses: dict[int, list[Use]] = {}
        for use in world.uses:
            self.uses.setdefault(use.day, []).append(use)
        self.to_place: list[tuple[int, Buy]] = []  # with the day of the decision
        self.coming: list[_Coming] = []
        self.leads = iter(world.leads)
        self.cycles: list[Cycle] = []
        self.shortages: list[int] = []
        self.since, self.known = 0, book.recorded  # day of the arrival before, and uses written down by then
        self.wasted = self.value = 0.0

    @property
    def waits(self) -> bool:
        """Whether anything is still to come."""
        return bool(self.coming or self.to_place)

    def morning(self, day: int) -> None:
        """Take in what comes, throw away what has passed its date, count and decide where it is time."""
        scenario = self.world.scenario
        for one in [one for one in self.coming if one.arrives == day]:
            self._arrive(one)
        gone = self.shelf.expire(day)
        self.book.shelf.expire(day)
        if day < scenario.end:
            self.wasted += gone
        if day and day % COUNTS == 0:
            self.book.count(self.shelf)
        if day % WEEK == 0:
            self._decide(day)
            self.shelf.dry(WEEK)
            self.book.week(WEEK)

    def evening(self, day: int) -> None:
        """Place the orders of the day, then use what is used."""
        for decided, buy in [one for one in self.to_place if one[1].day == day]:
            self.to_place.remove((decided, buy))
            self.book.order(day, buy.packs)
            self.coming.append(_Coming(day + max(1, next(self.leads)), decided, day, buy.packs))
        for use in self.uses.get(day, ()):
            if self.shelf.take(use.steps, day).short > 0:
                self.shortages.append(day)
            self.book.use(use, self.shelf)

    def _decide(self, day: int) -> None:
        if day >= self.world.scenario.end:
            return
        self.value += self.shelf.steps()
        buy = self.rule(self.book, day)
        if buy is not None:
            self.to_place.append((day, buy))

    def _arrive(self, one: _Coming) -> None:
        scenario = self.world.scenario
        self.coming.remove(one)
        self.shelf.put(one.packs, scenario.pack, one.arrives, scenario.keeps)
        self.book.receive(one.arrives, one.placed, one.packs)
        if one.decided < scenario.end:
            short, waiting = (
                any(start <= day < one.arrives for day in self.shortages) for start in (self.since, one.decided)
            )
            self.cycles.append(
                Cycle(
                    one.decided, one.placed, one.arrives, one.packs, short=short, waiting=waiting, recorded=self.known
                )
            )
        self.since, self.known = one.arrives, self.book.recorded

    def lived(self) -> Lived:
        """Return what came of it all."""
        scenario = self.world.scenario
        end = scenario.end
        if any(self.since <= day < end for day in self.shortages):
            self.cycles.append(Cycle(end, end, end, 0, short=True, waiting=True, recorded=self.known))
        step = scenario.price / scenario.pack
        return Lived(self.cycles, self.value / (end / WEEK) * step, self.wasted * step / scenario.years)
