"""Running hours from a meter that may have been reset or exchanged."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from collection.quantity import parse_day

_METER_DIGITS = 6  # no meter shows more; takes away what binary fractions add


def run_hours(readings: Iterable[tuple[str, float, bool]]) -> list[tuple[date, float]]:
    """Return per reading its day and the hours run since the first one: the sum of what the meter went on.

    readings: (day text, hours shown, reset since the reading before), in order of entry. A meter that shows
    less than before was reset, said or not; what it shows then is what ran since.
    """
    total, shown = 0.0, None
    run = []
    for day, hours, reset in sorted(readings, key=lambda reading: parse_day(reading[0]).first):
        if shown is not None:
            total += hours if reset or hours < shown else hours - shown
        shown = hours
        run.append((parse_day(day).first, round(total, _METER_DIGITS)))
    return run


def reached(run: Sequence[tuple[date, float]], since: date, every: float) -> tuple[date, float] | None:
    """Return the day of the first reading at which `every` hours had run since a day, and the hours to date.

    Counted from the last reading not after `since`, else from the first there is. None while less has run.
    """
    start = max((total for day, total in run if day <= since), default=0.0)
    after = [(day, round(total - start, _METER_DIGITS)) for day, total in run if day >= since]
    due = next((day for day, used in after if used >= every), None)
    return None if due is None else (due, after[-1][1])
