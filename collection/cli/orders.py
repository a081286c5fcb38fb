"""order: place orders, see what is still to come, keep suppliers and their offers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.edits import offer_edit_command, supplier_edit_command
from collection.cli.face import Face
from collection.cli.rows import in_order, naming, sort_option
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_supply

if TYPE_CHECKING:
    from collection.views.orders import OrderLine


@click.group("order")
def order_group() -> None:
    """Place orders and see what is still to come."""


@order_group.command("place")
@click.argument("supplier")
@click.argument("lines", nargs=-1, required=True, metavar="SUPPLY=PACKS...")
@click.option("--name", default="", metavar="ORDER", help="Name of the order (else supplier and day).")
@click.option("--on", default="", metavar="DATE", help="Day it was placed (else today).")
@click.pass_obj
def place_command(face: Face, supplier: str, lines: tuple[str, ...], name: str, on: str) -> None:
    """Book an order that was placed.

    When it comes, type: spindlebook supply receive SUPPLY --order ORDER
    """
    from collection.acts.orders import place_order

    wanted = [_line(text) for text in lines]
    placed = place_order(face.engine(), supplier, wanted, name=name, on=on, today=face.today, now=face.now)
    say(f'Placed order "{placed.order}" with "{placed.supplier}":')
    for supply, packs, amount in placed.lines:
        number = "1 pack" if packs == 1 else f"{packs} packs"
        say(f"  {number} of {supply}" + (f", {amount}" if amount else ", how much a pack holds is not known"))
    say(f'When it comes: spindlebook supply receive "{placed.lines[0][0]}" --order "{placed.order}"')


@order_group.command("list")
@click.option("--all", "everything", is_flag=True, help="Also what has arrived or was cancelled.")
@click.option("--supplier", default="", metavar="NAME", help="Only what this supplier sends.")
@click.option("--supply", default="", metavar="SUPPLY", shell_complete=complete_supply, help="Only this supply.")
@sort_option
@output_options
@click.pass_obj
def list_command(face: Face, /, everything: bool, sort: str, mode: Mode, **wanted: str) -> None:
    """List what is still to come.

    Keys of --json: order, supplier, ordered_on, supply, packs, arrived_on, arrived_packs, cancelled_on, open_packs.
    """
    from collection.store.book import open_book
    from collection.views.orders import order_lines

    with face.view() as connection:
        lines = order_lines(connection)
        form = open_book(connection).settings.date_form
    rows = [_object(line) for line in lines if everything or line.open_packs]
    columns = _columns(form)
    emit(in_order(naming(rows, **wanted), columns, sort), columns, mode, empty="No order is under way.")


@order_group.command("cancel")
@click.argument("order")
@click.option("--on", default="", metavar="DATE", help="Day it was cancelled (else today).")
@click.pass_obj
def cancel_command(face: Face, order: str, on: str) -> None:
    """Book that what is still to come of an order will not come."""
    from collection.acts.orders import cancel_order

    lines = cancel_order(face.engine(), order, on=on, today=face.today, now=face.now)
    say(f'Cancelled of order "{lines[0].order}": {", ".join(f"{line.open_packs} of {line.supply}" for line in lines)}.')


@order_group.command("supplier")
@click.argument("name")
@click.option("--lead-days", type=click.IntRange(0, 3650), metavar="DAYS", help="From order to arrival.")
@click.option("--shipping", default="", metavar="AMOUNT", help="What one order costs to send.")
@click.option("--currency", default="", metavar="CODE", help="As EUR (else the book's).")
@click.pass_obj
def supplier_command(face: Face, /, name: str, **told: Any) -> None:
    """Add a supplier."""
    from collection.acts.orders import add_supplier

    added = add_supplier(face.engine(), name, **told, today=face.today, now=face.now)
    say(f'Added the supplier "{added}".', f'Next: spindlebook order offer "{added}" SUPPLY PACK PRICE')


@order_group.command("offer")
@click.argument("supplier")
@click.argument("supply", shell_complete=complete_supply)
@click.argument("pack")
@click.argument("price")
@click.option("--currency", default="", metavar="CODE", help="As EUR (else the book's).")
@click.option("--from-packs", type=click.IntRange(1, 10_000), default=1, help="The price holds from so many packs on.")
@click.option("--minimum-packs", type=click.IntRange(1, 10_000), help="The least order.")
@click.option("--lead-days", type=click.IntRange(0, 3650), metavar="DAYS", help="Where it differs from the supplier's.")
@click.pass_obj
def offer_command(face: Face, /, supplier: str, supply: str, pack: str, price: str, **told: Any) -> None:
    """Add what a supplier asks for one pack of a supply.

    PACK is what one holds, as "50 g"; PRICE is that of one pack.
    """
    from collection.acts.orders import add_offer

    did = add_offer(face.engine(), supplier, supply, pack, price, **told, today=face.today, now=face.now)
    say(f"{did}.")


order_group.add_command(supplier_edit_command)
order_group.add_command(offer_edit_command)


def _line(text: str) -> tuple[str, str]:
    supply, equals, packs = text.rpartition("=")
    if not equals:
        raise click.UsageError(f'{text!r} is no order of a supply; type "SUPPLY=PACKS", as "white grease=2".')
    return supply.strip(), packs.strip()


def _object(line: OrderLine) -> dict[str, Any]:
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
    }


def _columns(form: str) -> list[Column]:
    from collection.quantity import show_day

    def day(value: str | None) -> str:
        return show_day(value, form) if value else ""

    return [
        Column("order"),
        Column("supplier"),
        Column("ordered_on", "ordered", show=day),
        Column("supply"),
        Column("packs"),
        Column("arrived_on", "arrived", show=day),
        Column("arrived_packs", "arrived packs", in_table=False),
        Column("cancelled_on", "cancelled", show=day),
        Column("open_packs", "still to come"),
    ]
