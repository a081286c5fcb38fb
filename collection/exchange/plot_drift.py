"""The picture of one series: its readings by instrument, the level with its band, what reset it, its limits, ahead."""

from __future__ import annotations

from datetime import date
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from collection.errors import fold
from collection.exchange.plot_paper import (
    BAND,
    INK,
    PALE,
    at_day,
    beside_line,
    day_lines,
    days_along,
    legend,
    marks,
    paper,
    write,
)
from collection.quantity import show_day

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from collection.views.drift_rows import DriftReading, PathPoint, SeriesDrift

_STRAY = 0.5
_MARGIN = 0.06
_TRUE = "true value (90 %)"
_FAN = "if nothing is done (90 %)"


def plot_drift(series: SeriesDrift, file: Path, *, today: date) -> None:
    """Draw a series into a file that ends in .png or .svg; no line crosses what reset it.

    Raises Refused for another ending and for a place that cannot be written.
    """
    row = series.row
    what = " ".join(part for part in (row.measurement, row.point) if part)
    below = "; ".join(part for part in (row.sentence, series.crossing or "") if part)
    rests = f"Rests on {row.rests_on}." if row.rests_on else ""
    figure, axes = paper(f"{row.tag}: {what}", f"{below[:1].upper()}{below[1:]}. {rests}")
    draw_series(axes, series, today)
    legend(axes)
    write(figure, file)


def draw_series(axes: Axes, series: SeriesDrift, today: date) -> None:
    """Draw all that a picture shows of a series but title and legend."""
    axes.set_ylabel(series.row.measured_in, color=INK)
    _level(axes, series)
    _limits(axes, series)
    _readings(axes, series)
    _look_at(axes, series)
    _events(axes, series, today)
    days_along(axes)


def _level(axes: Axes, series: SeriesDrift) -> None:
    """Draw the level of each segment with its band, and the fan ahead of the last one."""
    label = _TRUE
    for _, points in groupby((each for each in series.path if not each.ahead), key=lambda each: each.segment):
        piece = list(points)
        _band(axes, piece, label, ahead=False)
        label = label if len(piece) == 1 else "_nolegend_"
    fan = [each for each in series.path if each.ahead]
    if fan:
        last = [each for each in series.path if not each.ahead and each.segment == fan[0].segment][-1:]
        _band(axes, last + fan, _FAN, ahead=True)


def _band(axes: Axes, points: list[PathPoint], label: str, *, ahead: bool) -> None:
    days = [at_day(each.day) for each in points]
    low, middle, high = zip(*((each.low, each.middle, each.high) for each in points), strict=True)
    if len(points) == 1:
        ends = [[middle[0] - low[0]], [high[0] - middle[0]]]
        axes.errorbar(days, middle, ends, color=BAND, elinewidth=5, zorder=1.5)
        return
    axes.fill_between(days, low, high, color=BAND, alpha=0.4 if ahead else 0.85, linewidth=0, zorder=1)
    colour, dash = (PALE, "--") if ahead else (INK, "-")
    axes.plot(days, middle, label=label, zorder=2, color=colour, linestyle=dash, linewidth=1.3)


def _limits(axes: Axes, series: SeriesDrift) -> None:
    for limit in (series.row.lower, series.row.upper):
        if limit is not None:
            axes.axhline(limit, color=INK, linewidth=1.6, zorder=2)
            beside_line(axes, limit, f"limit {limit:.10g}")


def _readings(axes: Axes, series: SeriesDrift) -> None:
    """Draw readings hollow as read and filled as corrected, those not used faint, stray ones crossed."""
    shapes = marks(sorted({each.instrument for each in series.readings}, key=fold))
    told: set[str] = set()
    for each in series.readings:
        if each.value is None:
            continue
        day, mark = at_day(each.taken_on), shapes[each.instrument]
        if each.corrected is None:
            _dot(axes, day, each.value, mark.shape, "none", PALE, 22, "not used", told, alpha=0.6)
            continue
        if each.corrected != each.value:
            _dot(axes, day, each.value, mark.shape, "none", mark.colour, 16, "as read", told, alpha=0.75)
        _dot(axes, day, each.corrected, mark.shape, mark.colour, "white", 38, each.instrument, told)
        if (each.stray or 0.0) > _STRAY:
            _dot(axes, day, each.corrected, "x", INK, INK, 70, "likely stray", told)


def _dot(
    axes: Axes,
    day: float,
    value: float,
    shape: str,
    face: str,
    edge: str,
    size: float,
    label: str,
    told: set[str],
    *,
    alpha: float = 1.0,
) -> None:
    shown = "_nolegend_" if label in told else label
    told.add(label)
    if shape == "x":
        axes.scatter([day], [value], s=size, marker=shape, linewidths=1.2, c=edge, label=shown, zorder=4)
        return
    axes.scatter(
        [day],
        [value],
        s=size,
        marker=shape,
        linewidths=1.2,
        alpha=alpha,
        label=shown,
        zorder=3,
        facecolors=face,
        edgecolors=edge,
    )


def _look_at(axes: Axes, series: SeriesDrift) -> None:
    """Show limits, path and readings that are not stray; say how many lie outside the picture."""
    row = series.row
    wanted = [each for each in (row.lower, row.upper) if each is not None]
    wanted += [value for each in series.path if not each.ahead for value in (each.low, each.high)]
    wanted += [each.middle for each in series.path if each.ahead]
    shown = [each for each in series.readings if each.value is not None]
    plain = [each for each in shown if each.corrected is not None and (each.stray or 0.0) <= _STRAY]
    wanted += [value for each in plain for value in _values(each)]
    if not wanted:
        wanted = [value for each in shown for value in _values(each)]
    if not wanted:
        return
    low, high = min(wanted), max(wanted)
    room = (high - low or abs(high) or 1.0) * _MARGIN
    axes.set_ylim(low - room, high + room)
    outside = sum(not all(low - room <= value <= high + room for value in _values(each)) for each in shown)
    if outside:
        many = "1 reading lies" if outside == 1 else f"{outside} readings lie"
        said = f"{many} outside the picture"
        place = axes.text(0.995, 0.985, said, transform=axes.transAxes, ha="right", va="top", fontsize=8, zorder=5)
        place.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 1.5})


def _values(reading: DriftReading) -> list[float]:
    """Return what is drawn of a reading: as read, and as corrected."""
    return [value for value in (reading.value, reading.corrected) if value is not None]


def _events(axes: Axes, series: SeriesDrift, today: date) -> None:
    """Draw a thin line on each day of a reset and today; labels that would touch stand one above the other."""
    days = [
        (at_day(each.since), f"{each.reset_by}, {show_day(each.since)}")
        for each in series.segments
        if each.since and each.reset_by
    ]
    days.append((at_day(today.isoformat()), "today"))
    day_lines(axes, days)
