"""When work is really done: habits, times and the days of work of past years."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from scipy import stats

from collection.analysis.stock_plan.given import WorkDay
from collection.analysis.work_days import ASSUMED, ENOUGH, Habit, habit_of, next_time, past_years, times

TODAY = date(2026, 3, 10)


def test_fewer_than_eight_repeats_tell_no_habit() -> None:
    """Below, at and above."""
    assert [habit_of([5] * many, 365).of for many in (ENOUGH - 1, ENOUGH, ENOUGH + 1)] == [0, ENOUGH, ENOUGH + 1]
    assert habit_of([5] * (ENOUGH - 1), 365) == ASSUMED


def test_a_unit_that_lay_for_years_says_little_of_those_in_use() -> None:
    """The outer tenths are drawn in: one of twenty does not move the habit of the nineteen."""
    late = list(range(-9, 10))
    assert habit_of([*late, 2000], 365).shift == pytest.approx(habit_of([*late, 9], 365).shift)
    assert habit_of([*late, 2000], 365).days < 20


def test_no_work_is_so_early_that_hardly_any_time_is_left_between_two() -> None:
    """Early work counts as four fifths of the interval early at most."""
    assert habit_of([-360] * 10, 365).shift == pytest.approx(-0.8 * 365)


@pytest.mark.parametrize("due", [100.0, 5.0, 0.0, -20.0])
def test_what_has_not_been_done_yet_is_expected_by_a_normal_day_cut_off_at_today(due: float) -> None:
    """Mean of scipy's truncated normal; about when it is done stays the day itself, also when it has passed."""
    time = next_time(due, Habit(3.0, 14.0, 9))
    law = stats.truncnorm(-(due + 3) / 14, float("inf"), loc=due + 3, scale=14)
    assert time.expected == pytest.approx(float(law.mean()), rel=1e-6)
    assert (time.about, time.spread) == (due + 3, 14.0)


def test_what_is_long_overdue_is_expected_in_the_next_days() -> None:
    """However long: never in the past, never far off."""
    for due in (-80.0, -90.0, -5000.0):
        assert 0 < next_time(due, ASSUMED).expected < 3


def test_a_unit_on_loan_is_not_worked_on_before_it_is_back() -> None:
    """Neither expected before, nor about a day before."""
    away = next_time(-10.0, ASSUMED, 40.0)
    assert away.about == 40.0
    assert 40.0 <= away.expected < 41.0
    assert next_time(60.0, ASSUMED, 40.0) == next_time(60.0, ASSUMED)


def test_repeats_start_from_the_day_of_the_one_before_and_spread_more_and_more() -> None:
    """Thirty days late each time, every hundred days: at 130, 260 and so on, to the end and not beyond."""
    habit = Habit(30.0, 10.0, 20)
    found = list(times(next_time(100.0, habit), 100.0, habit, 390.0))
    assert [round(one.expected) for one in found] == [130, 260, 390]
    assert [one.spread for one in found] == pytest.approx([10.0, 200**0.5, 300**0.5])
    assert len(list(times(next_time(100.0, habit), None, habit, 390.0))) == 1


def test_work_done_far_too_early_does_not_come_back_without_end() -> None:
    """A fifth of the interval lies between two times, whatever the habit."""
    habit = Habit(-80.0, 3.0, 20)
    days = [one.expected for one in times(next_time(0.0, habit), 100.0, habit, 100.0)]
    assert [later - day for day, later in pairwise(days[1:])] == pytest.approx([20.0] * (len(days) - 2))


def _worked(first: date, *, every: int = 30, units: int = 3) -> dict[date, int]:
    return {first + timedelta(days=day): units for day in range(0, (TODAY - first).days, every)}


def test_past_years_end_with_last_month_so_that_the_work_of_today_moves_nothing() -> None:
    """Work of this month counts from the next one on."""
    worked = _worked(date(2024, 1, 15))
    before = past_years(worked, TODAY)
    assert len(before) == 2
    assert past_years({**worked, TODAY: 12, date(2026, 3, 1): 5}, TODAY) == before
    assert past_years({**worked, date(2026, 2, 28): 5}, TODAY) != before


def test_a_day_of_a_past_year_is_told_as_a_day_of_the_year_from_today_on() -> None:
    """The tenth of March of last year is today, the day before is last in the year to come."""
    worked = {**_worked(date(2025, 2, 20)), date(2025, 3, 10): 8, date(2025, 3, 9): 7}
    (year,) = past_years(worked, TODAY)
    assert (year[0], year[-1]) == (WorkDay(0, 8), WorkDay(364, 7))


@pytest.mark.parametrize(("units", "years"), [(7, 0), (8, 1), (9, 1)])
def test_a_year_of_little_work_says_nothing_of_its_days(units: int, years: int) -> None:
    """Eight units worked on, below, at and above."""
    assert len(past_years({date(2025, 3, 5): 1, date(2025, 6, 5): units - 1}, TODAY)) == years


@pytest.mark.parametrize(("first", "years"), [(date(2025, 3, 1), 1), (date(2025, 3, 31), 1), (date(2025, 4, 1), 0)])
def test_a_year_counts_when_it_is_written_down_from_its_first_month_on(first: date, years: int) -> None:
    """Else the months before the book would look like months without work."""
    assert len(past_years({first: 4, date(2025, 9, 1): 9}, TODAY)) == years
