"""The picture of one supply: what will be on hand, the lots that expire, the orders that arrive, the work ahead."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from collection.exchange.plot_paper import BAND, INK, PALE, at_day, day_lines, days_along, legend, paper, write

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from collection.analysis.stock_plan.found import FanFound
    from collection.views.stock_rows import Planned, StockRow

_ORDERED = "#0072b2"  # dark enough to be told from the band in grey; it is dashed besides
_WORK_AT = 0.025  # of the height: where work ahead is marked
_LIKELY_HELD = 0.05


def plot_stock(row: StockRow, plan: Planned, file: Path, *, day: Callable[[date | None], str], below: str) -> None:
    """Draw what will be on hand of a supply into a file that ends in .png or .svg, day by day.

    day: shows a day. below: what stands under the picture. Raises Refused for another ending and for a place that
    cannot be written.
    """
    from collection.analysis.stock_plan.fan import fan_of

    fan = fan_of(plan.given, plan.found)
    today = plan.today
    step = float(row.supply.step)
    figure, axes = paper(f"{row.supply.name}: what will be there", below)
    unit = "pieces" if row.supply.measured_in == "piece" else row.supply.measured_in
    axes.set_ylabel(f"on hand within its date, {unit}", color=INK)
    days = [_at(today, number) for number in range(len(fan.middle))]
    _without_order(axes, days, fan, step)
    if fan.with_order:
        _with_order(axes, days, fan, step, since=max(plan.found.order_by or 0, 0))
    axes.set_xlim(days[0], days[-1])
    axes.set_ylim(0, max(axes.get_ylim()[1], step))
    _arrival(axes, today, fan)
    _work(axes, plan)
    day_lines(axes, _events(row, plan, day))
    days_along(axes)
    legend(axes)
    write(figure, file)


def _at(today: date, number: int) -> float:
    return at_day((today + timedelta(days=number)).isoformat())


def _without_order(axes: Axes, days: Sequence[float], fan: FanFound, step: float) -> None:
    low, middle, high = ([each * step for each in band] for band in (fan.low, fan.middle, fan.high))
    axes.plot(days, middle, color=INK, linewidth=1.6, zorder=3, label="if nothing is ordered")
    axes.fill_between(days, low, high, color=BAND, alpha=0.75, linewidth=0, zorder=1, label="8 in 10 cases")


def _with_order(axes: Axes, days: Sequence[float], fan: FanFound, step: float, *, since: int) -> None:
    """Draw the same with the order, from its day on: the middle dashed, the range as dotted lines that hide nothing."""
    days = days[since:]
    low, middle, high = ([each[at] * step for each in fan.with_order[since:]] for at in range(3))
    axes.plot(days, middle, color=_ORDERED, linewidth=1.8, linestyle=(0, (5, 2)), zorder=4, label="with the order")
    for place, band in enumerate((low, high)):
        label = "8 in 10 cases with it" if place == 0 else "_nolegend_"
        axes.plot(days, band, color=_ORDERED, linewidth=1.1, linestyle=":", zorder=2, label=label)


def _arrival(axes: Axes, today: date, fan: FanFound) -> None:
    """Mark the days between which the order is likely to arrive, as a bar along the top."""
    if fan.arrival is None:
        return
    first, last = (_at(today, day) for day in fan.arrival)
    axes.plot(
        [first, max(last, first + 1)],
        [0.97, 0.97],
        transform=axes.get_xaxis_transform(),
        color=_ORDERED,
        linewidth=5,
        solid_capstyle="butt",
        zorder=4,
        label="the order arrives (8 in 10)",
    )


def _work(axes: Axes, plan: Planned) -> None:
    """Mark the work ahead along the bottom: a stroke, a cross where it may be held up if nothing is ordered."""
    ahead = [job for job in plan.jobs if job.on <= plan.until]
    for held, shape, label in ((False, "|", "planned service"), (True, "x", "service that may be held up")):
        days = [at_day(job.on.isoformat()) for job in ahead if (job.held_up > _LIKELY_HELD) == held]
        if days:
            axes.scatter(
                days,
                [_WORK_AT] * len(days),
                transform=axes.get_xaxis_transform(),
                marker=shape,
                s=46,
                linewidths=1.4,
                c=INK if held else PALE,
                zorder=5,
                label=label,
                clip_on=False,
            )


def _events(row: StockRow, plan: Planned, day: Callable[[date | None], str]) -> list[tuple[float, str]]:
    """Return the days that have a line: today, the last day to order, lots past their date, orders that come."""
    today = plan.today
    days = [(at_day(today.isoformat()), "today")]
    if row.order_by is not None and today < row.order_by <= plan.until:
        days.append((at_day(row.order_by.isoformat()), f"order by {day(row.order_by)}"))
    days += [
        (at_day(lot.through.isoformat()), f"lot {lot.name} ends" if lot.name else "lot ends")
        for lot in plan.lots
        if lot.counted and lot.through is not None and lot.through < plan.until
    ]
    days += [
        (at_day(order.expected.isoformat()), f'order "{order.line.order}" expected')
        for order in plan.orders
        if order.counted and order.expected is not None and today <= order.expected <= plan.until
    ]
    return days
