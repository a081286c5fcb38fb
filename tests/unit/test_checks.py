"""Checks of instruments and disks, wear, and when a reference may go."""

from __future__ import annotations

from datetime import date

import pytest

from collection.analysis.checks import Check, Read, check_due, compared, first_day_compared, uses_left

TODAY = date(2026, 3, 1)


@pytest.mark.parametrize(
    ("months", "last", "from_date", "due"),
    [
        (None, None, "2025-01-10", None),
        (12, None, "2025-01-10", date(2026, 1, 10)),
        (12, Check("2025-06-30", "pass"), "2025-01-10", date(2026, 6, 30)),
        (12, Check("2025-06-30", "marginal"), "2025-07-02", date(2026, 7, 2)),
        (12, Check("2025-06", "pass"), "2025", date(2026, 6, 1)),
        (12, None, "", TODAY),
        (12, Check("2025-06-30", "fail"), "2025-01-10", date(2025, 6, 30)),
        (None, Check("2025-06-30", "fail"), "2025-07-02", date(2025, 7, 2)),
    ],
)
def test_a_check_is_due_so_many_months_after_the_last_or_after_a_repair(
    months: int | None, last: Check | None, from_date: str, due: date | None
) -> None:
    """The later of both counts; what failed is due at once, and what was never checked is due today."""
    assert due == check_due(months, last, from_date, TODAY)


@pytest.mark.parametrize(("uses", "left"), [(0, 3), (2, 1), (3, 0), (4, 0)])
def test_a_disk_is_worn_at_its_last_use(uses: int, left: int) -> None:
    """One below, at and above the most it is good for."""
    assert left == uses_left(uses, 3)
    assert uses_left(uses, None) is None


def _both(unit: int, day: str = "2026-02-01", point: str = "", other: str = "new") -> list[Read]:
    return [Read(unit, 1, point, day, "old"), Read(unit, 1, point, day, other)]


def test_only_units_read_with_both_on_one_day_at_one_point_are_counted() -> None:
    """A unit counts once; another day, point or measurement, or a third instrument, makes no pair."""
    readings = [*_both(1), *_both(1, "2026-02-02"), *_both(2), *_both(3, other="third")]
    readings += [Read(4, 1, "", "2026-02-01", "old"), Read(4, 1, "", "2026-02-02", "new")]
    readings += [Read(5, 1, "0", "2026-02-01", "old"), Read(5, 1, "1", "2026-02-01", "new")]
    readings += [Read(6, 1, "", "2026-02-01", "old"), Read(6, 2, "", "2026-02-01", "new")]

    assert {"new": 2, "spare": 0} == compared(readings, "old", ["new", "spare"])


def test_readings_of_twelve_months_count() -> None:
    """From the same day of the year before on."""
    assert date(2025, 3, 1) == first_day_compared(TODAY)
