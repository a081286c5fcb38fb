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
from tests.support.workshop_truth import AFTER, YEAR, World

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
    scenario, lived = world.scenario, Lived()
    shelf = Shelf(scenario.keeps_open, scenario.drying)
    shelf.put(world.start // scenario.pack, scenario.pack, 0, scenario.keeps)
    book.shelf.copy_from(shelf)
    uses = iter([one for one in world.uses if one.day >= 0])
    use = next(uses, None)
    to_place: list[tuple[int, Buy]] = []
    coming: list[_Coming] = []
    orders, wasted, value = 0, 0.0, 0.0
    shortages: list[int] = []
    since, known = 0, book.recorded  # day of the arrival before, and uses written down by then
    for day in range(scenario.end + AFTER):
        for one in sorted(one for one in coming if one.arrives == day):
            coming.remove(one)
            shelf.put(one.packs, scenario.pack, day, scenario.keeps)
            book.receive(day, one.placed, one.packs)
            if one.decided < scenario.end:
                lived.cycles.append(_closed(one, since, shortages, known))
            since, known = day, book.recorded
        gone = shelf.expire(day)
        book.shelf.expire(day)
        if day < scenario.end:
            wasted += gone
        elif not coming and not to_place:
            break
        if day and day % COUNTS == 0:
            book.count(day, shelf)
        if day % WEEK == 0:
            if day < scenario.end:
                value += shelf.steps()
                buy = rule(book, day)
                if buy is not None:
                    to_place.append((day, buy))
            shelf.dry(WEEK)
            book.week(WEEK)
        for decided, buy in [one for one in to_place if one[1].day == day]:
            to_place.remove((decided, buy))
            book.order(day, buy.packs)
            coming.append(_Coming(day + max(1, world.leads[orders]), decided, day, buy.packs))
            orders += 1
        while use is not None and use.day == day:
            moved = shelf.take(use.steps, day)
            if moved.short > 0:
                shortages.append(day)
            book.use(use, shelf)
            use = next(uses, None)
    if any(since <= day < scenario.end for day in shortages):
        lived.cycles.append(Cycle(scenario.end, scenario.end, scenario.end, 0, short=True, waiting=True, recorded=known))
    step = scenario.price / scenario.pack
    lived.stock = value / (scenario.end / WEEK) * step
    lived.waste = wasted * step / (scenario.end / YEAR)
    return lived


def _closed(one: _Coming, since: int, shortages: list[int], known: int) -> Cycle:
    return Cycle(
        decided=one.decided,
        placed=one.placed,
        arrived=one.arrives,
        packs=one.packs,
        short=any(since <= day < one.arrives for day in shortages),
        waiting=any(one.decided <= day < one.arrives for day in shortages),
        recorded=known,
    )
