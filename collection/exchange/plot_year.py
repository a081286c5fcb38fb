"""Pictures of a year: how units stood month by month, services a month, and how units came in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from collection.exchange.plot_paper import INK, PALE, drawn
from collection.views.year import NOT_TOLD, Standings
from collection.views.year_work import AsFound, Within

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_WIDE = 7.2  # inches: the width of the text on A4 and on Letter
_MONTHS = "JFMAMJJASOND"
# From the bottom of a bar up. Dark and light in turn, so that neighbours stay apart in grey; hues of Okabe and Ito,
# Color Universal Design, 2008.
_COLOURS = {
    "ready": "#0072b2",
    "in use": "#56b4e9",
    "on loan": "#d55e00",
    "on the bench": "#f0c05a",
    "arrived": "#009e73",
    "awaiting parts": "#e8b7cf",
    "away": "#7a5195",
    "donor": "#c9c9c9",
    "missing": "#222222",
    NOT_TOLD: "#f2f2f2",
}


def months_picture(standings: Sequence[Standings], services: Sequence[int]) -> bytes:
    """Return as SVG, side by side, how units stood at the end of each month and how many services each month saw.

    standings: the first is of the day before the year. services: of each month of it.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(_WIDE, 2.5))
    _bars(_axes(figure, (0.05, 0.13, 0.40, 0.75), "units at the end of each month"), standings)
    axes = _axes(figure, (0.66, 0.13, 0.33, 0.75), "services closed in each month")
    shown = services[: max(1, len(standings) - 1)]
    axes.bar(range(1, len(shown) + 1), shown, width=0.7, color=_COLOURS["ready"])
    axes.set_xticks(range(1, 13), list(_MONTHS))
    axes.set_xlim(0.4, 12.6)
    return drawn(figure, "svg")


def _axes(figure: Figure, place: tuple[float, float, float, float], title: str) -> Axes:
    from matplotlib.ticker import MaxNLocator

    axes = figure.add_axes(place)
    axes.yaxis.set_major_locator(MaxNLocator(5, integer=True))
    axes.set_title(title, loc="left", fontsize=9, color=INK)
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK, labelsize=8, length=2)
    axes.grid(axis="y", color="#eeeeee", linewidth=0.8)
    axes.set_axisbelow(True)
    return axes


def _bars(axes: Axes, standings: Sequence[Standings]) -> None:
    places = [-0.4, *range(1, len(standings))]  # the day before the year stands a little apart
    bottom = [0] * len(standings)
    for standing, colour in _COLOURS.items():
        units = [each.units.get(standing, 0) for each in standings]
        if any(units):
            axes.bar(
                places, units, bottom=bottom, width=0.8, color=colour, label=standing, edgecolor=INK, linewidth=0.3
            )
            bottom = [below + one for below, one in zip(bottom, units, strict=True)]
    axes.set_xticks(places, [f"’{standings[0].on:%y}", *_MONTHS][: len(places)])
    handles, labels = axes.get_legend_handles_labels()
    axes.legend(
        handles[::-1], labels[::-1], loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False, fontsize=7.5,
        handlelength=1.2,
    )  # fmt: skip


def as_found_picture(now: AsFound, before: AsFound, year: int) -> bytes:
    """Return as SVG how often each measurement was within its limits as found, this year and the year before."""
    from matplotlib.figure import Figure

    names = list(now.by_measurement)[::-1]
    figure = Figure(figsize=(_WIDE, 0.75 + 0.2 * len(names)))
    room = 0.75 / figure.get_figheight()
    axes = figure.add_axes((0.27, 0.45 * room, 0.60, 1 - room))
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK, labelsize=8, length=2)
    places = range(len(names))
    shares = [_share(now.by_measurement[name]) for name in names]
    axes.barh(places, shares, height=0.62, color=_COLOURS["in use"], edgecolor=INK, linewidth=0.3, label=str(year))
    earlier = [(place, name) for place, name in zip(places, names, strict=True) if _known(before.by_measurement, name)]
    if earlier:
        axes.scatter(
            [_share(before.by_measurement[name]) for _, name in earlier],
            [place for place, _ in earlier],
            marker="|", s=110, linewidths=2.2, color=INK, label=str(year - 1), zorder=3, clip_on=False,
        )  # fmt: skip
    for place, name in zip(places, names, strict=True):
        found = now.by_measurement[name]
        axes.annotate(
            f"{found.within} of {found.judged}", (1.02, place), xycoords=("axes fraction", "data"), va="center",
            fontsize=8, color=INK,
        )  # fmt: skip
    axes.set_yticks(places, names)
    axes.set_ylim(-0.6, len(names) - 0.4)
    axes.set_xlim(0, 100)
    axes.set_xlabel("% within limits as found", fontsize=8, color=INK, labelpad=1)
    axes.grid(axis="x", color=PALE, alpha=0.4, linewidth=0.6)
    axes.legend(loc="lower left", bbox_to_anchor=(-0.02, 1.0), ncols=2, frameon=False, fontsize=8, handlelength=1.4)
    return drawn(figure, "svg")


def _share(found: Within) -> float:
    return 100 * found.within / found.judged


def _known(found: Mapping[str, Within], name: str) -> bool:
    return name in found
