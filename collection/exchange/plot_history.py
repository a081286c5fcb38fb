"""Pictures of series for a page: as those of drift, but low, so that several stand below each other."""

from __future__ import annotations

from datetime import date
from math import ceil
from typing import TYPE_CHECKING

from collection.exchange.plot_drift import draw_series
from collection.exchange.plot_paper import INK, drawn, legend

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from collection.views.drift_rows import SeriesDrift

# Inches; as wide as the text on A4 and on Letter.
_WIDE, _LEFT, _PLOT_WIDE = 7.2, 0.61, 5.76
_ABOVE, _PLOT, _DAYS, _LEGEND_ROW = 0.34, 1.06, 0.27, 0.17
_INSIDE = 0.14  # between the edge of a legend and its first row
_A_ROW = 4  # names in a row of the legend


def history_picture(series: SeriesDrift, today: date) -> bytes:
    """Return the picture of a series as SVG: readings by instrument, level and band, limits, what reset it, ahead."""
    from matplotlib.figure import Figure

    figure = Figure()
    axes = figure.add_axes((0, 0, 1, 1))
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK, labelsize=8)
    axes.grid(axis="y", color="#eeeeee", linewidth=0.8)
    axes.set_axisbelow(True)
    _set_size(figure, axes, rows=1)  # the labels of its days look at how wide it is
    draw_series(axes, series, today)
    names = axes.get_legend_handles_labels()[1]
    _set_size(figure, axes, rows=ceil(len(names) / _A_ROW))
    legend(axes, down=(_INSIDE - _DAYS) / _PLOT)
    return drawn(figure, "svg")


def _set_size(figure: Figure, axes: Axes, *, rows: int) -> None:
    """Make a picture as high as its plot, the labels above it, the days and so many rows of names below it need."""
    below = _DAYS + rows * _LEGEND_ROW
    high = _ABOVE + _PLOT + below
    figure.set_size_inches(_WIDE, high)
    axes.set_position((_LEFT / _WIDE, below / high, _PLOT_WIDE / _WIDE, _PLOT / high))
