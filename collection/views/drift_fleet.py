"""The arrays of a fleet: which readings are used, repeats put together, segments and runs numbered without gaps."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from collection.analysis.drift.given import Fleet
from collection.analysis.drift.scale import to_scale
from collection.views.drift_columns import HALF_DAYS_A_YEAR, LEFT, Bools, Floats, Ints, Taken
from collection.views.drift_histories import Histories
from collection.views.drift_instruments import Period
from collection.views.drift_segments import Cut
from collection.views.drift_series import Held, Measured

# What a reading is to the fit, in the order of STATES in drift_rows.
USED, ASIDE, COLD, WARM, NOT_COMPARABLE, NO_NUMBER = range(6)

_LEAST_WIDTH = 1.0  # half the width of limits where none are known, in per cent; common practice, no source
EPOCH = 21914  # in half days: 2000-01-01
_WARM_FROM = 10.0  # minutes; common practice, no source
_REPEATS_APART = 0.5  # repeats further apart than that, in half widths of their limits, are no repeats; the same


class Together(NamedTuple):
    """The readings of a fleet, repeats put together into one; and the way there and back.

    Per reading of the fleet: half (its day), value, segment, period (of its instrument). segment_run and run_history
    number segments and runs. of_used: which reading of the fleet each used reading went into. history: those that
    have a used reading, in the order of the fleet's series.
    """

    half: Ints
    value: Floats
    segment: Ints
    period: Ints
    segment_run: Ints
    run_series: Ints
    of_used: Ints
    history: Ints


class Sets(NamedTuple):
    """The histories of one measurement, one element each.

    unit: the place of the unit in which it is now, -1 where its mechanism lies loose. point: its text. place: its
    number in the fleet, -1 where none of its readings is used. readings: how many are used; segments: in how many
    pieces these fall. first, last: days of the first and the last used reading as whole numbers, 0 for none; began,
    ended: of the first and the last of the present segment in half days. value, instrument: of the last one, as it was
    read (NaN for none) and in the fleet.
    set_with, set_on: the instrument and the day of the reading as left with which the present segment began after a
    reset; -1 and 0 where it began otherwise. set_at: what the segment's first reading was, as read, on the scale.
    level_lost: reset since the last used reading; slope_lost: with a new slope.
    """

    unit: Ints
    point: tuple[str, ...]
    place: Ints
    readings: Ints
    segments: Ints
    first: Ints
    last: Ints
    began: Ints
    ended: Ints
    value: Floats
    instrument: Ints
    set_with: Ints
    set_on: Ints
    set_at: Floats
    level_lost: Bools
    slope_lost: Bools


def states(measured: Measured, read: Taken, made: Cut, histories: Histories, by: Held) -> tuple[Ints, Floats]:
    """Return what each reading is to the fit, and its value on the scale, both in the order of `made`.

    Like is compared with like: of a series either the readings of a cold unit are used or all others, whichever are
    more. A reading whose warm-up was not told counts as warm.
    """
    history, value = histories.of_reading[made.order], read.value[made.order]
    finite = np.isfinite(value)
    scaled = to_scale(np.where(finite, value, np.nan), by.nominal[history], measured.ratio)
    state = np.full(len(history), USED)
    state[~np.isfinite(scaled)] = NO_NUMBER
    state[made.amid | histories.lost[made.order]] = NOT_COMPARABLE
    state[read.aside[made.order]] = ASIDE
    minutes = read.warm_up[made.order]
    cold = (minutes >= 0) & (minutes < _WARM_FROM)
    many = len(histories.owner)
    colds = np.bincount(history[cold & (state == USED)], minlength=many)
    warms = np.bincount(history[~cold & (state == USED)], minlength=many)
    is_cold = (colds > warms)[history]
    state[(state == USED) & cold & ~is_cold] = COLD
    state[(state == USED) & ~cold & is_cold] = WARM
    return state, np.where(np.isfinite(scaled), scaled, np.nan)


def put_together(
    read: Taken, made: Cut, histories: Histories, used: Ints, scaled: Floats, period: Ints, apart: Floats
) -> Together:
    """Number segments and runs of the used readings (places in the order of `made`) and put repeats together.

    Repeats of one day, instrument, stage and service are not independent of one another: their median counts once.
    Where they lie further apart than `apart` (of each history, on the scale) one of them slipped, and each counts.
    """
    at = made.order[used]
    history, half = histories.of_reading[at], read.half[at]
    series, begins = _runs_of(history)
    run, new_run = _runs_of(history, made.slopes_before[used])
    segment, new_segment = _runs_of(history, made.resets_before[used])
    day, _ = _runs_of(segment, half)
    base = int(read.service[at].max(initial=0)) + 1
    kinds = int(period.max(initial=0)) + 1
    key = ((day * kinds + period) * 3 + read.stage[at]) * base + read.service[at]
    order = np.lexsort((scaled, key))
    number, starts = _runs_of(key[order])
    if len(starts):
        values = scaled[order]
        width = np.maximum.reduceat(values, starts) - np.minimum.reduceat(values, starts)
        differ = (width > apart[history[order[starts]]])[number]
        number, starts = _runs_of(key[order], np.where(differ, np.arange(len(order)), -1))
    sizes = np.diff(np.append(starts, len(key)))
    middle = (scaled[order[starts + (sizes - 1) // 2]] + scaled[order[starts + sizes // 2]]) / 2
    first = np.minimum.reduceat(order, starts) if len(starts) else starts
    rank = np.argsort(first, kind="stable")
    place = np.empty(len(rank), dtype=np.int64)
    place[rank] = np.arange(len(rank))
    of_used = np.empty(len(key), dtype=np.int64)
    of_used[order] = place[number]
    chosen = first[rank]
    return Together(
        half[chosen],
        middle[rank],
        segment[chosen],
        period[chosen],
        run[new_segment],
        series[new_run],
        of_used,
        history[begins],
    )


def repeats_apart(measured: Measured, by: Held) -> Floats:
    """Return how far apart repeats of each history may lie, on the scale; infinite without limits."""
    low, high = by.bounds(by.nominal, ratio=measured.ratio)
    width = (high - low) / 2
    return np.where(np.isfinite(width) & (width > 0), _REPEATS_APART * width, np.inf)


def fleet_of(measured: Measured, by: Held, lot: Together, periods: tuple[Period, ...]) -> Fleet:
    """Return the fleet; every part of it has a reading."""
    nominal = by.nominal[lot.history]
    width = _half_width(by, lot, measured)
    known, series_class = np.unique(by.of_class[lot.history], return_inverse=True)
    size = float(np.median(np.abs(nominal))) / 100 if measured.ratio and len(nominal) else 1.0
    return Fleet(
        years=(lot.half - EPOCH) / HALF_DAYS_A_YEAR,
        values=lot.value,
        segment=lot.segment,
        instrument=lot.period,
        segment_run=lot.segment_run,
        run_series=lot.run_series,
        series_class=series_class.astype(np.int64),
        usual_slope=by.usual[known] * width,
        reference=np.array([each.reference for each in periods], dtype=bool),
        resolution=np.array([each.resolution for each in periods], dtype=np.float64) / size,
        uncertainty=np.array([each.uncertainty for each in periods], dtype=np.float64) / size,
        half_width=width,
    )


def sets_of(read: Taken, made: Cut, histories: Histories, used: Ints, lot: Together, points: tuple[str, ...]) -> Sets:
    """Return what is known of each history besides its fit."""
    many, at = len(histories.owner), made.order[used]
    history = histories.of_reading[at]
    _, begins = _runs_of(history)
    ends = np.append(begins[1:], len(history)) - 1 if len(begins) else begins
    segment, new_segment = _runs_of(history, made.resets_before[used])

    def spread(values: Ints, otherwise: int = 0) -> Ints:
        whole = np.full(many, otherwise)
        whole[lot.history] = values
        return whole

    value, set_at = np.full(many, np.nan), np.full(many, np.nan)
    value[lot.history] = read.value[at[ends]]
    start = new_segment[segment[ends]]
    set_at[lot.history] = lot.value[lot.of_used[start]]
    # A new belt is fitted, not set: only what resets the level and leaves the slope turns a trimmer.
    turned = made.resets_before[used] - made.slopes_before[used]
    former = np.where(start > begins, turned[np.maximum(start - 1, 0)], 0)
    was_set = (turned[start] > former) & (read.stage[at[start]] == LEFT)
    resets = np.bincount(made.reset_history, minlength=many)
    slopes = np.bincount(made.reset_history, weights=made.reset_slope, minlength=many).astype(np.int64)
    place = spread(np.arange(len(lot.history)), -1)
    return Sets(
        unit=histories.unit,
        point=points,
        place=place,
        readings=np.bincount(history, minlength=many),
        segments=np.bincount(history[new_segment], minlength=many),
        first=spread(read.day[at[begins]]),
        last=spread(read.day[at[ends]]),
        began=spread(read.half[at[start]]),
        ended=spread(read.half[at[ends]]),
        value=value,
        instrument=spread(lot.period[lot.of_used[ends]], -1),
        set_with=spread(np.where(was_set, lot.period[lot.of_used[start]], -1), -1),
        set_on=spread(np.where(was_set, read.day[at[start]], 0)),
        set_at=set_at,
        level_lost=(place >= 0) & (resets > spread(made.resets_before[used[ends]])),
        slope_lost=(place >= 0) & (slopes > spread(made.slopes_before[used[ends]])),
    )


def _runs_of(*keys: Ints) -> tuple[Ints, Ints]:
    """Return the number of each piece of equal keys that stand together, and where each piece begins."""
    change = np.ones(len(keys[0]), dtype=bool)
    if len(change):
        change[1:] = np.any([key[1:] != key[:-1] for key in keys], axis=0)
    return np.cumsum(change) - 1, np.flatnonzero(change)


def _half_width(by: Held, lot: Together, measured: Measured) -> float:
    """Return half the width of usual limits on the scale; without limits three robust spreads of the readings.

    1 % of what is read at least: in a quiet fleet the spread is that of the instrument alone, and no measure of how
    far a level may jump.
    """
    low, high = by.bounds(by.nominal, ratio=measured.ratio)
    widths = (high - low)[lot.history] / 2
    widths = widths[np.isfinite(widths) & (widths > 0)]
    if len(widths):
        return float(np.median(widths))
    order = np.lexsort((lot.value, lot.segment))
    _, begins = _runs_of(lot.segment[order])
    sizes = np.diff(np.append(begins, len(order)))
    middles = (lot.value[order[begins + (sizes - 1) // 2]] + lot.value[order[begins + sizes // 2]]) / 2
    apart = np.abs(lot.value - middles[lot.segment])[(sizes > 1)[lot.segment]]
    size = 100 * _LEAST_WIDTH if measured.ratio or not len(lot.value) else float(np.median(np.abs(lot.value)))
    for spread in (1.4826 * np.median(apart), np.sqrt(np.mean(apart**2))) if len(apart) else ():
        if spread > 0:
            return max(3 * float(spread), size / 100)
    return size / 100 if size > 0 else _LEAST_WIDTH
