"""Pictures of series for a page: as those of drift, but low, so that several stand below each other."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from collection.exchange.plot_drift import draw_series
from collection.exchange.plot_paper import INK, drawn, legend

if TYPE_CHECKING:
    from collection.views.drift_rows import SeriesDrift

_SIZE = (7.2, 2.6)  # inches: the width of the text on A4 and on Letter
_PLACE = (0.085, 0.27, 0.80, 0.60)
_DOWN = -0.14  # of the height of the plot: where its legend begins


def history_picture(series: SeriesDrift, today: date) -> bytes:
    """Return the picture of a series as SVG: readings by instrument, level and band, limits, what reset it, ahead."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=_SIZE)
    axes = figure.add_axes(_PLACE)
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK, labelsize=8)
    axes.grid(axis="y", color="#eeeeee", linewidth=0.8)
    axes.set_axisbelow(True)
    draw_series(axes, series, today)
    legend(axes, down=_DOWN)
    return drawn(figure, "svg")
