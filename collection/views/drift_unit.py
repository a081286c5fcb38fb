"""One history in full: every reading raw and corrected, its segments and what reset them, its path for a plot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from math import isfinite
from typing import NamedTuple

import numpy as np

from collection.analysis.distributions import normal_quantile
from collection.analysis.drift.errors import prediction_errors
from collection.analysis.drift.forecast import Crossing, crossing, mean_on, range_on
from collection.analysis.drift.found import Found
from collection.analysis.drift.scale import from_scale
from collection.analysis.drift.words import crossing_sentence, ranks_sentence
from collection.analysis.rank_trend import FEWEST, rank_trend, trend_test
from collection.quantity import parse_day
from collection.views.drift_columns import STAGES, Floats, Ints, day_text
from collection.views.drift_fit import Fitted, years_of
from collection.views.drift_forecast import level_paths
from collection.views.drift_readings import Gathered
from collection.views.drift_rows import STATES, DriftReading, DriftSegment, PathPoint

_SHARE = 0.90
_AHEAD = 2 * 365  # days
_STEPS = 24  # of a path on either side of its last reading


class Pieces(NamedTuple):
    """The segments of a history: how many resets stand before those that were read, and all its resets in order.

    slopes: how many new slopes stand before those that were read.
    """

    before: tuple[int, ...]
    slopes: tuple[int, ...]
    resets: Ints
    readings: tuple[int, ...]


def readings_of(gathered: Gathered, found: Found, history: int) -> tuple[DriftReading, ...]:
    """Return every reading of a history in the order of taking."""
    pieces = _pieces(gathered, history)
    places = np.flatnonzero(gathered.use.history == history).tolist()
    series = int(gathered.sets.place[history])
    errors: dict[int, float] = {}
    if series >= 0:
        read, z = prediction_errors(gathered.fleet, found, series)
        errors = {place: error for place, error in zip(read.tolist(), z.tolist(), strict=True) if isfinite(error)}
    return tuple(_reading(gathered, found, history, pieces, place, errors) for place in places)


def ranks_of(readings: Sequence[DriftReading], measured_in: str) -> str:
    """Return the trend by ranks alone in words, beside which the fit can be held; "" where ranks would mislead.

    They know no offsets and no resets, so one instrument must have read one segment, and often enough.
    """
    used = [(parse_day(each.taken_on).first, each) for each in readings if each.corrected is not None]
    kinds = {(each.instrument, each.segment) for _, each in used}
    if len(used) < FEWEST or len(kinds) > 1 or len({day for day, _ in used}) < FEWEST:
        return ""
    years = np.array([day.toordinal() / 365.25 for day, _ in used])
    values = np.array([each.corrected for _, each in used], dtype=np.float64)
    return ranks_sentence(*rank_trend(years, values), trend_test(values).z, measured_in)


def segments_of(gathered: Gathered, history: int) -> tuple[DriftSegment, ...]:
    """Return the segments of a history that were read, and the one that a reset began after the last reading."""
    pieces = _pieces(gathered, history)
    until = [*pieces.before, len(pieces.resets)]
    rows = []
    for number, before in enumerate(pieces.before):
        since = pieces.before[number - 1] if number else max(before - 1, 0)
        began = pieces.resets[since:before]
        ended = pieces.resets[before : until[number + 1]] if number + 1 < len(until) else pieces.resets[:0]
        rows.append(_segment(gathered, began, ended, pieces.readings[number], first=number == 0))
    unread = pieces.resets[until[-2] :] if pieces.before else pieces.resets[:0]
    if len(unread):
        rows.append(_segment(gathered, unread, unread[:0], 0, first=False))
    return tuple(rows)


def path_of(
    gathered: Gathered, found: Found, one: Fitted, history: int, today: date, by: date
) -> tuple[PathPoint, ...]:
    """Return the true value at each used reading by all of them, and ahead to two years on or to the day asked for.

    Nothing ahead where the level was reset since the last reading: no line crosses a reset.
    """
    if one.sets.place[history] < 0:
        return ()
    points = _read_points(gathered, found, one, history)
    if one.sets.level_lost[history]:
        return points
    days = _between(_date_of(int(one.sets.ended[history])), max(_days_on(today, _AHEAD), by))[1:]
    if not days:
        return points
    times = np.array([years_of(day) for day in days])
    paths = level_paths(one, np.full(len(days), history))
    low, high = range_on(paths, times, _SHARE)
    segment = int(one.sets.segments[history]) - 1
    return points + _points(one, history, days, [segment] * len(days), (mean_on(paths, times), low, high), ahead=True)


def _read_points(gathered: Gathered, found: Found, one: Fitted, history: int) -> tuple[PathPoint, ...]:
    """Return the true value on each day of each segment on which there is a used reading."""
    use, made, read = gathered.use, gathered.cut, gathered.taken
    pieces = _pieces(gathered, history)
    at = {}
    for place in np.flatnonzero((use.history == history) & (use.in_fleet >= 0)).tolist():
        half, before = int(read.half[made.order[place]]), int(made.resets_before[place])
        at[pieces.before.index(before), _date_of(half)] = int(use.in_fleet[place])
    chosen = np.array(list(at.values()))
    middle = found.smooth[chosen]
    tied = one.offsets.to_reference[gathered.fleet.instrument[chosen]]
    sd = np.hypot(found.smooth_sd[chosen], np.where(tied, one.apart[history], 0.0))
    reach = float(normal_quantile((1 + _SHARE) / 2))
    ranges = (middle, middle - reach * sd, middle + reach * sd)
    return _points(one, history, [day for _, day in at], [segment for segment, _ in at], ranges, ahead=False)


def _points(
    one: Fitted,
    history: int,
    days: Sequence[date],
    segments: Sequence[int],
    scaled: tuple[Floats, Floats, Floats],
    *,
    ahead: bool,
) -> tuple[PathPoint, ...]:
    """Return points of a path from middles and ends on the scale, without those that no number can hold."""
    nominal = np.full(len(days), one.held.nominal[history])
    with np.errstate(over="ignore", invalid="ignore"):
        middle, *ends = (from_scale(each, nominal, one.measured.ratio) for each in scaled)
    low, high = np.minimum(*ends), np.maximum(*ends)
    return tuple(
        PathPoint(day.isoformat(), float(mid), float(least), float(most), segment, ahead)
        for day, segment, mid, least, most in zip(days, segments, middle, low, high, strict=True)
        if np.isfinite([mid, least, most]).all()
    )


def crossing_of(one: Fitted, history: int, today: date) -> str | None:
    """Return in words when a history leaves its limits with no service in between; None without limit or level."""
    if one.sets.place[history] < 0 or one.sets.level_lost[history]:
        return None
    held, measured = one.held, one.measured
    now = years_of(today)
    paths = level_paths(one, np.array([history]))
    bounds = held.bounds(held.nominal, ratio=measured.ratio)
    level = float(mean_on(paths, max(now, float(paths.start[0])))[0])
    found = []
    for bound, way in zip(bounds, (-1, 1), strict=True):
        limit = float(bound[history])
        if np.isfinite(limit):
            past = way * (level - limit) > 0
            when = Crossing(-np.inf, -np.inf, -np.inf) if past else crossing(paths, 0, limit)
            shown = _own_of(one, history, limit)
            said = crossing_sentence(shown, measured.measured_in, *when, now)
            if said is not None:
                found.append((when.first, said))
    return min(found)[1] if found else None


def _own_of(one: Fitted, history: int, scaled: float) -> float:
    """Return a limit on the scale as it was given."""
    nominal = one.held.nominal[history]
    back = float(from_scale(np.array(scaled), nominal, one.measured.ratio))
    given = (float(one.held.lower[history]), float(one.held.upper[history]))
    return min((each for each in given if np.isfinite(each)), key=lambda each: abs(each - back))


def _pieces(gathered: Gathered, history: int) -> Pieces:
    use, made = gathered.use, gathered.cut
    used = (use.history == history) & (use.in_fleet >= 0)
    before, many = np.unique(made.resets_before[used], return_counts=True)
    slopes = np.unique(made.slopes_before[used])
    resets = made.reset_row[made.reset_history == history]
    return Pieces(tuple(before.tolist()), tuple(slopes.tolist()), resets, tuple(many.tolist()))


def _reading(
    gathered: Gathered, found: Found, history: int, pieces: Pieces, place: int, errors: Mapping[int, float]
) -> DriftReading:
    use, made, read = gathered.use, gathered.cut, gathered.taken
    at, into = int(made.order[place]), int(use.in_fleet[place])
    value = float(read.value[at])
    here, home = int(gathered.read_in[at]), int(gathered.sets.unit[history])
    corrected = jump_size = stray = jump = None
    if into >= 0:
        shift = float(found.corrected[into] - gathered.fleet.values[into])
        scaled = float(use.scaled[place]) + shift
        corrected, before = (_own(gathered, history, each) for each in (scaled, scaled - float(found.jump_size[into])))
        corrected = corrected if shift else value
        jump_size = corrected - before if corrected is not None and before is not None else None
        stray, jump = float(found.stray[into]), float(found.jump[into])
    return DriftReading(
        taken_on=day_text(int(read.day[at])),
        value=value if np.isfinite(value) else None,
        corrected=corrected,
        instrument=gathered.names.get(int(read.instrument[at]), ""),
        stage=STAGES[int(read.stage[at])],
        state=STATES[int(use.state[place])],
        stray=stray,
        jump=jump,
        jump_size=jump_size,
        segment=_number(pieces.before, int(made.resets_before[place])),
        run=_number(pieces.slopes, int(made.slopes_before[place])),
        z=errors.get(into),
        in_unit="" if here == home else gathered.units[here].tag,
    )


def _own(gathered: Gathered, history: int, scaled: float) -> float | None:
    """Return a value on the scale in the measurement's own unit, None where it leaves what numbers can hold."""
    with np.errstate(over="ignore"):
        value = from_scale(np.array(scaled), gathered.held.nominal[history], gathered.measured.ratio)
    return float(value) if np.isfinite(value) else None


def _number(numbers: Sequence[int], wanted: int) -> int | None:
    return numbers.index(wanted) if wanted in numbers else None


def _segment(gathered: Gathered, began: Ints, ended: Ints, readings: int, *, first: bool) -> DriftSegment:
    resets = gathered.resets
    names = dict.fromkeys(gathered.procedures[int(resets.procedure[row])] for row in began)
    return DriftSegment(
        since=day_text(int(resets.day[began[-1]])) if len(began) else "",
        until=day_text(int(resets.day[ended[0]])) if len(ended) else "",
        reset_by=", ".join(names),
        new_slope=not first and bool(resets.slope[began].any()),
        readings=readings,
    )


def _date_of(half: int) -> date:
    return date(1970, 1, 1) + timedelta(days=half // 2)


def _days_on(day: date, days: int) -> date:
    return date.fromordinal(min(day.toordinal() + days, date.max.toordinal()))


def _between(first: date, last: date) -> list[date]:
    """Return days evenly apart from the first to the last, both included."""
    days = (last - first).days
    steps = min(_STEPS, max(days, 0))
    return [first + timedelta(days=round(days * step / steps)) for step in range(steps + 1)] if steps else [first]
