"""reorder: what to buy, and by when."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.show import Column, Mode, emit, note, output_options, say
from collection.cli.stock import days_ahead_option
from collection.cli.tags import complete_supply

if TYPE_CHECKING:
    from datetime import date

    from collection.views.reorder import Reorder, ReorderRow
    from collection.views.wanted import WantedPart

    ShowDay = Callable[[date | None], str]


@click.command("reorder")
@click.argument("supply", required=False, shell_complete=complete_supply)
@click.option(
    "--within", metavar="TIME", default="365d", show_default=True, callback=days_ahead_option, help="As 90d, 8w or 12m."
)
@output_options
@click.pass_obj
def reorder_command(face: Face, supply: str | None, within: int, mode: Mode) -> None:
    """Show what to buy, and by when.

    The work that is due within the time, by the amounts on the sheets of its procedures, is set against the drawer and
    open orders; so are the parts that units wait for. With SUPPLY the sum is shown day by day, so that it can be
    followed by hand.

    Keys of --json: supply, state (fine, order by, order now, cannot arrive in time, do not know), order_by, needed_by,
    packs, quantity, measured_in, supplier, cost, currency, on_hand, on_order, needed, held_up, rests_on, wanted (the
    parts that units wait for; a part that is no supply of the book has a row without one); with SUPPLY: day, needed,
    arrives, past_date, to_buy, left, measured_in, why.
    """
    from collection.quantity import show_day
    from collection.store.book import open_book
    from collection.views.reorder import reorder

    with face.view() as connection:
        found = reorder(connection, face.today, within, supply)
        form = open_book(connection).settings.date_form

    def day(value: date | None) -> str:
        return "" if value is None else show_day(value.isoformat(), form)

    if supply is not None:
        _show_sum(found.rows[0], mode, day)
        return
    rows = [*([_loose(part) for part in found.loose]), *(_object(row, day) for row in found.rows)]
    emit(rows, _columns(mode), mode, empty=_nothing(found, day))
    tell = say if mode == "table" else note
    tell(*_below(found, day))


def _object(row: ReorderRow, day: ShowDay) -> dict[str, Any]:
    supply = row.supply
    return {
        "supply": supply.name,
        "state": row.state,
        "order_by": row.order_by,
        "needed_by": row.needed_by,
        "packs": row.packs,
        "quantity": row.steps * supply.step,
        "measured_in": supply.measured_in,
        "supplier": row.supplier,
        "cost": row.cost.text if row.cost else None,
        "currency": row.cost.currency if row.cost else None,
        "on_hand": row.on_hand * supply.step,
        "on_order": row.on_order * supply.step,
        "needed": row.needed * supply.step,
        "held_up": [f"{need.why} {need.on.isoformat()}" for need in row.held_up],
        "rests_on": list(row.rests_on),
        "wanted": list(row.wanted),
        "name": supply.name,
        "what": _what(row, day),
        "buy": _buy(row),
        "sum": _there_of_needed(row),
        "holds_up": _holds_up(row, day),
    }


def _loose(part: WantedPart) -> dict[str, Any]:
    """Return the row of a wanted part that is no supply of the book: nobody can say more than who wants it."""
    return {
        "wanted": [f"{part.tag}: {part.part}"],
        "held_up": [],
        "rests_on": ["it is no supply of the book: with one there would be offers and a day to order by"],
        "state": "order now",
        "name": part.part,
        "what": f"wanted for {part.tag}",
        "buy": f"{part.pieces} piece" + ("s" if part.pieces > 1 else ""),
    }


def _columns(mode: Mode) -> Sequence[Column]:
    if mode == "table":
        return (
            Column("name", "supply"),
            Column("what", "what to do"),
            Column("buy"),
            Column("sum", "there, of needed"),
            Column("holds_up", "without it waits"),
        )
    keys = "supply state order_by needed_by packs quantity measured_in supplier cost currency on_hand on_order needed"
    return tuple(Column(key) for key in (*keys.split(), "held_up", "rests_on", "wanted"))


def _what(row: ReorderRow, day: ShowDay) -> str:
    """Say what to do: the state, with its day."""
    from collection.analysis.netting import ORDER_BY, TOO_LATE, UNKNOWN

    if row.state == ORDER_BY:
        return f"order by {day(row.order_by)}"
    if row.state == TOO_LATE:
        return f"order now: cannot arrive in time for {day(row.needed_by)}"
    if row.state == UNKNOWN:
        return f"do not know (needed by {day(row.needed_by)})"
    return row.state


def _buy(row: ReorderRow) -> str:
    """Say how much to buy, of whom and for how much."""
    amount = row.supply.show(row.steps) if row.steps else ""
    if row.packs:
        packs = "1 pack" if row.packs == 1 else f"{row.packs} packs"
        amount = f"{packs}, {amount}" if amount else packs
    cost = f", {row.cost.text} {row.cost.currency}" if row.cost else ""
    return f"{amount} from {row.supplier}{cost}" if row.supplier else amount


def _there_of_needed(row: ReorderRow) -> str:
    """Return "4.1 + 50 on order of 6 g"; a supply bought by the pack has no sum of amounts."""
    if row.netting is None:
        return "by the pack" if row.supply.tracked == "pack" else ""
    coming = f" + {_number(row, row.on_order)} on order" if row.on_order else ""
    return f"{_number(row, row.on_hand)}{coming} of {row.supply.show(row.needed)}"


def _number(row: ReorderRow, steps: int) -> str:
    from collection.quantity import show_number

    return show_number(steps * row.supply.step)


def _holds_up(row: ReorderRow, day: ShowDay) -> str:
    """Say which work waits first without it, and how much more."""
    if not row.held_up:
        return ""
    first, more = row.held_up[0], len(row.held_up) - 1
    return f"{first.why} {day(first.on)}" + (f" and {more} more" if more else "")


def _nothing(found: Reorder, day: ShowDay) -> str:
    return f"No work due by {day(found.until)} takes anything out of the drawer."


def _below(found: Reorder, day: ShowDay) -> Iterator[str]:
    if found.rows:
        yield f"For the work due by {day(found.until)}. The sum of one supply: spindlebook reorder SUPPLY"
    if found.no_history:
        units, what = "1 unit has", "it"
        if found.no_history > 1:
            units, what = f"{found.no_history} units have", "they"
        yield f"{units} no history yet, so nobody knows what {what} will take: spindlebook due"


# --- the sum of one supply ---------------------------------------------------------------------------------


def _show_sum(row: ReorderRow, mode: Mode, day: ShowDay) -> None:
    supply = row.supply
    if mode == "table":
        say(f"{supply.name}: {_what(row, day)}" + (f"; buy {_buy(row)}" if row.steps or row.packs else ""))
    emit(list(_sum_rows(row)), _sum_columns(row, mode, day), mode)
    if mode != "table":
        return
    say(*(f"- {sentence}" for sentence in row.rests_on))
    if row.too_late:
        say("Held up even if it is ordered today:", *(f"- {need.why} {day(need.on)}" for need in row.too_late))
    elif row.held_up:
        say("Held up if nothing is ordered:", *(f"- {need.why} {day(need.on)}" for need in row.held_up))


def _sum_rows(row: ReorderRow) -> Iterator[dict[str, Any]]:
    """Yield the netting table, one row per day on which something happens."""
    if row.netting is None:
        return
    step, measured_in = row.supply.step, row.supply.measured_in
    for line in row.netting.rows:
        yield {
            "day": line.on,
            "past_date": line.expired * step,
            "needed": line.gross * step,
            "arrives": line.arrivals * step,
            "to_buy": line.net * step,
            "left": line.on_hand * step,
            "measured_in": measured_in,
            "why": list(row.events.get(line.on, ())),
        }


def _sum_columns(row: ReorderRow, mode: Mode, day: ShowDay) -> Sequence[Column]:
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
