"""The picture of a chart: prediction errors, their weighted mean, and the signal lines of both."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from collection.analysis.charts import BEYOND
from collection.errors import fold
from collection.exchange.plot_paper import INK, LINE, PALE, at_day, days_along, legend, marks, paper, write

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from collection.views.drift_chart import ChartPoint, SeriesChart


def plot_chart(chart: SeriesChart, file: Path) -> None:
    """Draw a chart into a file that ends in .png or .svg; signal lines are dashed, as limits never are.

    Raises Refused for another ending and for a place that cannot be written.
    """
    row = chart.row
    what = " ".join(part for part in (row.measurement, row.point) if part)
    last = {each.sentence.rstrip("."): each.reading.taken_on for each in chart.points if each.sentence}
    said = [f"{day}: {sentence}" for sentence, day in sorted(last.items(), key=lambda each: each[1])]
    expected = f"With nothing wrong expect {chart.false_alarms:.2g} false alarms a year." if chart.false_alarms else ""
    below = chart.nothing or f"{'. '.join([*said[-2:], f'Rests on {row.rests_on}'])}. {expected}"
    figure, axes = paper(f"{row.tag}: how far {what} was from what was foretold", below)
    axes.set_ylabel("error, noise-widths", color=INK)
    axes.axhline(0.0, color=PALE, linewidth=0.8, zorder=0.5)
    _signal_lines(axes)
    for piece in _pieces(chart.points):
        _mean(axes, piece)
    _errors(axes, chart)
    most = max([BEYOND + 1, *(abs(each.z) + 0.5 for each in chart.points if each.z is not None)])
    axes.set_ylim(-most, most)
    days_along(axes)
    legend(axes)
    write(figure, file)


def _signal_lines(axes: Axes) -> None:
    for side in (-BEYOND, BEYOND):
        label = "signal line of one reading" if side > 0 else "_nolegend_"
        axes.axhline(side, color=LINE, linewidth=1.1, linestyle=(0, (6, 4)), label=label, zorder=1)


def _pieces(points: tuple[ChartPoint, ...]) -> list[list[ChartPoint]]:
    """Return the runs of points with a weighted mean; it begins anew with each segment."""
    pieces: list[list[ChartPoint]] = [[]]
    for point in points:
        if point.mean is None:
            pieces.append([])
        else:
            pieces[-1].append(point)
    return [piece for piece in pieces if piece]


def _mean(axes: Axes, piece: list[ChartPoint]) -> None:
    labels = axes.get_legend_handles_labels()[1]
    days = [at_day(each.reading.taken_on) for each in piece]
    mean, line = "weighted mean", "its signal line"
    axes.plot(
        days,
        [each.mean or 0.0 for each in piece],
        color=INK,
        linewidth=1.6,
        marker=".",
        label="_nolegend_" if mean in labels else mean,
        zorder=2,
    )
    for side in (-1, 1):
        axes.plot(
            days,
            [side * (each.line or 0.0) for each in piece],
            color=INK,
            linewidth=1.0,
            linestyle=(0, (2, 2)),
            label="_nolegend_" if line in labels or side < 0 else line,
            zorder=1,
        )


def _errors(axes: Axes, chart: SeriesChart) -> None:
    shapes = marks(sorted({each.reading.instrument for each in chart.points}, key=fold))
    told: set[str] = set()
    for each in chart.points:
        if each.z is None:
            continue
        name, day = each.reading.instrument, at_day(each.reading.taken_on)
        axes.scatter(
            [day],
            [each.z],
            s=38,
            marker=shapes[name].shape,
            facecolors=shapes[name].colour,
            edgecolors="white",
            label="_nolegend_" if name in told else name,
            zorder=3,
        )
        told.add(name)
        if each.sentence:
            shown = "_nolegend_" if "signal" in told else "signal"
            told.add("signal")
            axes.scatter([day], [each.z], s=150, marker="o", facecolors="none", edgecolors=INK, label=shown, zorder=4)
