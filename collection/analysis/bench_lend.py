"""Which units can be ready to be lent by a day: those that are ready, then those that need the least work.

A unit is ready for a loan when nothing comes due on it, no recheck either, before the loan is likely over: so the
chance of being outside its limits stays below the accepted risk while it is out. What does come due is done before.
Of units that are ready the one on which nothing comes due for longest goes first. Units with a fault, a complaint or a
reading out of its limits come last, since nobody knows how long those take; units for which the drawer lacks something
are asked only where the others do not suffice.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import IntEnum
from statistics import median
from typing import NamedTuple

from collection.analysis.bench_calendar import Calendar
from collection.analysis.bench_drawer import Asks, Drawer
from collection.analysis.bench_plan import FULL, NO_DAY, Opening, UnitWork, Work, open_unit
from collection.analysis.schedule import tag_order

ASSUMED_LOAN_DAYS = 28  # common practice, no source
ENOUGH_LOANS = 5  # loans from which on their median counts


class Rank(IntEnum):
    """How near to ready a unit is."""

    READY = 0
    NEEDS_WORK = 1
    UNCERTAIN = 2


class LoanDays(NamedTuple):
    """How long a loan lasts; loans: how many of the past told it, 0 for assumed."""

    days: int
    loans: int


class Candidate(NamedTuple):
    """A unit that may be lent; models: the folded names of its model."""

    unit: UnitWork
    rank: Rank
    models: frozenset[str]


class Chosen(NamedTuple):
    """A unit to be lent; opening: what is done on it before, None for nothing. short: the drawer lacks something."""

    candidate: Candidate
    opening: Opening | None
    short: bool


@dataclass(frozen=True, slots=True)
class Lent:
    """The units chosen, in their order, and why others cannot be ready: NO_DAY or FULL."""

    chosen: tuple[Chosen, ...]
    missed: tuple[tuple[Candidate, str], ...]


def loan_days(lasted: Iterable[int]) -> LoanDays:
    """Return how long loans last: the median of the past ones where enough of them are known."""
    known = [days for days in lasted if days > 0]
    return LoanDays(round(median(known)), len(known)) if len(known) >= ENOUGH_LOANS else LoanDays(ASSUMED_LOAN_DAYS, 0)


def works_until(unit: UnitWork, through: date) -> tuple[Work, ...]:
    """Return what comes due on a unit until the loan is over."""
    return tuple(work for work in unit.works if work.due <= through)


def next_due(unit: UnitWork, through: date) -> date | None:
    """Return the day on which something comes due next after the loan; None where nothing is known to."""
    return min((work.due for work in unit.works if work.due > through), default=None)


class Lending:
    """Chooses units to be ready before a day, planning their openings on bench days from `first` on.

    through: the day on which the loan is likely over.
    """

    def __init__(self, calendar: Calendar, drawer: Drawer, first: date, by: date, through: date) -> None:
        self.calendar, self.drawer = calendar, drawer
        self.first, self.by, self.through = first, by, through
        self._chosen: list[Chosen] = []
        self._missed: list[tuple[Candidate, str]] = []

    def choose(self, candidates: Sequence[Candidate], wanted: int) -> Lent:
        """Return which of the units to lend, `wanted` at most."""
        left = sorted(candidates, key=self._order)
        for short_too in (False, True):
            left = [each for each in left if len(self._chosen) < wanted and not self._add(each, short_too=short_too)]
        return Lent(tuple(self._chosen), tuple(self._missed))

    def _order(self, candidate: Candidate) -> tuple[Rank, int, int, tuple[tuple[int, int, str], ...]]:
        minutes = sum(work.minutes for work in works_until(candidate.unit, self.through))
        after = next_due(candidate.unit, self.through) or date.max
        return candidate.rank, minutes, -after.toordinal(), tag_order(candidate.unit.tag)

    def _add(self, candidate: Candidate, *, short_too: bool) -> bool:
        """Choose a unit, or note why it cannot be ready by then; False where it is left since the drawer lacks some."""
        works = works_until(candidate.unit, self.through)
        start = self.calendar.first_from(max(self.first, candidate.unit.free_from))
        if not works:
            self._chosen.append(Chosen(candidate, None, short=False))
            return True
        day = self.calendar.day(self.calendar.first_with_room(sum(work.minutes for work in works), start))
        if day >= self.by:
            self._missed.append((candidate, FULL if self.calendar.day(start) < self.by else NO_DAY))
            return True
        asks = Asks(day, tuple(work.procedure_id for work in works if work.procedure_id is not None), candidate.models)
        short = any(take.short > take.coming for take in self.drawer.look(asks))
        if short and not short_too:
            return False
        self.drawer.take(asks)
        opening = open_unit(self.calendar, candidate.unit, self.first, self.through)
        self._chosen.append(Chosen(candidate, opening, short))
        return True
