"""The day on which something happened, as a person types it."""

from __future__ import annotations

from datetime import date

import pytest

from collection.acts.days import day_ahead, day_given, past_day
from collection.errors import Refused

TODAY = date(2026, 3, 1)


def test_no_day_is_today() -> None:
    """Whoever says nothing speaks of today."""
    assert TODAY == day_given("", TODAY)


@pytest.mark.parametrize("text", ["2026-02-28", "2026-03-01", "1950-01-01"])
def test_a_day_up_to_today_is_taken(text: str) -> None:
    """Yesterday, today itself and the earliest day are taken."""
    assert date.fromisoformat(text) == day_given(text, TODAY)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("2026-03-02", "--on 2026-03-02 has not come yet (today is 2026-03-01)."),
        ("2026-02", "--on 2026-02 names no single day."),
        ("1949-12-31", "--on 1949-12-31 is before 1950"),
        ("2026-02-30", '"2026-02-30" does not exist.'),
        ("28.2.2026", '"28.2.2026" is not a day.'),
    ],
)
def test_a_day_that_cannot_be_is_refused(text: str, says: str) -> None:
    """A day ahead, a part of a day, one before any drive and one of no calendar are refused by name."""
    with pytest.raises(Refused) as refused:
        day_given(text, TODAY)

    assert str(refused.value).startswith(says)


def test_a_day_that_is_due_may_lie_ahead() -> None:
    """A day due is whole, past or future."""
    assert date(2030, 1, 1) == day_ahead("2030-01-01", "--due")
    with pytest.raises(Refused, match="--due 2030 names no single day"):
        day_ahead("2030", "--due")


@pytest.mark.parametrize("text", ["1950", "2025-12", "2026-03-01", "2026"])
def test_a_past_day_may_be_partial_and_keeps_its_form(text: str) -> None:
    """From 1950 to today; the month and the year that are running have begun."""
    assert text == past_day(text, TODAY, "--on")
    assert TODAY.isoformat() == past_day("", TODAY, "--on")


@pytest.mark.parametrize(
    ("text", "says"), [("1949", "before 1950"), ("2026-03-02", "has not come yet"), ("2026-04", "has not come yet")]
)
def test_a_past_day_is_neither_ahead_nor_before_the_first_drive(text: str, says: str) -> None:
    """The refusal names the option and the day."""
    with pytest.raises(Refused, match=f"^--from {text} .*{says}"):
        past_day(text, TODAY, "--from")
