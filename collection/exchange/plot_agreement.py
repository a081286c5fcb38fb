"""The picture of how far two instruments agree: the difference of each pair against its mean."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from collection.exchange.plot_paper import BAND, INK, LINE, PALE, legend, paper, write

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from collection.analysis.agreement import Agreement


def plot_agreement(
    found: Agreement, file: Path, *, first: str, second: str, measurement: str, measured_in: str, below: str
) -> None:
    """Draw the differences first - second into a file that ends in .png or .svg, with the limits of agreement.

    measured_in: of means and differences ("% of nominal", "µm"). below: what stands under the picture. After Bland
    and Altman, Lancet 1986, i: 307-310. Raises Refused for another ending and for a place that cannot be written.
    """
    figure, axes = paper(f"{measurement}: {first} less {second}", below)
    axes.set_xlabel(f"mean of both, {measured_in}", color=INK, labelpad=2)
    axes.set_ylabel(f"difference, {measured_in}", color=INK)
    axes.axhline(0.0, color=PALE, linewidth=0.8, zorder=0.5)
    _line(axes, found.bias, found.bias_range, "mean", dash="-")
    for limit, around in ((found.lower, found.lower_range), (found.upper, found.upper_range)):
        if limit is not None:
            _line(axes, limit, around, "95 % lie within", dash="--")
    shown = f"{found.pairs} pairs" if found.pairs != 1 else "1 pair"
    axes.scatter(
        found.means, found.differences, s=34, marker="o", facecolors=INK, edgecolors="white", label=shown, zorder=3
    )
    axes.margins(x=0.06, y=0.12)
    axes.xaxis.set_label_coords(0.5, -0.075)
    legend(axes, down=-0.12)
    write(figure, file)


def _line(axes: Axes, at: float, around: tuple[float, float] | None, label: str, *, dash: str) -> None:
    """Draw a line with the range in which it may lie, its figure at its end."""
    told = axes.get_legend_handles_labels()[1]
    axes.axhline(
        at, color=LINE, linewidth=1.4, linestyle=dash, label="_nolegend_" if label in told else label, zorder=2
    )
    if around is not None:
        axes.axhspan(*around, color=BAND, alpha=0.5, linewidth=0, zorder=0.3)
    axes.annotate(
        f"{at:+.3g}",
        (1.0, at),
        (5, 0),
        xycoords=("axes fraction", "data"),
        textcoords="offset points",
        va="center",
        fontsize=9,
        color=INK,
    )
