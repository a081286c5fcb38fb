"""Instants of the history are read in the time zone of the book."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from collection.acts.work import stamp
from collection.cli.journal import shown_in


@pytest.mark.parametrize("zone", ["UTC", "Europe/Berlin", "Asia/Kathmandu", "Australia/Lord_Howe", "America/St_Johns"])
@pytest.mark.parametrize("day", [datetime(2026, 3, 28, tzinfo=UTC), datetime(2026, 4, 4, tzinfo=UTC)])
def test_every_minute_is_shown_as_the_zone_has_it(zone: str, day: datetime) -> None:
    """Also where clocks are changed, by half an hour too, and where a zone is not whole hours from UTC."""
    shown = shown_in(zone)
    for minutes in range(0, 2880, 7):
        instant = day + timedelta(minutes=minutes)
        assert instant.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M") == shown(stamp(instant))
