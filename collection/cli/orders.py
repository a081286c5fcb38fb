"""order: place orders, say when they come, book what came, see what is still to come."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.edits import supplier_edit_command
from collection.cli.face import Face
from collection.cli.offers import (
    drop_offer_command,
    edit_offer_command,
    offer_command,
    offers_command,
    supplier_command,
    suppliers_command,
)
from collection.cli.order_words import arrived_line, placed_line
from collection.cli.past import past_options
from collection.cli.rows import first_of_group, in_order, naming, sort_option
from collection.cli.show import Column, Mode, emit, note, output_options, say
from collection.cli.tags import complete_supply
from collection.errors import typed

if TYPE_CHECKING:
    from collections.abc import Callable

    from collection.acts.order_receive import ArrivedLine
    from collection.acts.orders import PlacedLine
    from collection.quantity import Money
    from collection.views.order_list import OrderRow
    from collection.views.orders import OrderLine


@click.group("order")
def order_group() -> None:
    """Place orders, book what came, and see what is still to come."""


@order_group.command("place")
@click.argument("supplier")
@click.argument("lines", nargs=-1, required=True, metavar="SUPPLY=PACKS...")
@click.option("--name", default="", metavar="ORDER", help="Name of the order (else supplier and day).")
@click.option("--on", default="", metavar="DATE", help="Day it was placed (else today).")
@click.pass_obj
def place_command(face: Face, supplier: str, lines: tuple[str, ...], name: str, on: str) -> None:
    """Book an order that was placed.

    A line is "white grease=2"; "white grease=2 of 50 g" says what a pack holds, "white grease=2 @ 9.00" what one
    costs. What is not said is that of the supplier's offers.
    """
    from collection.acts.orders import place_order

    wanted = [placed_line(text) for text in lines]
    placed = place_order(face.engine(), supplier, wanted, name=name, on=on, today=face.today, now=face.now)
    say(f'Placed order "{placed.order}" with "{placed.supplier}":', *map(_placed, placed.lines))
    if placed.total is not None:
        shipping = "" if placed.shipping is None else f", {placed.shipping.text} of it shipping"
        say(f"Together {_money(placed.total)}{shipping}.")
    say(
        f"When they name a day: spindlebook order confirm {typed(placed.order)} DATE",
        f"When it comes: spindlebook order receive {typed(placed.order)}",
    )
    note(*placed.notes)


@order_group.command("confirm")
@click.argument("order")
@click.argument("day", metavar="DATE")
@click.option("--on", default="", metavar="DATE", help="Day on which they said so (else today).")
@click.pass_obj
def confirm_command(face: Face, order: str, day: str, on: str) -> None:
    """Book the day on which the supplier said an order will come.

    The day named last counts.
    """
    from collection.acts.orders import confirm_order

    done = confirm_order(face.engine(), order, day, on=on, today=face.today, now=face.now)
    before = f" (before: {done.before})" if done.before else ""
    say(f'Order "{done.order}": to come on {done.expected_on}, as "{done.supplier}" said{before}.')


@order_group.command("receive")
@click.argument("order")
@click.argument("lines", nargs=-1, metavar="[SUPPLY=PACKS...]")
@click.option("--on", default="", metavar="DATE", help="Day it came (else today).")
@click.option("--location", default="", metavar="NAME", help="Where it was put.")
@click.option("--another", is_flag=True, help="It is not what was received before without the order.")
@click.pass_obj
def receive_command(face: Face, /, order: str, lines: tuple[str, ...], **told: Any) -> None:
    """Book what came of an order; each line becomes a lot.

    Without lines all that it waits for has come. A line is "white grease=2" (packs) or "white grease=50 g"; what is
    printed on it goes behind: "white grease=1, expires 2027-06, made 3/94, lot A @ 9.00", where the price is that of
    one pack if it was not the one ordered at. A supply may stand in several lines, one for each lot.
    """
    from collection.acts.order_receive import receive_order
    from collection.analysis.offers import say_packs

    came = [arrived_line(text) for text in lines]
    done = receive_order(face.engine(), order, came, **told, today=face.today, now=face.now)
    say(f'Received by order "{done.order}" from "{done.supplier}":', *map(_arrived, done.came))
    still = ", ".join(f"{say_packs(line.open_packs)} of {line.supply}" for line in done.still)
    say(f"Still to come: {still or 'nothing'}.")
    note(*done.notes)


@order_group.command("cancel")
@click.argument("order")
@click.argument("supplies", nargs=-1, metavar="[SUPPLY...]", shell_complete=complete_supply)
@click.option("--on", default="", metavar="DATE", help="Day it was cancelled (else today).")
@click.pass_obj
def cancel_command(face: Face, order: str, supplies: tuple[str, ...], on: str) -> None:
    """Book that what is still to come of an order will not come.

    With SUPPLY only that of it.
    """
    from collection.acts.orders import cancel_order

    lines = cancel_order(face.engine(), order, supplies, on=on, today=face.today, now=face.now)
    say(f'Cancelled of order "{lines[0].order}": {", ".join(f"{line.open_packs} of {line.supply}" for line in lines)}.')


@order_group.command("list")
@click.option("--all", "everything", is_flag=True, help="Also what has arrived or was cancelled.")
@click.option("--supplier", default="", metavar="NAME", help="Only what this supplier sends.")
@click.option("--supply", default="", metavar="SUPPLY", shell_complete=complete_supply, help="Only this supply.")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, /, everything: bool, sort: str, mode: Mode, **wanted: str) -> None:
    """List what is still to come, and when.

    Keys of --json: order, supplier, ordered_on, supply, packs, arrived_on, arrived_packs, cancelled_on, open_packs,
    pack_quantity (what one holds, in measured_in), measured_in, price (of one pack), currency, promised_on (the day the
    supplier named last), expected_on, earliest_on, latest_on (8 in 10 orders come between them), rests_on,
    overdue_days.
    """
    from collection.store.book import open_book
    from collection.views.order_list import order_list

    with face.view() as connection:
        listed = order_list(connection, face.today)
        day = _days(open_book(connection).settings.date_form)
    rows = [_row(row, day) for row in listed if everything or row.line.open_packs]
    # One heading for an order of which some has come and some has not: that of what is still to come.
    heads = {row["order"]: row["group"] for row in sorted(rows, key=lambda row: row["open_packs"] > 0)}
    rows = [row | {"group": heads[row["order"]]} for row in rows]
    chosen = in_order(naming(rows, **wanted), _FOR_PROGRAMS, sort)
    columns = _SHOWN if mode == "table" else _FOR_PROGRAMS
    emit(first_of_group(chosen), columns, mode, empty="No order is under way.", above="group")
    if mode == "table":
        late = dict.fromkeys(row["order"] for row in chosen if row["overdue_days"])
        note(*(_late(order) for order in late))


for command in (
    supplier_command,
    suppliers_command,
    supplier_edit_command,
    offer_command,
    offers_command,
    edit_offer_command,
    drop_offer_command,
):
    order_group.add_command(command)


def _placed(line: PlacedLine) -> str:
    from collection.analysis.offers import say_packs

    holds = f", {line.amount}" if line.amount else ", how much a pack holds is not known"
    return f"  {say_packs(line.packs)} of {line.supply}{holds}" + (f", at {_money(line.price)}" if line.price else "")


def _arrived(line: ArrivedLine) -> str:
    from collection.analysis.offers import say_packs

    through = f", good to {line.through.isoformat()}" if line.through else ""
    return f"  {say_packs(line.packs)} of {line.supply}, {line.amount}: lot {line.lots}{through}"


def _late(order: str) -> str:
    return (
        f'Order "{order}" is overdue. Ask, then type: spindlebook order confirm {typed(order)} DATE,'
        " or receive, or cancel."
    )


def _money(sum_of: Money) -> str:
    return f"{sum_of.text} {sum_of.currency}"


def _days(form: str) -> Callable[[str | None], str]:
    from collection.quantity import show_day

    return lambda value: show_day(value, form) if value else ""


def _row(row: OrderRow, day: Callable[[str | None], str]) -> dict[str, Any]:
    from collection.analysis.offers import say_packs
    from collection.quantity import Money

    line, when = row.line, row.expected
    price = None if line.price_minor is None else Money(line.price_minor, str(line.currency))
    return {
        "order": line.order,
        "supplier": line.supplier,
        "ordered_on": line.ordered_on,
        "supply": line.supply,
        "packs": line.packs,
        "arrived_on": line.arrived_on,
        "arrived_packs": line.arrived,
        "cancelled_on": line.cancelled_on,
        "open_packs": line.open_packs,
        "became": _became(line, day),
        "pack_quantity": line.pack_steps and line.pack_steps * row.supply.step,
        "measured_in": row.supply.measured_in,
        "ordered": say_packs(line.packs) + (f" of {row.supply.show(line.pack_steps)}" if line.pack_steps else ""),
        "price": price and price.text,
        "currency": line.currency,
        "each_at": price and _money(price),
        "promised_on": line.promised_on,
        "expected_on": when and when.on.isoformat(),
        "earliest_on": when and when.first.isoformat(),
        "latest_on": when and when.last.isoformat(),
        "rests_on": when and when.because,
        "overdue_days": when and when.overdue,
        "group": _group(row, day),
    }


def _group(row: OrderRow, day: Callable[[str | None], str]) -> str:
    """Return what stands above the lines of an order: with whom, since when, and when the rest comes."""
    line, when = row.line, row.expected
    head = f"{line.order}, {line.supplier}, ordered {day(line.ordered_on)}"
    if line.order == f"{line.supplier} {line.ordered_on}":
        head = line.order
    if not line.open_packs:
        return head
    if when is None:
        return f"{head}: nobody knows when it comes"
    first, last = day(when.first.isoformat()), day(when.last.isoformat())
    overdue = f"overdue by {when.overdue} day{'s' if when.overdue > 1 else ''}, " if when.overdue else ""
    if line.promised_on:
        return f"{head}: {overdue}{'was ' if overdue else ''}to come on {day(line.promised_on)}, {when.because}"
    if overdue:
        return f"{head}: {overdue}going by {when.because}"
    span = first if first == last else f"{first} to {last}"
    return f"{head}: to come {span}, going by {when.because}"


def _became(line: OrderLine, day: Callable[[str | None], str]) -> str:
    """Return what became of a line so far: how much came and when, what was cancelled, what is to come."""
    came = f"{line.arrived} came {day(line.arrived_on)}" if line.arrived_on else ""
    ended = f"rest cancelled {day(line.cancelled_on)}" if came else f"cancelled {day(line.cancelled_on)}"
    rest = ended if line.cancelled_on else f"{line.open_packs} to come" if line.open_packs else ""
    return ", ".join(filter(None, (came, rest)))


_SHOWN = [
    Column("supply"),
    Column("ordered", right=True),
    Column("became", "so far"),
    Column("each_at", "a pack at", right=True),
]
_FOR_PROGRAMS = [
    Column(key)
    for key in (
        "order", "supplier", "ordered_on", "supply", "packs", "arrived_on", "arrived_packs", "cancelled_on",
        "open_packs", "pack_quantity", "measured_in", "price", "currency", "promised_on", "expected_on", "earliest_on",
        "latest_on", "rests_on", "overdue_days",
    )
]  # fmt: skip
