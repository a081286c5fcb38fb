"""When work is really done: how far from its due day, and on which days, by the work of the past where that tells.

A unit that is opened for one thing often gets the next one early, and some work is always late. What is due in May and
has been done half a year early each time is done in November, and takes its supplies twice as often as its interval
says. So the plan goes by the habit of the book and not by the interval alone. And a club that opens once a month works
on those days alone, on many units at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from math import erfc, exp, pi, sqrt
from statistics import fmean
from typing import NamedTuple

from collection.analysis.stock_plan.given import WorkDay

ENOUGH = 8  # repeats from which on a habit is taken from them
_USUAL_DAYS = 14.0  # a person works a fortnight early or late; common practice, no source
_LEAST_DAYS = 3.0
_MIDDLE_EIGHT = 2.5631031310892007  # standard deviations between the outer tenths of a normal distribution
_LEAST_PART = 0.2  # of an interval that is left between two times, however early work is done
_PAST_YEARS = 3  # that stand for those to come; habits of long ago tell little
_YEAR, _MONTH = 365, 31  # days
_FAR = 6.0  # spreads past the due day, from which on the tail of the normal distribution is told by its limit


class Habit(NamedTuple):
    """Days from the due day to the day of work: the mean (early: below 0) and the spread; of: repeats that told."""

    shift: float
    days: float
    of: int


ASSUMED = Habit(0.0, _USUAL_DAYS, 0)


class Time(NamedTuple):
    """One time of work, in days from today: when it is expected, and about when it is done, with the spread of that.

    What is late is about a day that has passed, and expected on one to come.
    """

    expected: float
    about: float
    spread: float


def habit_of(late: Sequence[int], interval: float) -> Habit:
    """Return the habit of a procedure from the days by which its repeats were late; fewer than eight tell nothing.

    interval: days between two times by the rule. The outer tenths are drawn in to the middle eight, so that a unit that
    lay for years says little about those in use; the spread is that of a normal distribution with such a middle.
    """
    if len(late) < ENOUGH:
        return ASSUMED
    ordered = sorted(max(-interval * (1 - _LEAST_PART), days) for days in late)
    tenth = len(ordered) // 10
    low, high = ordered[tenth], ordered[-1 - tenth]
    shift = fmean(min(max(days, low), high) for days in ordered)
    return Habit(shift, max(_LEAST_DAYS, (high - low) / _MIDDLE_EIGHT), len(ordered))


def times(first: Time, interval: float | None, habit: Habit, days: float) -> Iterator[Time]:
    """Yield the first time and, where it comes back every so many days, all the times after it within so many days.

    Each starts from the day of the one before, so they spread more and more.
    """
    yield first
    if interval is None:
        return
    step = max(interval + habit.shift, interval * _LEAST_PART)
    day, spread = first.expected + step, sqrt(_left(first)[1] ** 2 + habit.days**2)
    while day <= days:
        yield Time(day, day, spread)
        day, spread = day + step, sqrt(spread**2 + habit.days**2)


def next_time(due: float, habit: Habit, free: float = 0.0) -> Time:
    """Return when work is done that is due so many days from today and has not been done yet.

    free: in how many days the unit is there to be worked on. What is long overdue is expected in the next days.
    """
    about = max(due + habit.shift, free) if free else due + habit.shift
    time = Time(about, about, habit.days)
    return time._replace(expected=max(_left(time)[0], free))


def _left(time: Time) -> tuple[float, float]:
    """Return mean and standard deviation of a normal day cut off at today.

    N. Johnson, S. Kotz, "Continuous Univariate Distributions 1", 13.10.1: from memory.
    """
    middle, spread = time.about, time.spread
    passed = -middle / spread
    if passed > _FAR:
        return spread / passed, spread / passed
    hazard = exp(-passed * passed / 2) / sqrt(2 * pi) / (erfc(passed / sqrt(2)) / 2)
    return middle + spread * hazard, spread * sqrt(max(0.0, 1 + passed * hazard - hazard * hazard))


def past_years(worked: Mapping[date, int], today: date) -> tuple[tuple[WorkDay, ...], ...]:
    """Return the days of work of each past year, as days of the year that begins today.

    worked: units worked on, by day. Years end with the month before this one, so that the work of today moves nothing,
    and count where they are written down from their first month on and hold enough work to tell.
    """
    begin, first = today.replace(day=1), min(worked, default=today)
    found = []
    for back in range(1, _PAST_YEARS + 1):
        since, until = (begin - timedelta(days=_YEAR * years) for years in (back, back - 1))
        year = {day: units for day, units in worked.items() if since <= day < until}
        if sum(year.values()) >= ENOUGH and first < since + timedelta(days=_MONTH):
            found.append(tuple(sorted(WorkDay((day - today).days % _YEAR, units) for day, units in year.items())))
    return tuple(found)
