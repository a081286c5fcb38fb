"""What each series is held against: its limits of today, its nominal, and the class whose slopes it shares."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import NamedTuple

import numpy as np

from collection.analysis.drift.scale import to_scale
from collection.analysis.limits import Limit
from collection.analysis.measures import nominal_speed
from collection.errors import fold
from collection.views.drift_columns import Floats, Ints
from collection.views.limits import Limits
from collection.views.units import Unit

_SPEED = "r/min"
_UNKNOWN = "unknown"
# The size of a drift that is nothing unusual, in half the width of the limits a year. A speed kept by a crystal hardly
# moves, one passed on by a belt may. Common practice, no source; the fleet's own slopes soon outweigh it.
_USUAL, _USUAL_SPEED = 0.08, {"direct crystal": 0.015, "belt": 0.25}
_IN_POINT = re.compile(r"([+-]?[0-9]{1,6}(?:\.[0-9]{1,6})?) ?(.+)", re.ASCII)


class Measured(NamedTuple):
    """A measurement that has a unit of measure; by_point: it names usual points, which are things apart, as rails."""

    id: int
    name: str
    measured_in: str
    ratio: bool
    by_point: bool
    seed_key: str


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """What the series of one measurement are held against; one element a series.

    nominal: what values are scaled by, NaN where only the readings themselves can tell; told: the nominal that limit,
    model or point tells, NaN where none does. lower, upper: the limit that counts today, in the measurement's own
    unit, NaN where there is none. classes: the names, to which `of_class` points.
    usual: of each class, the slope that is nothing unusual, in half widths of the limits a year.
    """

    nominal: Floats
    told: Floats
    lower: Floats
    upper: Floats
    classes: tuple[str, ...]
    of_class: Ints
    usual: Floats

    def with_medians(self, history: Ints, value: Floats) -> Held:
        """Return the same with the median of its own readings as nominal where nothing else tells one.

        history, value: of each reading. A median of 0 is none.
        """
        asked = np.isnan(self.nominal)[history] & np.isfinite(value)
        history, value = history[asked], value[asked]
        order = np.lexsort((value, history))
        known, first, many = np.unique(history[order], return_index=True, return_counts=True)
        value = value[order]
        middle = (value[first + (many - 1) // 2] + value[first + many // 2]) / 2
        nominal = self.nominal.copy()
        nominal[known] = np.where(middle != 0, middle, np.nan)
        return replace(self, nominal=nominal)

    def bounds(self, nominal: Floats, *, ratio: bool) -> tuple[Floats, Floats]:
        """Return the limits on the scale, the lower one first; infinite where there is none.

        A limit of a ratio quantity that has not the sign of its nominal bounds nothing that has.
        """
        pair = np.stack([to_scale(bound, nominal, ratio) for bound in (self.lower, self.upper)])
        negative = (nominal < 0) & ratio
        first = np.where(negative, pair[1], pair[0])
        last = np.where(negative, pair[0], pair[1])
        low, high = np.where(np.isnan(first), -np.inf, first), np.where(np.isnan(last), np.inf, last)
        return np.minimum(low, high), np.maximum(low, high)


def held(measured: Measured, units: Sequence[Unit], points: Sequence[str], limits: Limits, today: date) -> Held:
    """Return what the series of `measured` with these units and points are held against today."""
    day = today.isoformat()
    rows, names = [], dict[str, int]()
    usual: list[float] = []
    for unit, point in zip(units, points, strict=True):
        limit = limits.on(day, unit.id, unit.model_id, measured.id, point)
        told = _nominal(measured, unit, point, limit, limits)
        name, share = _class(measured, unit, point)
        if name not in names:
            names[name] = len(names)
            usual.append(share)
        lower, upper = _sorted_bounds(limit)
        rows.append((told, lower, upper, names[name]))
    told_all, lower_all, upper_all, of_class = np.array(rows, dtype=np.float64).reshape(-1, 4).T
    nominal = told_all if measured.ratio else np.where(np.isnan(told_all), 0.0, told_all)
    return Held(
        nominal, told_all, lower_all, upper_all, tuple(names), of_class.astype(np.int64), np.array(usual)
    )  # fmt: skip


def _nominal(measured: Measured, unit: Unit, point: str, limit: Limit | None, limits: Limits) -> float:
    """Return the nominal of a series, NaN where none is told; never 0 for a ratio quantity."""
    if limit is not None and limit.nominal is not None and (limit.nominal != 0 or not measured.ratio):
        return limit.nominal
    if measured.measured_in == _SPEED and unit.model_id in limits.models:
        speed = nominal_speed(limits.models[unit.model_id].nominal_speeds, point)
        if speed is not None:
            return speed
    match = _IN_POINT.fullmatch(point.strip()) if measured.ratio else None
    if match and fold(match[2]) == fold(measured.measured_in) and float(match[1]) != 0:
        return float(match[1])
    return np.nan


def _class(measured: Measured, unit: Unit, point: str) -> tuple[str, float]:
    """Return the class of a series, and the slope that is nothing unusual there, in half limit widths a year."""
    drive = unit.drive_type if fold(unit.drive_type) != _UNKNOWN else ""
    name = drive or unit.kind
    usual = _USUAL_SPEED.get(fold(drive), _USUAL) if measured.measured_in == _SPEED else _USUAL
    apart = point and (measured.by_point or "head" in fold(point))
    return (f"{name}, {point}" if apart else name), usual


def _sorted_bounds(limit: Limit | None) -> tuple[float, float]:
    lower = np.nan if limit is None or limit.lower is None else limit.lower
    upper = np.nan if limit is None or limit.upper is None else limit.upper
    return (upper, lower) if lower > upper else (lower, upper)


def measured_of(rows: Sequence[tuple[int, str, str, int | None, str | None, str | None]]) -> Mapping[int, Measured]:
    """Return the measurements by id, from id, name, measured in, ratio, usual points and seed key."""
    return {
        id_: Measured(id_, name, unit, bool(ratio), bool(points), key or "")
        for id_, name, unit, ratio, points, key in rows
    }
