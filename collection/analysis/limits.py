"""Which limit counts for a reading, and what the reading says against it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Literal

from collection.analysis.measures import nominal_speed, show_speed
from collection.errors import fold

Scope = Literal["unit", "model", "class"]
Verdict = Literal["within", "low", "high", "marginal", "fail", "no limit"]

OUT: frozenset[Verdict] = frozenset({"low", "high", "fail"})
_NEAREST_FIRST: dict[Scope, int] = {"unit": 0, "model": 1, "class": 2}
_WHOLE_DAY = 10  # characters of 2025-10-03


@dataclass(frozen=True, slots=True)
class Limit:
    """The closed range [lower, upper], in the measurement's unit, that a reading must lie in.

    Either bound may be None. source: where it comes from. from_date: "" or the (partial) day it counts from.
    class_rank: for a class, its place in `classes_of` (0 is nearest). point: "" for every point.
    """

    nominal: float | None
    lower: float | None
    upper: float | None
    source: str = ""
    from_date: str = ""
    scope: Scope = "class"
    class_rank: int = 0
    point: str = ""


@lru_cache(maxsize=4096)
def classes_of(kind: str, drive_type: str, nominal_speeds: tuple[float, ...], point: str) -> tuple[str, ...]:
    """Return the names of the classes whose limits can count for a point of a unit, nearest first.

    Nominal speed ("300 r/min"; of several the one the point names, else the first), drive type, kind, "drive
    supply" (the rails a drive asks for; not for a PC supply, which has tables of its own), and "TTL", the
    logic family behind them all.
    """
    speed = nominal_speed(nominal_speeds, point)
    names = [f"{show_speed(speed)} r/min"] if speed is not None else []
    names += [name for name in (drive_type, kind) if name]
    if fold(kind) in ("drive", "supply unit"):
        names.append("drive supply")
    return (*names, "TTL")


def nearest_limit(candidates: Iterable[Limit], on_date: date | str) -> Limit | None:
    """Return the limit that counts on a day: of the unit, else its model, else its nearest class; or None.

    Inside one scope a limit for the very point comes before one for every point, then the latest from_date
    not after `on_date` (a date or a day text; a partial day counts from its first), then the first of the
    candidates. candidates: limits of this unit, measurement and point or every point, of any date.
    """
    day = _first_day(str(on_date))
    valid = [limit for limit in candidates if not limit.from_date or _first_day(limit.from_date) <= day]
    latest = sorted(valid, key=lambda limit: limit.from_date, reverse=True)
    return min(
        latest,
        key=lambda limit: (_NEAREST_FIRST[limit.scope], limit.class_rank, not limit.point),
        default=None,
    )


def verdict(result: float | str, limit: Limit | None, previous_grade: str | None = None) -> Verdict:
    """Return what a value or a grade (pass, marginal, fail) says.

    A value exactly on a bound is within. Where both bounds are negative (a -12 V rail), low and high speak of
    its size: -10.7 V is low. A marginal grade after a marginal `previous_grade` is a fail.
    """
    if isinstance(result, str):
        return _graded(result, previous_grade)
    if limit is None or (limit.lower is None and limit.upper is None):
        return "no limit"
    bound = crossed(result, limit)
    if bound is None:
        return "within"
    below, negative = result < bound, _both_negative(limit)
    return "low" if below != negative else "high"


def crossed(value: float, limit: Limit) -> float | None:
    """Return the bound that a value lies outside of, or None; bounds given in the wrong order are sorted."""
    lower, upper = limit.lower, limit.upper
    if lower is not None and upper is not None and lower > upper:
        lower, upper = upper, lower
    if lower is not None and value < lower:
        return lower
    return upper if upper is not None and value > upper else None


def _graded(grade: str, previous_grade: str | None) -> Verdict:
    """Return the verdict of a grade, two marginal ones in a row being a fail."""
    if grade == "pass":
        return "within"
    return "marginal" if grade == "marginal" and previous_grade != "marginal" else "fail"


def _both_negative(limit: Limit) -> bool:
    """Say whether the whole range lies below zero."""
    return limit.lower is not None and limit.upper is not None and limit.lower < 0 and limit.upper < 0


def _first_day(day: str) -> str:
    """Return the first day that a day text can mean, as text."""
    return day if len(day) == _WHOLE_DAY else day + "-01-01"[len(day) - _WHOLE_DAY :]
