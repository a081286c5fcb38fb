"""What use takes on average, from the same knowledge that the projection draws from: figures for the table by day."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from math import ceil
from typing import NamedTuple

from collection.analysis.netting import Need
from collection.analysis.stock_plan.given import SHEET_USES, AmountGiven, UnplannedGiven

_MONTH = 30.4375  # days
_EXACT = 6  # decimals of a step; the rest is what binary fractions leave


class Expected(NamedTuple):
    """So many steps on average, on a day, and for what."""

    on: date
    steps: float
    why: str


def mean_steps(known: AmountGiven) -> float | None:
    """Return what a use that takes any takes on average, in steps; None where neither a sheet nor a use tells."""
    sheets = 0 if known.sheet is None else SHEET_USES
    weight = sheets + known.uses
    return ((known.sheet or 0.0) * sheets + known.total) / weight if weight else None


def how_often(known: AmountGiven) -> float:
    """Return in what share of its uses any is taken, by the sheet and by the services that told."""
    return (SHEET_USES * known.chance + known.taken) / (SHEET_USES + known.times)


def mean_use(known: AmountGiven) -> float | None:
    """Return what a use takes on average, in steps; None where neither a sheet nor a use tells."""
    each = mean_steps(known)
    return None if each is None else each * how_often(known)


def unplanned_a_month(told: UnplannedGiven, amount: AmountGiven) -> float | None:
    """Return the steps a month of 30.4375 days that nobody plans, on average; None where nobody knows."""
    each = mean_use(amount)
    if each is None or not told.has_basis:
        return None
    return (told.shape + told.events) / (told.rate + told.exposure) * told.a_month * each


def by_month(a_month: float, today: date, days: int, why: str) -> Iterable[Expected]:
    """Yield what so much a month takes until so many days from today, at the end of each month."""
    for number in range(1, int(days / _MONTH) + 1):
        yield Expected(today + timedelta(days=round(number * _MONTH)), a_month, why)


def whole_needs(expected: Iterable[Expected]) -> list[Need]:
    """Return the needs in whole steps, by day; parts of a step are summed up over them and rounded up.

    So ten uses of half a piece each take five pieces and not ten; what takes nothing yet is left out.
    """
    needs, total = [], 0.0
    for each in sorted(expected, key=lambda one: one.on):
        before, total = total, total + each.steps
        steps = ceil(round(total, _EXACT)) - ceil(round(before, _EXACT))
        if steps:
            needs.append(Need(each.on, steps, each.why))
    return needs
