"""Calendar days that may be known only to their month or year (ISO 8601, reduced precision)."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.errors import Refused
from collection.quantity import parse_day, show_day

DAYS = st.dates().flatmap(lambda day: st.sampled_from([day.isoformat()[:n] for n in (4, 7, 10)]))


@pytest.mark.parametrize(
    ("text", "first", "last", "full"),
    [
        ("2025-10-03", date(2025, 10, 3), date(2025, 10, 3), True),
        ("2024-02", date(2024, 2, 1), date(2024, 2, 29), False),
        ("2023-02", date(2023, 2, 1), date(2023, 2, 28), False),
        ("2022", date(2022, 1, 1), date(2022, 12, 31), False),
        ("2000-02-29", date(2000, 2, 29), date(2000, 2, 29), True),
    ],
)
def test_a_day_knows_the_first_and_last_day_it_can_mean(text: str, first: date, last: date, *, full: bool) -> None:
    """A month or a year stands for all its days and keeps the form it was typed in."""
    day = parse_day(text)

    assert (text, first, last, full) == (day.text, day.first, day.last, day.full)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "3.10.2025",
        "2025-1-3",
        "20251003",
        "2025-10-03T10:00",
        "25-10-03",
        "2025/10/03",
        "2025-",
        "２０２５",
        "today",
    ],
)
def test_another_form_of_a_day_is_refused(text: str) -> None:
    """Only year, year-month and year-month-day are days, so that none is read the wrong way round."""
    with pytest.raises(Refused, match=r"is not a day\. Type 2025-10-03"):
        parse_day(text)


@pytest.mark.parametrize("text", ["2022-02-30", "2023-02-29", "2022-13", "2022-00", "2022-01-00", "0000", "1900-02-29"])
def test_a_day_that_is_not_in_the_calendar_is_refused(text: str) -> None:
    """30 February never existed; 1900 was no leap year."""
    with pytest.raises(Refused, match="does not exist"):
        parse_day(text)


@given(DAYS, DAYS)
def test_days_sort_as_their_texts_sort(one: str, other: str) -> None:
    """A column of stored texts and a list of days come in the same order."""
    assert (one < other) == (parse_day(one) < parse_day(other))


@given(st.dates())
def test_every_calendar_day_reads_back(day: date) -> None:
    """All days of the calendar are understood."""
    assert day == parse_day(day.isoformat()).first


@pytest.mark.parametrize(
    ("text", "form", "shown"),
    [
        ("2025-10-03", "iso", "2025-10-03"),
        ("2025-10-03", "dmy", "03/10/2025"),
        ("2025-10-03", "mdy", "10/03/2025"),
        ("2025-10-03", "long", "3 Oct 2025"),
        ("2025-10", "iso", "2025-10"),
        ("2025-10", "dmy", "10/2025"),
        ("2025-10", "mdy", "10/2025"),
        ("2025-10", "long", "Oct 2025"),
        ("2025", "dmy", "2025"),
        ("2025", "long", "2025"),
    ],
)
def test_a_day_is_shown_in_the_form_of_the_book(text: str, form: str, shown: str) -> None:
    """Each form shows what is known and makes up nothing."""
    assert shown == show_day(text, form)


def test_an_unknown_date_form_is_refused() -> None:
    """The forms there are stand in the refusal."""
    with pytest.raises(Refused, match="Type one of: iso, dmy, mdy, long"):
        show_day("2025", "ymd")
