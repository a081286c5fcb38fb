"""Hours run, from a meter that may be reset."""

from __future__ import annotations

from datetime import date
from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.analysis.hours import reached, run_hours


def test_hours_run_are_the_sum_of_what_the_meter_went_on() -> None:
    """A meter reset between 150 and 20 ran 20 hours since, and goes on from there."""
    readings = [
        ("2025-01-01", 100.0, False),
        ("2025-02-01", 150.0, False),
        ("2025-03-01", 20.0, True),
        ("2025-04-01", 25.5, False),
    ]

    assert [0, 50, 70, 75.5] == [total for _, total in run_hours(readings)]


def test_a_meter_that_shows_less_was_reset_even_if_nobody_said_so() -> None:
    """No meter runs backwards."""
    assert [0, 12] == [total for _, total in run_hours([("2025-01-01", 120.0, False), ("2025-02-01", 12.0, False)])]


def test_readings_are_taken_by_day_and_of_one_day_in_the_order_of_entry() -> None:
    """A reading entered late finds its place; two of one day keep theirs."""
    readings = [("2025-02-01", 30.0, False), ("2025-01-01", 10.0, False), ("2025-02-01", 2.0, True)]

    assert [(date(2025, 1, 1), 0), (date(2025, 2, 1), 20), (date(2025, 2, 1), 22)] == run_hours(readings)


@given(st.lists(st.tuples(st.integers(0, 500), st.booleans()), max_size=20))
def test_resets_never_change_what_was_run(steps: list[tuple[int, bool]]) -> None:
    """However often the meter starts anew, the tenths of hours it ran add up."""
    shown, readings = 0.0, [("2025", 0.0, False)]
    for tenths, reset in steps:
        shown = tenths / 10 if reset else round(shown + tenths / 10, 1)
        readings.append(("2025", shown, reset))
    tenths_run = accumulate((tenths for tenths, _ in steps), initial=0)

    assert [tenths / 10 for tenths in tenths_run] == [total for _, total in run_hours(readings)]


@pytest.mark.parametrize(
    ("every", "due"),
    [(29.9, date(2025, 3, 1)), (30.0, date(2025, 3, 1)), (30.1, date(2025, 4, 1)), (50.1, None)],
)
def test_an_interval_is_reached_at_the_first_reading_that_shows_it(every: float, due: date | None) -> None:
    """Below, at and above: 30 h by March, 50 h by April."""
    run = run_hours([("2025-01-01", 12.1, False), ("2025-03-01", 42.1, False), ("2025-04-01", 62.1, False)])
    found = reached(run, date(2025, 2, 1), every)

    assert due == (None if found is None else found[0])


def test_hours_to_date_are_those_of_the_last_reading() -> None:
    """Due since March, run until April."""
    run = run_hours([("2025-01-01", 0.0, False), ("2025-03-01", 30.0, False), ("2025-04-01", 55.0, False)])

    assert (date(2025, 3, 1), 55) == reached(run, date(2025, 1, 1), 30)


def test_hours_count_from_the_first_reading_where_none_is_earlier() -> None:
    """What ran before the meter was read for the first time is not known."""
    run = run_hours([("2025-03-01", 400.0, False), ("2025-04-01", 431.0, False)])

    assert (date(2025, 4, 1), 31) == reached(run, date(2025, 2, 1), 30)


def test_readings_before_the_day_never_make_anything_due() -> None:
    """Hours that ran before the work was done are gone with it."""
    run = run_hours([("2025-01-01", 0.0, False), ("2025-02-01", 90.0, False)])

    assert reached(run, date(2025, 2, 1), 30) is None
    assert reached(run, date(2025, 3, 1), 30) is None
