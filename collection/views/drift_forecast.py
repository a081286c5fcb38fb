"""What the fit foretells of every history of a measurement, in the measurement's own unit, as arrays."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date
from typing import NamedTuple

import numpy as np

from collection.analysis.drift.forecast import chance_outside, mean_slope, range_on, slope_range
from collection.analysis.drift.found import Paths
from collection.analysis.drift.scale import from_scale, slope_from_scale
from collection.views.drift_columns import Bools, Floats, Ints
from collection.views.drift_fit import Fitted, years_of

_LEVEL, _BY = 0.95, 0.90
_A_YEAR, _HALF_A_DAY = 1.0, 0.5 / 365.25


class Range(NamedTuple):
    """Middle and ends of ranges, NaN where nothing can be said."""

    middle: Floats
    low: Floats
    high: Floats


class Forecast(NamedTuple):
    """Of each history; NaN where nothing can be said. See DriftRow for what they are.

    own: the share from 0 to 1 of what is known of the slope that comes from its own readings. late, by_late: today,
    or the day asked for, lies before its last reading.
    """

    level: Range
    slope: Range
    own: Floats
    chance_12_months: Floats
    by: Range
    chance_outside: Floats
    late: Bools
    by_late: Bools


def forecast_of(one: Fitted, today: date, by: date) -> Forecast:
    """Return what is foretold today and on the day asked for."""
    sets = one.sets
    known = sets.place >= 0
    many = len(known)
    if not len(one.paths.start):
        nothing, none = np.full(many, np.nan), np.zeros(many, dtype=bool)
        said = Range(nothing, nothing, nothing)
        return Forecast(said, said, np.zeros(many), nothing, said, nothing, none, none)
    paths = level_paths(one, np.arange(many))
    now, asked = years_of(today), years_of(by)
    late, by_late = known & (now < paths.start - _HALF_A_DAY), known & (asked < paths.start - _HALF_A_DAY)
    has_level = known & ~sets.level_lost
    low, high = one.held.bounds(one.held.nominal, ratio=one.measured.ratio)
    limited = has_level & (np.isfinite(low) | np.isfinite(high))
    at, then = np.maximum(now, paths.start), np.maximum(asked, paths.start)
    return Forecast(
        level=_in_own_unit(one, paths, at, _LEVEL, has_level & ~late),
        slope=_slopes(one, paths, known),
        own=np.where(known & ~sets.slope_lost, one.own[np.maximum(sets.place, 0)], 0.0),
        chance_12_months=_where(limited & ~late, chance_outside(paths, at + _A_YEAR, low, high)),
        by=_in_own_unit(one, paths, then, _BY, has_level & ~by_late),
        chance_outside=_where(limited & ~by_late, chance_outside(paths, then, low, high)),
        late=late,
        by_late=by_late,
    )


def level_paths(one: Fitted, history: Ints) -> Paths:
    """Return the paths of some histories, the uncertainty of their reference in the level; any where none is known."""
    place = np.maximum(one.sets.place[history], 0)
    apart = np.where(one.tied[place], one.apart[history], 0.0)
    chosen = replace(one.paths, **{each.name: getattr(one.paths, each.name)[place] for each in fields(one.paths)})
    return replace(chosen, var_level=chosen.var_level + apart[:, None] ** 2)


def _in_own_unit(one: Fitted, paths: Paths, years: Floats, share: float, said: Bools) -> Range:
    """Return middle, low and high of the true values at a time, NaN where nothing is said."""
    middle = (paths.weight * (paths.level + paths.slope * (years - paths.start)[:, None])).sum(axis=1)
    low, high = range_on(paths, years, share)
    middle = np.clip(middle, low, high)
    with np.errstate(over="ignore", invalid="ignore"):
        converted = [from_scale(each, one.held.nominal, one.measured.ratio) for each in (middle, low, high)]
    said = said & np.isfinite(converted).all(axis=0)
    ends = np.sort(np.stack(converted[1:]), axis=0)
    return Range(*(_where(said, each) for each in (converted[0], *ends)))


def _slopes(one: Fitted, paths: Paths, known: Bools) -> Range:
    """Return middle, low and high of the slopes; those of the class where a new slope began unread."""
    sets, of_class = one.sets, np.maximum(one.of_class, 0)
    low, high = slope_range(paths, 0.95)
    middle = np.clip(mean_slope(paths), low, high)
    own = known & ~sets.slope_lost
    classes = one.classes
    of_its_class = (classes.middle[of_class], classes.low[of_class], classes.high[of_class])
    pairs = zip((middle, low, high), of_its_class, strict=True)
    scaled = [np.where(own, mine, usual) for mine, usual in pairs]
    level = np.where(known & ~sets.level_lost, (paths.weight * paths.level).sum(axis=1), 0.0)
    with np.errstate(over="ignore", invalid="ignore"):
        converted = [slope_from_scale(each, level, one.held.nominal, one.measured.ratio) for each in scaled]
    said = known & np.isfinite(converted).all(axis=0)
    ends = np.sort(np.stack(converted[1:]), axis=0)
    return Range(*(_where(said, each) for each in (converted[0], *ends)))


def _where(said: Bools, values: Floats) -> Floats:
    return np.where(said, values, np.nan)
