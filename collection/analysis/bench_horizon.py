"""Which bench days a person asks about: from a day to a day, on which days of the week, with how many minutes."""

from __future__ import annotations

from datetime import date, timedelta

from collection.analysis.bench_days import bench_weekdays
from collection.analysis.bench_plan import Bench
from collection.errors import Refused

# Where nobody told on which days there is work at the bench, and for how long: common practice, no source.
ASSUMED_DAYS, ASSUMED_MINUTES = "sat", 240
USUAL_WEEKS = 8
_MOST_DAYS = 1827  # five years: what lies farther ahead rests on nothing


def bench_of(today: date, first: date | None, last: date | None, weekdays: str | None, minutes: int | None) -> Bench:
    """Return the bench days asked about; None: from today, for eight weeks, on the days and for the minutes assumed.

    weekdays: as `bench_days` keeps them. Raises Refused for a first day that is over, a last day before the first,
    and one more than five years ahead.
    """
    begins = first or today
    ends = last or begins + timedelta(weeks=USUAL_WEEKS)
    if begins < today:
        raise Refused(
            f"--from {begins.isoformat()} is over (today is {today.isoformat()}): bench days lie ahead.",
            "Type today or a later day.",
        )
    if ends < begins:
        raise Refused(f"--to {ends.isoformat()} is before {begins.isoformat()}.", "Type the first day, then the last.")
    if (ends - today).days > _MOST_DAYS:
        raise Refused(f"{ends.isoformat()} is more than five years ahead.", "Type an earlier day.")
    return Bench(begins, ends, bench_weekdays(weekdays or ASSUMED_DAYS), minutes or ASSUMED_MINUTES)


def bench_before(today: date, by: date, weekdays: str | None, minutes: int | None) -> Bench:
    """Return the bench days from today on by which units can be made ready before a day, and some weeks after it.

    Raises Refused for a day that is over, and for one more than five years ahead.
    """
    if by < today:
        raise Refused(
            f"--on {by.isoformat()} is over (today is {today.isoformat()}): units are lent from today on.",
            "Type today or a later day.",
        )
    return bench_of(today, None, max(by, today + timedelta(weeks=USUAL_WEEKS)), weekdays, minutes)
