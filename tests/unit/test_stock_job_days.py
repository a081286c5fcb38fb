"""The days on which planned work is drawn, beside the distributions of another library (scipy.stats)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from collection.analysis.stock_plan.given import NEVER, JobGiven, WorkDay
from collection.analysis.stock_plan.job_days import job_days

PATHS = 4000
SURE = 4 * 0.5 / PATHS**0.5  # four standard errors of a share, at most
OPEN = tuple(WorkDay(day, 6) for day in (10, 40, 70, 100, 101, 250))
"""Days on which six units were worked on."""


def _drawn(job: JobGiven, years: tuple[tuple[WorkDay, ...], ...] = (), jobs: int = 1, days: int = 730) -> np.ndarray:
    return job_days((job,) * jobs, years, PATHS, days, np.random.default_rng(7))


@pytest.mark.parametrize("about", [120.0, 10.0, -30.0])
def test_where_no_day_of_work_is_known_work_is_logistic_about_its_day_from_today_on(about: float) -> None:
    """A standard deviation of twenty days, cut off at today; a day holds what lies half a day about it."""
    law = stats.logistic(about, 20 * 3**0.5 / np.pi)
    drawn = _drawn(JobGiven(about, 20.0, 1.0, 0))
    for day in (0, 5, 60, 130, 160):
        expected = (law.cdf(day + 0.5) - law.cdf(-0.5)) / law.sf(-0.5)
        assert float(np.mean(drawn <= day)) == pytest.approx(expected, abs=SURE)


def test_late_work_waits_about_as_long_whether_it_is_a_little_late_or_very() -> None:
    """The logistic tail forgets: ninety or a hundred and fifty days late, the mean wait is the same."""
    waits = [float(_drawn(JobGiven(-late, 20.0, 1.0, 0)).mean()) for late in (90.0, 150.0)]
    assert waits[0] == pytest.approx(waits[1], rel=0.1)


def test_many_units_are_worked_on_on_one_of_the_benchs_days() -> None:
    """Work due about day 40 is done on an open day or a week to either side, of whole paths at once."""
    drawn = _drawn(JobGiven(44.0, 15.0, 1.0, 0), (OPEN,), jobs=10)
    by_shift = [drawn[:, place::3] for place in range(3)]
    for shift, one in zip((-7, 0, 7), by_shift, strict=True):
        assert float(np.mean(np.isin(one - shift, [10, 40, 70]))) > 0.95
        assert np.mean(one == 40 + shift) > 0.6
    apart = _drawn(JobGiven(44.0, 15.0, 1.0, 0), jobs=10)
    in_a_day = [np.mean([np.bincount(path).max() for path in some.T]) for some in (drawn, apart)]
    assert in_a_day[0] > 2 * in_a_day[1]


def test_days_of_one_unit_each_say_nothing_of_days_to_come() -> None:
    """Whoever takes one unit at a time is not bound to the days of last year."""
    alone = tuple(WorkDay(day, 1) for day in range(0, 360, 9))
    with_them, without = (_drawn(JobGiven(90.0, 15.0, 1.0, 0), years) for years in ((alone,), ()))
    for day in (70, 90, 110):
        assert float(np.mean(with_them <= day)) == pytest.approx(float(np.mean(without <= day)), abs=2 * SURE)


def test_paths_go_by_one_past_year_or_another() -> None:
    """Of two years with different days, each is followed by half of the paths."""
    years = ((WorkDay(30, 9),), (WorkDay(60, 9),))
    drawn = _drawn(JobGiven(45.0, 12.0, 1.0, 0), years)[0]
    shares = [float(np.mean(np.isin(drawn, [day - 7, day, day + 7]))) for day in (30, 60)]
    assert shares == pytest.approx([0.5, 0.5], abs=0.05)


def test_what_has_no_spread_is_done_on_its_day_and_what_may_not_happen_as_often_as_told() -> None:
    """Whatever the days of work; what is past is done today, what is past the days drawn never."""
    for about, day in ((12.0, 12), (-3.0, 0), (729.0, 729), (730.0, NEVER)):
        assert (_drawn(JobGiven(about, 0.0, 1.0, 0), (OPEN,)) == day).all()
    drawn = _drawn(JobGiven(12.0, 0.0, 0.3, 0), (OPEN,))
    assert float(np.mean(drawn == 12)) == pytest.approx(0.3, abs=SURE)
    assert set(np.unique(drawn).tolist()) == {12, NEVER}


@pytest.mark.parametrize("about", [-4000.0, 5000.0])
def test_a_day_far_off_is_no_trouble(about: float) -> None:
    """What is ten years late is done in the next weeks, what is due in ten years not within two."""
    drawn = _drawn(JobGiven(about, 14.0, 1.0, 0), (OPEN,))
    assert (drawn == NEVER).all() if about > 0 else (drawn < 120).mean() > 0.95


@pytest.mark.parametrize("lone", [0, 200])
def test_units_worked_on_alone_count_for_every_day_alike_and_so_does_one_more(lone: int) -> None:
    """Two units of one day beside none or two hundred of a day each: held against the shares by scipy's density."""
    year = (WorkDay(40, 2), *(WorkDay(day, 1) for day in range(lone)))
    near = stats.logistic(44, 15 * 3**0.5 / np.pi).pdf(np.arange(211))
    drawn = _drawn(JobGiven(44.0, 15.0, 1.0, 0), (year,))[0]
    shares = []
    for day in (33, 40, 47):
        anywhere = (1 + lone) / 365 * near.sum()
        shares.append(((2 + (1 + lone) / 365) * near[day]) / (anywhere + 2 * near[day]))
    found = [float(np.mean(drawn[place::3] == day)) for place, day in enumerate((33, 40, 47))]
    assert found == pytest.approx(shares, abs=3**0.5 * SURE)
