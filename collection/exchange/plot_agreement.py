"""The picture of how far two instruments agree: the difference of each pair against its mean."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from collection.exchange.plot_paper import BAND, INK, LINE, PALE, beside_line, legend, paper, write

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from collection.analysis.agreement import Agreement


def plot_agreement(
    found: Agreement,
    file: Path,
    *,
    shown: Callable[[float], float],
    title: str,
    mean_in: str,
    difference_in: str,
    below: str,
) -> None:
    """Draw the differences of two instruments into a file that ends in .png or .svg, with the limits of agreement.

    shown: makes a figure of `found` one in mean_in ("% from nominal", "µm") or difference_in ("%", "µm"). below: what
    stands under the picture. After Bland and Altman, Lancet 1986, i: 307-310. Raises Refused for another ending and
    for a place that cannot be written.
    """
    figure, axes = paper(title, below)
    axes.set_xlabel(f"mean of both, {mean_in}", color=INK, labelpad=2)
    axes.set_ylabel(f"difference, {difference_in}", color=INK)
    axes.axhline(0.0, color=PALE, linewidth=0.8, zorder=0.5)
    _line(axes, shown(found.bias), _both(shown, found.bias_range), "mean", dash="-")
    for limit, around in ((found.lower, found.lower_range), (found.upper, found.upper_range)):
        if limit is not None:
            _line(axes, shown(limit), _both(shown, around), "95 % lie within", dash="--")
    axes.scatter(
        [shown(mean) for mean in found.means.tolist()],
        [shown(difference) for difference in found.differences.tolist()],
        s=34,
        marker="o",
        facecolors=INK,
        edgecolors="white",
        label=f"{found.pairs} pairs" if found.pairs != 1 else "1 pair",
        zorder=3,
    )
    axes.margins(x=0.06, y=0.12)
    axes.xaxis.set_label_coords(0.5, -0.075)
    legend(axes, down=-0.12)
    write(figure, file)


def _both(shown: Callable[[float], float], around: tuple[float, float] | None) -> tuple[float, float] | None:
    return None if around is None else (shown(around[0]), shown(around[1]))


def _line(axes: Axes, at: float, around: tuple[float, float] | None, label: str, *, dash: str) -> None:
    """Draw a line with the range in which it may lie, its figure at its end."""
    told = axes.get_legend_handles_labels()[1]
    axes.axhline(
        at, color=LINE, linewidth=1.4, linestyle=dash, label="_nolegend_" if label in told else label, zorder=2
    )
    if around is not None:
        axes.axhspan(*around, color=BAND, alpha=0.5, linewidth=0, zorder=0.3)
    beside_line(axes, at, f"{at:+.3g}")
