"""When an instrument or a disk is due for a check of its own, when a disk is worn, and when a reference may go."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from collection.analysis.months import add_months
from collection.quantity import parse_day

UNITS_COMPARED = 3  # read with the old and the staying reference before the old one goes; common practice, no source
MONTHS_COMPARED = 12


class Check(NamedTuple):
    """A check of an instrument or a disk: its (partial) day and pass, marginal or fail."""

    checked_on: str
    result: str


class Read(NamedTuple):
    """A reading for comparing: what was read, on which whole day, and by which instrument or with which disk."""

    unit_id: int
    measurement_id: int
    point: str
    day: str
    by: str


def check_due(every_months: int | None, last: Check | None, from_date: str, today: date) -> date | None:
    """Return the day on which the next check is due, or None where none is asked for.

    It counts from the last check or the first day of use, whichever is later: a repair makes what was checked before
    it say nothing. Where neither is known it is due today; what failed is due at once, repaired or not.
    """
    days = [parse_day(text).first for text in (from_date, last.checked_on if last else "") if text]
    if last is not None and last.result == "fail":
        return max(days)
    if every_months is None:
        return None
    return add_months(max(days), every_months) if days else today


def uses_left(uses: int, most_uses: int | None) -> int | None:
    """Return how many uses a disk has left before it is worn, 0 when it is; None where no number is set."""
    return None if most_uses is None else max(most_uses - uses, 0)


def first_day_compared(today: date) -> date:
    """Return the first day of which readings still count for comparing two references."""
    return add_months(today, -MONTHS_COMPARED)


def compared(readings: Iterable[Read], old: str, staying: Iterable[str]) -> dict[str, int]:
    """Return, for each staying reference, how many units were read with it and with the old one.

    A unit counts where both read the same measurement at the same point on the same day.
    """
    seen: dict[tuple[int, int, str, str], set[str]] = defaultdict(set)
    for one in readings:
        seen[one.unit_id, one.measurement_id, one.point, one.day].add(one.by)
    units: dict[str, set[int]] = {name: set() for name in staying}
    for (unit_id, *_), by in seen.items():
        if old in by:
            for name in by & units.keys():
                units[name].add(unit_id)
    return {name: len(found) for name, found in units.items()}
