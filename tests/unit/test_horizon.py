"""How far ahead a person looks."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from collection.analysis.horizon import day_back, days_ahead
from collection.errors import Refused

TODAY = date(2026, 3, 1)


@pytest.mark.parametrize(
    ("text", "days"),
    [("0d", 0), ("60d", 60), ("8w", 56), ("1m", 31), ("2m", 61), (" 12 M ", 365), ("99999d", 99999)],
)
def test_days_weeks_and_months_are_days_from_today(text: str, days: int) -> None:
    """Months are those of the calendar: March has 31 days, April 30."""
    assert days == days_ahead(text, TODAY)


def test_a_month_from_the_end_of_january_ends_with_february() -> None:
    """31 January and one month is 28 February, 28 days ahead."""
    assert 28 == days_ahead("1m", date(2026, 1, 31))


@given(st.dates(date(1950, 1, 1), date(2100, 1, 1)), st.integers(0, 1200))
def test_months_agree_with_dateutil(today: date, months: int) -> None:
    """The second way is the month arithmetic of python-dateutil."""
    assert (today + relativedelta(months=months) - today).days == days_ahead(f"{months}m", today)


@pytest.mark.parametrize("text", ["", "60", "d", "6y", "-1d", "1.5m", "1 month", "100000d", "６d", "1d2w"])
def test_every_other_form_is_refused(text: str) -> None:
    """The refusal shows what was typed and what may be."""
    with pytest.raises(Refused) as refused:
        days_ahead(text, TODAY)

    assert f'"{text}" is no time ahead. Type days, weeks or months, as 60d, 8w or 2m.' == str(refused.value)


def test_a_time_beyond_the_calendar_is_refused() -> None:
    """The last month of the calendar is December 9999."""
    assert (date(9999, 12, 1) - TODAY).days == days_ahead("95685m", TODAY)
    with pytest.raises(Refused, match="outside the calendar"):
        days_ahead("95686m", TODAY)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("0d", date(2026, 3, 1)),
        ("1 day", date(2026, 2, 28)),
        ("8w", date(2026, 1, 4)),
        ("12months", date(2025, 3, 1)),
        ("2Y", date(2024, 3, 1)),
        ("2025y", date(1, 3, 1)),
    ],
)
def test_a_time_back_ends_on_a_day_of_the_calendar(text: str, day: date) -> None:
    """Days, weeks, months and years, in a letter or in words, up to the first day there is."""
    assert day == day_back(text, TODAY)


@pytest.mark.parametrize("text", ["", "12", "months", "-1d", "1.5y", "2026y", "100000d"])
def test_a_time_back_of_another_form_or_beyond_the_calendar_is_refused(text: str) -> None:
    """One year more than the calendar has is too much."""
    with pytest.raises(Refused):
        day_back(text, TODAY)


def test_weeks_before_the_first_day_there_is_are_refused() -> None:
    """The first day of the calendar is 1 January of the year 1."""
    first = date(1, 1, 1) + timedelta(days=7 * 99_999)

    assert date(1, 1, 1) == day_back("99999w", first)
    with pytest.raises(Refused, match="outside the calendar"):
        day_back("99999w", first - timedelta(days=1))
