"""Which backups stay is a rule of counts: newest ones, days that have one, months that have one."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from collection.analysis.keeping import Rule, kept_by


def _made(*days: str) -> list[datetime]:
    return [datetime.fromisoformat(f"{day}+00:00") for day in days]


@pytest.mark.parametrize(("newest", "stay"), [(1, 1), (2, 2), (3, 3), (4, 3)])
def test_so_many_newest_ones_stay(newest: int, stay: int) -> None:
    """Below, at and above the number that there is."""
    made = _made("2026-03-01T08:00", "2026-03-01T09:00", "2026-03-01T10:00")

    reasons = kept_by(made, Rule(newest, days=0, months=0))

    assert reasons == [""] * (3 - stay) + ["newest"] * stay


def test_the_newest_one_stays_whatever_is_asked_for() -> None:
    """No rule takes the last backup away."""
    assert kept_by(_made("2026-03-01T08:00", "2026-03-01T09:00"), Rule(0, 0, 0)) == ["", "newest"]
    assert kept_by([], Rule()) == []


def test_of_a_day_and_of_a_month_the_last_one_stays() -> None:
    """By hand: the newest; two more days; of January and December the last, of November none any more."""
    made = _made(
        "2025-11-20T10:00",
        "2025-12-01T10:00",
        "2025-12-31T10:00",
        "2026-01-05T10:00",
        "2026-01-30T09:00",
        "2026-02-27T09:00",
        "2026-02-27T18:00",
        "2026-02-28T10:00",
        "2026-03-01T08:00",
        "2026-03-01T12:00",
    )

    reasons = kept_by(made, Rule(newest=1, days=3, months=4))

    assert reasons == ["", "", "its month", "", "its month", "", "its day", "its day", "", "newest"]


def test_days_without_a_backup_take_none_away() -> None:
    """After a year's pause the days before it still count as the last ones that have a backup."""
    made = _made("2025-01-01T10:00", "2025-01-02T10:00", "2026-03-01T10:00")

    assert kept_by(made, Rule(newest=1, days=3, months=0)) == ["its day", "its day", "newest"]
    assert kept_by(made, Rule(newest=1, days=2, months=0)) == ["", "its day", "newest"]


def test_days_are_those_of_the_zone_in_which_the_instants_are() -> None:
    """Half past eleven in the evening and half an hour after midnight are two days in one zone and one in another."""
    made = _made("2026-03-01T10:00", "2026-03-01T23:30", "2026-03-02T00:30", "2026-03-02T01:00")
    halifax = [each.astimezone(ZoneInfo("America/Halifax")) for each in made]

    assert kept_by(made, Rule(1, 2, 0)) == ["", "its day", "", "newest"]
    assert kept_by(halifax, Rule(1, 2, 0)) == ["", "", "", "newest"]


def test_a_year_of_daily_backups_comes_down_to_two_dozen() -> None:
    """14 days, the 7 newest among them, reach into February 2026; of the 12 months ten more remain, back to April."""
    first = datetime(2025, 3, 2, 12, tzinfo=UTC)
    made = [first + timedelta(days=number) for number in range(365)]

    assert sum(map(bool, kept_by(made, Rule()))) == 14 + 10
