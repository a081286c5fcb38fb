"""The bench calendar: which unit is opened on which bench day, and what is done in that opening.

A unit is opened once for all that is due on it by then; what comes due within a month after goes along, so that the
unit need not be opened again (common practice, no source). Months, hours and rechecks have a latest date, the day on
which they come due; what an event calls for (an arrival, a fault, a reading out of its limits) has none and is done on
the first day with room.

Openings are planned one after another, the most urgent first: units with a fault, a complaint or a reading out of its
limits, then by the day on which their work comes due, then by tag. Each goes on a day with room before its latest date:
a day of the last month before it on which there is work already, else the last day before it. Where all those days are
full or there is none, it goes on the first day after with room, and why is said.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from collection.analysis.bench_calendar import Calendar
from collection.analysis.months import add_months
from collection.analysis.schedule import tag_order

# How many days early work may be done to spare an opening or a bench day: common practice, no source. Work that comes
# often may be early by a quarter of its interval at most.
EARLY_DAYS = 30
_PART_OF_INTERVAL = 4
_DAYS_A_MONTH = 30
_HAVE_LATEST = frozenset({"months", "hours", "first due", "unused", "recheck"})
PRESSING = frozenset({"limit", "symptom", "complaint"})

OVERDUE, ON_LOAN, NO_DAY, FULL = "overdue", "on loan", "no bench day", "full"


class Work(NamedTuple):
    """One procedure that is due on a unit (procedure_id None: a plain look), from when and why.

    kind: of its earliest reason, as `schedule.DueItem` has it. every_months: after which it comes back, None for never.
    """

    procedure_id: int | None
    procedure: str
    due: date
    kind: str
    reasons: tuple[str, ...]
    minutes: int
    every_months: int | None = None

    @property
    def latest(self) -> date | None:
        """The day by which it is to be done; None for what an event calls for."""
        return self.due if self.kind in _HAVE_LATEST else None

    @property
    def early(self) -> int:
        """How many days before it comes due it may be done."""
        if self.every_months is None:
            return EARLY_DAYS
        return min(EARLY_DAYS, self.every_months * _DAYS_A_MONTH // _PART_OF_INTERVAL)


@dataclass(frozen=True, slots=True)
class UnitWork:
    """What is due on a unit; free_from: the first day on which it is at hand."""

    unit_id: int
    tag: str
    works: tuple[Work, ...]
    free_from: date


@dataclass(frozen=True, slots=True)
class Opening:
    """A unit opened on a day for all that is due on it then; works by the day on which they come due.

    latest: the earliest day by which any of it was to be done, None where nothing sets one. late: why it comes after
    that, one of OVERDUE (that day had passed before the calendar begins), ON_LOAN, NO_DAY, FULL; "" where it does not.
    """

    unit_id: int
    tag: str
    on: date
    works: tuple[Work, ...]
    latest: date | None
    late: str

    @property
    def minutes(self) -> int:
        """How long it takes."""
        return sum(work.minutes for work in self.works)

    @property
    def days_late(self) -> int | None:
        """Days after the latest date, below zero before it; None where there is none."""
        return None if self.latest is None else (self.on - self.latest).days

    @property
    def urgency(self) -> tuple[bool, date, tuple[tuple[int, int, str], ...]]:
        """By what openings are ranked, the most urgent first."""
        return _urgency(self.tag, self.works)


@dataclass(frozen=True, slots=True)
class BenchDay:
    """A bench day with its openings, the most urgent first. too_long: its one opening is longer than the day."""

    on: date
    openings: tuple[Opening, ...]
    too_long: bool

    @property
    def minutes(self) -> int:
        """How long its openings take together."""
        return sum(opening.minutes for opening in self.openings)


@dataclass(frozen=True, slots=True)
class BenchPlan:
    """The days from the first to the last of the calendar; after: openings that found room only after its last day."""

    days: tuple[BenchDay, ...]
    after: tuple[Opening, ...]

    @property
    def openings(self) -> tuple[Opening, ...]:
        """Every opening, by day, those after the last day too."""
        return (*(opening for day in self.days for opening in day.openings), *self.after)


@dataclass(frozen=True, slots=True)
class Bench:
    """When there is work at the bench: from a day until a day, on which days of the week (0: Monday), how long."""

    first: date
    last: date
    weekdays: tuple[int, ...]
    minutes: int

    def calendar(self) -> Calendar:
        """Return its days, all empty."""
        return Calendar(self.first, self.weekdays, self.minutes)

    @property
    def covered(self) -> date:
        """The last day whose work falls to it: the one before the next bench day would be."""
        days = self.calendar()
        return days.day(days.last_until(self.last) + 1) - timedelta(1)


class _Turn(NamedTuple):
    """One opening of a unit to be planned: what is left to do on it, and from when on."""

    unit: UnitWork
    works: tuple[Work, ...]
    free_from: date


def plan_bench(units: Sequence[UnitWork], bench: Bench, wanted: Mapping[int, date] | None = None) -> BenchPlan:
    """Return which unit is opened when.

    wanted: units that are planned before all others, in their order and as early as may be, each with the day until
    which nothing may come due on it afterwards. Work is planned that comes due before the first bench day after the
    last of the bench, and what goes along with it; work that comes back in that time is planned again.
    """
    calendar, covered = bench.calendar(), bench.covered
    wanted = wanted or {}
    openings: list[Opening] = []
    places = {unit.unit_id: place for place, unit in enumerate(units)}
    for unit_id, through in wanted.items():
        unit = units[places[unit_id]]
        if any(work.due <= through for work in unit.works):
            openings.append(open_unit(calendar, unit, bench.first, through))
    done = {opening.unit_id: opening for opening in openings}
    turns = [_first_turn(unit, bench, done.get(unit.unit_id)) for unit in units]
    queue = [(_urgency(turn.unit.tag, turn.works), at) for at, turn in enumerate(turns) if _falls_in(turn, covered)]
    heapq.heapify(queue)
    while queue:
        _, at = heapq.heappop(queue)
        turn = turns[at]
        opening = _planned(calendar, turn, bench.first)
        openings.append(opening)
        turns[at] = turn = _Turn(turn.unit, _left(turn.works, opening), opening.on + timedelta(1))
        if _falls_in(turn, covered):
            heapq.heappush(queue, (_urgency(turn.unit.tag, turn.works), at))
    return _by_day(openings, bench)


def open_unit(calendar: Calendar, unit: UnitWork, first: date, through: date) -> Opening:
    """Plan one opening of a unit as early as may be, for all that comes due on it until a day, and return it."""
    turn = _Turn(unit, _in_order(unit.works), max(first, unit.free_from))
    works = tuple(work for work in turn.works if work.due <= through)
    place = calendar.first_with_room(_minutes(works), calendar.first_from(turn.free_from))
    return _opening(calendar, turn, works, place, first)


def _first_turn(unit: UnitWork, bench: Bench, done: Opening | None) -> _Turn:
    works = _in_order(unit.works)
    if done is None:
        return _Turn(unit, works, max(bench.first, unit.free_from))
    return _Turn(unit, _left(works, done), done.on + timedelta(1))


def _falls_in(turn: _Turn, covered: date) -> bool:
    return bool(turn.works) and turn.works[0].due <= covered


def _in_order(works: Collection[Work]) -> tuple[Work, ...]:
    return tuple(sorted(works, key=lambda work: work.due))


def _urgency(tag: str, works: Sequence[Work]) -> tuple[bool, date, tuple[tuple[int, int, str], ...]]:
    return all(work.kind not in PRESSING for work in works), works[0].due, tag_order(tag)


def _minutes(works: Collection[Work]) -> int:
    return sum(work.minutes for work in works)


def _planned(calendar: Calendar, turn: _Turn, first: date) -> Opening:
    """Plan the next opening of a unit and return it: what falls due until the very day it is opened is done in it."""
    until = max(turn.works[0].due, turn.free_from)
    while True:
        works = tuple(work for work in turn.works if work.due - timedelta(work.early) <= until)
        place = _place(calendar, turn, works)
        if _is_late(calendar, works, place):
            # Nothing goes along where the opening would be in time without it.
            alone = tuple(work for work in works if work.due <= until)
            if len(alone) < len(works) and _latest(alone) is not None:
                sooner = _place(calendar, turn, alone)
                if not _is_late(calendar, alone, sooner):
                    works, place = alone, sooner
        day = calendar.day(place)
        if day <= until or works == turn.works:
            return _opening(calendar, turn, works, place, first)
        until = day


def _is_late(calendar: Calendar, works: Collection[Work], place: int) -> bool:
    latest = _latest(works)
    return latest is not None and calendar.day(place) > latest


def _place(calendar: Calendar, turn: _Turn, works: Sequence[Work]) -> int:
    """Return the place of the day that suits an opening best."""
    minutes, start = _minutes(works), calendar.first_from(turn.free_from)
    latest = _latest(works)
    if latest is None or any(work.latest is None for work in works):
        return calendar.first_with_room(minutes, start)
    end = calendar.last_until(latest)
    early = max(start, calendar.first_from(latest - timedelta(works[0].early)))
    place = calendar.last_in_use_with_room(minutes, early, end)
    if place is None:
        place = calendar.last_with_room(minutes, start, end)
    return calendar.first_with_room(minutes, max(start, end + 1)) if place is None else place


def _latest(works: Collection[Work]) -> date | None:
    return min((work.latest for work in works if work.latest is not None), default=None)


def _opening(calendar: Calendar, turn: _Turn, works: tuple[Work, ...], place: int, first: date) -> Opening:
    day, latest = calendar.day(place), _latest(works)
    late = _why_late(calendar, turn, latest, first) if latest is not None and day > latest else ""
    calendar.take(place, _minutes(works))
    return Opening(turn.unit.unit_id, turn.unit.tag, day, works, latest, late)


def _why_late(calendar: Calendar, turn: _Turn, latest: date, first: date) -> str:
    if latest < first:
        return OVERDUE
    if latest < turn.unit.free_from:
        return ON_LOAN
    return FULL if calendar.first_from(turn.free_from) <= calendar.last_until(latest) else NO_DAY


def _left(works: Sequence[Work], opening: Opening) -> tuple[Work, ...]:
    """Return what is left to do on a unit after an opening: what was not done, and what comes back."""
    left = [work for work in works if work not in opening.works]
    for work in opening.works:
        if work.every_months is not None:
            due = add_months(opening.on, work.every_months)
            left.append(work._replace(due=due, kind="months", reasons=(_comes_back(work, opening.on),)))
    return _in_order(left)


def _comes_back(work: Work, on: date) -> str:
    months = "1 month" if work.every_months == 1 else f"{work.every_months} months"
    return f"{work.procedure}: {months} after {on.isoformat()}"


def _by_day(openings: Sequence[Opening], bench: Bench) -> BenchPlan:
    ordered = sorted(openings, key=lambda opening: (opening.on, opening.urgency))
    found: dict[date, list[Opening]] = {}
    for opening in ordered:
        if opening.on <= bench.last:
            found.setdefault(opening.on, []).append(opening)
    days = tuple(
        BenchDay(day, tuple(of_day), sum(opening.minutes for opening in of_day) > bench.minutes)
        for day, of_day in found.items()
    )
    return BenchPlan(days, tuple(opening for opening in ordered if opening.on > bench.last))
