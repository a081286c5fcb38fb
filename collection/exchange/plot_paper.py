"""What all pictures share: paper, marks that differ in shape as well as in colour, and the file they go into.

The same picture has the same bytes: no date is written into it, and the names inside an SVG are made from a fixed word.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from io import BytesIO
from math import inf
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, NamedTuple

from collection.errors import Refused
from collection.exchange.new_file import cannot_write
from collection.store.place import beside, put_over

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, PALE, LINE, BAND = "#222222", "#9a9a9a", "#444444", "#c9c9c9"
# Colours that stay apart for colour-blind eyes (Okabe and Ito, Color Universal Design, 2008), dark ones first so that
# they stay apart in grey; each with a shape of its own.
_MARKS = (
    ("o", "#0072b2"), ("s", "#d55e00"), ("^", "#009e73"), ("D", "#cc79a7"), ("v", "#56b4e9"), ("P", "#e69f00"),
)  # fmt: skip
_KINDS = {".png": "png", ".svg": "svg"}
_WIDE = 145  # characters of a footer
_LETTER = 0.06  # inches


class Mark(NamedTuple):
    """The shape and the colour of an instrument."""

    shape: str
    colour: str


def marks(names: Sequence[str]) -> dict[str, Mark]:
    """Return a mark for each name, in their order; after the last shape they begin again."""
    return {name: Mark(*_MARKS[place % len(_MARKS)]) for place, name in enumerate(dict.fromkeys(names))}


def paper(title: str, below: str) -> tuple[Figure, Axes]:
    """Return a sheet with one plot on it, its title above and a sentence below it."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(10.0, 6.4), dpi=120)
    axes = figure.add_axes((0.085, 0.235, 0.80, 0.645))
    axes.set_title(title, loc="left", fontsize=12, fontweight="bold", color=INK, pad=30)
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK, labelsize=9)
    axes.grid(axis="y", color="#eeeeee", linewidth=0.8)
    axes.set_axisbelow(True)
    figure.text(0.085, 0.015, fill(below, _WIDE), fontsize=8.5, color=LINE, va="bottom", ha="left", linespacing=1.35)
    return figure, axes


def legend(axes: Axes, down: float = -0.09) -> None:
    """Put the legend under the plot, where it hides nothing."""
    handles, labels = axes.get_legend_handles_labels()
    if handles:
        axes.legend(
            handles,
            labels,
            loc="upper left",
            bbox_to_anchor=(0.0, down),
            ncols=4,
            frameon=False,
            fontsize=8.5,
            columnspacing=1.6,
            handlelength=1.8,
        )


def beside_line(axes: Axes, at: float, text: str) -> None:
    """Write what a level line means at its right end, outside the plot."""
    axes.annotate(
        text,
        (1.0, at),
        (5, 0),
        xycoords=("axes fraction", "data"),
        textcoords="offset points",
        va="center",
        fontsize=9,
        color=INK,
    )


def days_along(axes: Axes) -> None:
    """Write days along the bottom, as short as they can be told apart."""
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

    locator = AutoDateLocator(minticks=4, maxticks=9)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]


def day_lines(axes: Axes, days: Sequence[tuple[float, str]]) -> None:
    """Draw a thin line on each day with its label above; labels that would touch stand one above the other."""
    first, last = axes.get_xlim()
    wide = axes.get_window_extent().width / axes.figure.dpi
    ends = [-inf, -inf]
    for day, label in sorted(days):
        reach = len(label) * _LETTER / wide * (last - first) / 2
        row = 0 if day - reach > ends[0] else 1
        ends[row] = day + reach
        axes.axvline(day, color=LINE, linewidth=0.8, linestyle=":" if label == "today" else "-", zorder=0.5)
        axes.annotate(
            label,
            (day, 1.0),
            (0, 3 + 11 * row),
            xycoords=("data", "axes fraction"),
            textcoords="offset points",
            ha="center",
            va="bottom",
            fontsize=7.5,
            color=LINE,
        )


def at_day(day: str) -> float:
    """Return where a (partial) ISO day stands: in its middle."""
    from matplotlib.dates import date2num

    first = date.fromisoformat(day + "-01-01"[len(day) - 10 :] if len(day) < len("2024-01-01") else day)
    length = {4: 365, 7: 30}.get(len(day), 1)
    return float(date2num(first)) + (length - 1) / 2  # type: ignore[no-untyped-call]


def write(figure: Figure, file: Path) -> None:
    """Write a picture in the form that its name ends with; an older picture of the name is written over.

    Raises Refused for another ending, and for a place that cannot be written.
    """
    kind = _KINDS.get(file.suffix.lower())
    if kind is None:
        raise Refused(f"{file.name} is no name of a picture.", "Let it end in .png or .svg.")
    try:
        with beside(file) as temporary:
            temporary.write_bytes(drawn(figure, kind))
            put_over(temporary, file)
    except OSError as error:
        raise cannot_write(file, error) from None


def drawn(figure: Figure, kind: str) -> bytes:
    """Return a picture as the bytes of a file of its kind, "png" or "svg"."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    canvas = FigureCanvasAgg(figure) if kind == "png" else FigureCanvasSVG(figure)
    said = {"Software": None} if kind == "png" else {"Date": None, "Creator": None}
    made = BytesIO()
    with rc_context({"svg.hashsalt": "picture", "svg.fonttype": "path"}):
        canvas.print_figure(made, format=kind, metadata=said, facecolor="white")
    return made.getvalue()
