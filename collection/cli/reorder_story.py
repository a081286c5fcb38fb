"""The story of one supply: what is there, what will take it, what to order and why, and the sum day by day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from collection.analysis.stock_plan.found import FINE, ORDER_BY, TOO_LATE, UNKNOWN
from collection.analysis.stock_plan.words import (
    NO_USE_KNOWN,
    RunOutDays,
    choice_sentence,
    lead_sentence,
    nothing_sentence,
    odds,
    order_sentence,
    planned_sentence,
    runners_up,
    spare_sentence,
    unplanned_sentence,
    why_not,
    why_won,
)
from collection.cli.face import Face
from collection.cli.reorder_rows import ShowDay, buy_words, day_in, month_in, scale_of, what_to_do
from collection.cli.show import Column, Mode, emit, say
from collection.errors import Refused

if TYPE_CHECKING:
    from collection.views.stock_rows import Planned, PlannedOrder, StockRow

_RIVALS = 4  # quantities that are told beside the one that won
_HELD_UP = 12  # rows of work that is held up; the rest is counted


def show_story(face: Face, supply: str, plot: str | None, mode: Mode) -> None:
    """Print the story of a supply, or as JSON and CSV the sum day by day; draw it where a file is named.

    Raises Refused for an unknown supply, and for a picture of one whose amounts are not counted.
    """
    from collection.cli.kept_stock import stock_of
    from collection.store.book import open_book

    with face.view() as connection:
        row = stock_of(face, connection, supply)
        form = open_book(connection).settings.date_form
    day = day_in(form)
    if plot is not None and row.plan is None:
        raise Refused(
            f'"{row.supply.name}" is tracked by {row.supply.tracked}: there are no amounts to draw.',
            "Leave out --plot.",
        )
    if mode != "table":
        emit(list(_sum_rows(row)), sum_columns(row, mode, day), mode)
    else:
        _tell(row, day, month_in(form))
    if plot is not None and row.plan is not None:
        from collection.cli.show import note
        from collection.exchange.plot_stock import plot_stock

        below = _in_short(row, row.plan, day, month_in(form))
        plot_stock(row, row.plan, Path(plot), day=day, below=below)
        note(f"Drawn: {plot}")


def _tell(row: StockRow, day: ShowDay, month: ShowDay) -> None:
    now = "order now, " if row.state == TOO_LATE and row.packs != 0 else ""
    say(f"{row.supply.name}: {now}{what_to_do(row, day)}", bold=True)
    if row.plan is None:
        say(*(f"- {sentence}" for sentence in row.rests_on))
        if row.steps or row.packs:
            say(_buying(row))
        return
    _tell_shelf(row, row.plan, day)
    say("", *_use_words(row, row.plan, day))
    say("", *_order_words(row, row.plan, day, month))
    _tell_choices(row, row.plan, month)
    _tell_held_up(row, row.plan, day)
    say("", "The sum by hand, with what is expected on average and nothing spare", bold=True)
    emit(list(_sum_rows(row)), sum_columns(row, "table", day))
    say("", "This rests on:", *(f"- {sentence}" for sentence in row.rests_on))


def _buying(row: StockRow) -> str:
    cost = f", {row.cost.text} {row.cost.currency}" if row.cost else ""
    return f"Order {buy_words(row)}{f' from {row.supplier}' if row.supplier else ''}{cost}."


# --- what is there and what is coming ----------------------------------------------------------------------


def _tell_shelf(row: StockRow, plan: Planned, day: ShowDay) -> None:
    """Print the lots, and the orders that are still out."""
    scale = scale_of(row)
    say(f"On the shelf: {row.supply.show(row.on_hand)} within its date.")
    lots = [
        {
            "lot": lot.name or "(not known)",
            "quantity": row.supply.show(lot.steps),
            "through": day(lot.through),
            "because": lot.because if lot.counted else f"{lot.because}; not counted on",
            "waste": f"about {scale.amount(lot.waste)}" if lot.waste >= 1 else "",
        }
        for lot in plan.lots
    ]
    columns = (
        Column("lot"),
        Column("quantity", right=True),
        Column("through", "usable through"),
        Column("because", "what its date rests on"),
        Column("waste", "likely to pass its date unused"),
    )
    emit(lots, columns)
    say(*(_coming(row, order, day) for order in plan.orders))


def _coming(row: StockRow, order: PlannedOrder, day: ShowDay) -> str:
    from collection.quantity import parse_day

    amount = "an amount that nobody told" if order.steps is None else row.supply.show(order.steps)
    head = f'On order: {amount} of {order.line.supplier} (order "{order.line.order}")'
    if order.overdue:
        placed = day(parse_day(order.line.ordered_on).first)
        return f"{head}, placed {placed} and long overdue: not counted on, ask the supplier."
    if order.expected is None:
        return f"{head}; nobody knows when it comes, so it is not counted on."
    return f"{head}, {'promised for' if order.promised else 'expected about'} {day(order.expected)}."


# --- what will happen --------------------------------------------------------------------------------------


def _use_words(row: StockRow, plan: Planned, day: ShowDay) -> Iterator[str]:
    scale, until, found = scale_of(row), day(plan.until), plan.found
    services = sum(job.procedure_id is not None and job.on <= plan.until for job in plan.jobs)
    yield planned_sentence(services, found.planned, scale, until)
    yield unplanned_sentence(found.unplanned, scale)
    if row.wanted:
        yield f"Units wait for some, which is counted in: {', '.join(row.wanted)}."
    out = found.run_out
    if not found.planned.mean and found.unplanned is None:
        yield NO_USE_KNOWN
        return
    days = RunOutDays(*(day(plan.on(each)) for each in (out.early, out.middle, out.late)))
    yield nothing_sentence(out, days, until, coming=row.state == TOO_LATE and not _buys(row))


def _buys(row: StockRow) -> bool:
    """Say whether there is anything to buy."""
    return bool(row.packs or row.steps)


def _in_short(row: StockRow, plan: Planned, day: ShowDay, month: ShowDay) -> str:
    """Return what a picture says below: what happens, what to do, and what to order."""
    *_, nothing = _use_words(row, plan, day)
    said = list(_order_words(row, plan, day, month))
    return " ".join(dict.fromkeys((nothing, said[0], said[-1])))


def _order_words(row: StockRow, plan: Planned, day: ShowDay, month: ShowDay) -> Iterator[str]:
    found, scale = plan.found, scale_of(row)
    by = day(row.order_by) if row.state == ORDER_BY else ""
    yield order_sentence(row.state, by, row.chance_short, plan.given.wanted, row.ask, buys=_buys(row))
    if row.ask and row.state not in (FINE, UNKNOWN):
        yield f"What would help most: {row.ask}."
    if found.chosen is None:
        if row.steps:
            yield f"To have enough until {day(plan.until)} it takes {row.supply.show(row.steps)} more."
        return
    chosen, choice = found.candidates[found.chosen], plan.choices[found.chosen]
    if found.lead is not None:
        lead = plan.given.offers[chosen.offer].lead
        yield lead_sentence(choice.supplier, found.lead, said=lead.said is not None, orders=len(lead.observed))
    if found.spare >= 1 and row.state != TOO_LATE:
        yield spare_sentence(found.spare, scale)
    cost = f"{choice.cost.text} {choice.cost.currency}" + (" with shipping" if row.shipping else "")
    yield choice_sentence(chosen, buy_words(row), cost, month(choice.lasts), month(plan.drawn_until), scale)


def _tell_choices(row: StockRow, plan: Planned, month: ShowDay) -> None:
    """Print the quantity that won and its nearest rivals, each with why."""
    found, scale = plan.found, scale_of(row)
    if found.chosen is None or len(found.candidates) < 2:
        return
    chosen = found.candidates[found.chosen]
    rows = []
    for place in (found.chosen, *runners_up(found.candidates, found.chosen, _RIVALS)):
        one, choice = found.candidates[place], plan.choices[place]
        rows.append(
            {
                "buy": f"{choice.packs} x {row.supply.show(choice.steps // choice.packs)}",
                "supplier": choice.supplier,
                "cost": f"{choice.cost.text} {choice.cost.currency}",
                "lasts": month(choice.lasts) or f"after {month(plan.drawn_until)}",
                "short": odds(one.chance_short),
                "waste": scale.amount(one.waste) if one.waste >= 1 else "",
                "why": why_won(one) if place == found.chosen else why_not(one, chosen, scale),
            }
        )
    say("", "What might be ordered, the choice first", bold=True)
    columns = (
        Column("buy"),
        Column("supplier"),
        Column("cost", right=True),
        Column("lasts", "lasts until about"),
        Column("short", "short before the next"),
        Column("waste", "passes its date", right=True),
    )
    emit(rows, columns, under="why")


def _tell_held_up(row: StockRow, plan: Planned, day: ShowDay) -> None:
    """Print which work of which units cannot be done if nothing is ordered, by day."""
    if not row.held_up:
        return
    more = "more " if row.on_order else ""
    say("", f"Held up if nothing {more}is ordered, with the chance that it cannot be done in full", bold=True)
    rows = [
        {"unit": job.tag, "work": job.work, "day": f"about {day(job.on)}", "chance": odds(job.held_up)}
        for job in row.held_up[:_HELD_UP]
    ]
    emit(rows, (Column("unit"), Column("work"), Column("day"), Column("chance")))
    others = len(row.held_up) - _HELD_UP
    if others > 0:
        say(f"and {others} more by {day(plan.until)}")


# --- the sum day by day ------------------------------------------------------------------------------------


def _sum_rows(row: StockRow) -> Iterator[dict[str, Any]]:
    """Yield the netting table, one row per day on which something happens."""
    if row.plan is None:
        return
    step, measured_in = row.supply.step, row.supply.measured_in
    for line in row.plan.netting.rows:
        yield {
            "day": line.on,
            "past_date": line.expired * step,
            "needed": line.gross * step,
            "arrives": line.arrivals * step,
            "to_buy": line.net * step,
            "left": line.on_hand * step,
            "measured_in": measured_in,
            "why": list(row.plan.events.get(line.on, ())),
        }


def sum_columns(row: StockRow, mode: Mode, day: ShowDay) -> Sequence[Column]:
    """Return the columns of the sum, the same for a person and a program."""
    from collection.quantity import show_number

    def amount(value: Any) -> str:
        return show_number(value) if value else ""

    def left(value: Any) -> str:
        return show_number(value)

    return (
        Column("day", show=day),
        Column("needed", show=amount, right=True),
        Column("arrives", show=amount, right=True),
        Column("past_date", "past its date", show=amount, right=True),
        Column("to_buy", "to buy", show=amount, right=True),
        Column("left", f"left, {row.supply.show(0).removeprefix('0 ')}", show=left, right=True),
        Column("measured_in", in_table=mode != "table"),
        Column("why", show=_by_unit),
    )


def _by_unit(whys: Sequence[str]) -> str:
    """Name each unit once: "D1: clean head, dust out; D4: dust out"."""
    units: dict[str, list[str]] = {}
    for why in whys:
        tag, colon, work = why.partition(": ")
        units.setdefault(tag if colon else "", []).append(work if colon else why)
    return "; ".join(f"{tag}: {', '.join(work)}" if tag else ", ".join(work) for tag, work in units.items())
