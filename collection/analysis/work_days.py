"""When work is really done: how far from its due day, by the work of the past where there is enough of it.

A unit that is opened for one thing often gets the next one early, and some work is always late. What is due in May and
has been done half a year early each time is done in November, and takes its supplies twice as often as its interval
says. So the plan goes by the habit of the book and not by the interval alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import erfc, exp, pi, sqrt
from statistics import fmean
from typing import NamedTuple

ENOUGH = 8  # repeats from which on a habit is taken from them
_USUAL_DAYS = 14.0  # a person works a fortnight early or late; common practice, no source
_LEAST_DAYS = 3.0
_MIDDLE_EIGHT = 2.5631031310892007  # standard deviations between the outer tenths of a normal distribution
_LEAST_PART = 0.2  # of an interval that is left between two times, however early work is done
_FAR = 6.0  # spreads past the due day, from which on the tail of the normal distribution is told by its limit


class Habit(NamedTuple):
    """Days from the due day to the day of work: the mean (early: below 0) and the spread; of: repeats that told."""

    shift: float
    days: float
    of: int


ASSUMED = Habit(0.0, _USUAL_DAYS, 0)


class When(NamedTuple):
    """The day of work, counted from today, and its standard deviation."""

    day: float
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


def next_time(due: float, habit: Habit) -> When:
    """Return when work is done that is due so many days from today and has not been done yet.

    A normal day cut off at today: its mean and spread (N. Johnson, S. Kotz, "Continuous Univariate Distributions 1",
    13.10.1: from memory). What is long overdue is done in the next days.
    """
    middle, spread = due + habit.shift, habit.days
    passed = -middle / spread
    if passed > _FAR:
        return When(spread / passed, spread / passed)
    hazard = exp(-passed * passed / 2) / sqrt(2 * pi) / (erfc(passed / sqrt(2)) / 2)
    return When(middle + spread * hazard, spread * sqrt(max(0.0, 1 + passed * hazard - hazard * hazard)))


def repeats(first: When, interval: float | None, habit: Habit, days: float) -> Iterator[When]:
    """Yield the first and, where it comes back every so many days, all the times after it within so many days.

    Each starts from the day of the one before, so they spread more and more.
    """
    when = first
    while when.day <= days:
        yield when
        if interval is None:
            return
        step = max(interval + habit.shift, interval * _LEAST_PART)
        when = When(when.day + step, sqrt(when.spread**2 + habit.days**2))
