"""Month arithmetic, against python-dateutil (relativedelta) and the worked examples of the trade."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from collection.analysis.months import add_months, spread
from collection.errors import Refused

DAYS = st.dates(date(1900, 1, 1), date(2100, 12, 31))


@pytest.mark.parametrize(
    ("start", "n", "end"),
    [
        (date(2023, 1, 31), 1, date(2023, 2, 28)),
        (date(2024, 1, 31), 1, date(2024, 2, 29)),
        (date(2023, 8, 31), 6, date(2024, 2, 29)),
        (date(2022, 8, 31), 6, date(2023, 2, 28)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2025, 10, 3), 12, date(2026, 10, 3)),
        (date(2025, 3, 31), -1, date(2025, 2, 28)),
        (date(2025, 12, 15), 1, date(2026, 1, 15)),
        (date(2025, 1, 15), -1, date(2024, 12, 15)),
        (date(2025, 1, 15), 0, date(2025, 1, 15)),
    ],
)
def test_a_month_from_a_day_the_next_month_lacks_ends_on_its_last_day(start: date, n: int, end: date) -> None:
    """31 January and one month is the last day of February, six months from 31 August likewise."""
    assert end == add_months(start, n)


@given(DAYS, st.integers(-1200, 1200))
def test_adding_months_against_dateutil(start: date, n: int) -> None:
    """Every sum is the one that relativedelta gives."""
    assert start + relativedelta(months=n) == add_months(start, n)


def test_the_calendar_is_used_up_to_its_first_and_last_month() -> None:
    """The years 1 and 9999 are still days."""
    assert date(9999, 12, 31) == add_months(date(9999, 11, 30), 1) + timedelta(days=1)
    assert date(1, 1, 28) == add_months(date(1, 2, 28), -1)


@pytest.mark.parametrize(("start", "n"), [(date(9999, 12, 1), 1), (date(1, 1, 31), -1)])
def test_a_month_outside_the_calendar_is_refused(start: date, n: int) -> None:
    """Neither the year 10000 nor the year 0 is a day."""
    with pytest.raises(Refused, match="outside the calendar"):
        add_months(start, n)


def test_four_items_over_four_months_stand_a_month_apart() -> None:
    """Each item stands in the middle of its share of the time: 120 days in four shares of 30."""
    expected = [date(2025, 1, 16), date(2025, 2, 15), date(2025, 3, 17), date(2025, 4, 16)]

    assert expected == spread(4, 4, date(2025, 1, 1))


def test_one_item_stands_in_the_middle_and_no_item_nowhere() -> None:
    """A single unit is not due on the first day, and an empty collection gives an empty plan."""
    assert [date(2025, 7, 2)] == spread(1, 12, date(2025, 1, 1))
    assert [] == spread(0, 12, date(2025, 1, 1))


@given(st.integers(1, 400), st.integers(1, 60), DAYS)
def test_items_are_spread_evenly_and_inside_the_time(n_items: int, months: int, start: date) -> None:
    """Gaps differ by no more than a day, in order, from the first day to before the last."""
    days = spread(n_items, months, start)
    gaps = [(later - earlier).days for earlier, later in pairwise(days)]

    assert n_items == len(days)
    assert start <= days[0]
    assert days[-1] < add_months(start, months)
    assert not gaps or max(gaps) - min(gaps) <= 1
    assert abs((days[0] - start) - (add_months(start, months) - days[-1])) <= timedelta(days=1)


@pytest.mark.parametrize(("n_items", "months"), [(-1, 12), (3, 0), (3, -1)])
def test_spreading_over_no_time_or_less_than_nothing_is_refused(n_items: int, months: int) -> None:
    """At least one month and no negative number of items."""
    with pytest.raises(Refused, match="cannot be spread"):
        spread(n_items, months, date(2025, 1, 1))
