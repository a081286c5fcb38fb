"""reorder: what to buy, and by when."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.report_page import SIZES
from collection.cli.show import Column, Mode, emit, note, output_options, say
from collection.cli.tags import complete_supply
from collection.errors import Refused

if TYPE_CHECKING:
    from collection.views.stock_rows import StockList

_KEYS = (
    *("supply", "state", "order_by", "packs", "quantity", "supplier", "cost", "currency", "chance_short", "on_hand"),
    *("rests_on", "measured_in", "shipping", "needed_by", "on_order", "planned", "planned_low", "planned_high"),
    *("unplanned", "unplanned_low", "unplanned_high", "held_up", "wanted", "ask", "parcel_by"),
)


@click.command("reorder")
@click.argument("supply", required=False, shell_complete=complete_supply)
@click.option("--order-sheet", metavar="FOLDER", help="Write a page to send for each supplier into a folder.")
@click.option(
    "--paper",
    type=click.Choice(SIZES, case_sensitive=False),
    default="A4",
    metavar="A4|Letter",
    help="Paper of --order-sheet (else A4).",
)
@click.option(
    "--report-dir",
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    help="Your own copy of the order sheet (see report copy).",
)
@click.option("--plot", metavar="FILE", help="With SUPPLY: draw what will be there, as FILE.png or FILE.svg.")
@past_options
@output_options
@click.pass_obj
def reorder_command(
    face: Face,
    /,
    supply: str | None,
    order_sheet: str | None,
    paper: str,
    report_dir: Path | None,
    plot: str | None,
    mode: Mode,
) -> None:
    """Show what to buy, and by when.

    What the work ahead and repairs that nobody planned will take is set against what is in the drawer, until it passes
    its date, and against what is on order; so are the parts that units wait for. What one supplier is asked for within
    30 days goes into one order. With SUPPLY its whole story, and the sum day by day so that it can be followed by hand.

    Keys of --json: supply, state (fine, order by, order now, cannot arrive in time, do not know), order_by, packs,
    quantity, supplier, cost, currency, chance_short, on_hand, rests_on, measured_in, shipping, needed_by, on_order,
    planned, planned_low, planned_high, unplanned, unplanned_low, unplanned_high, held_up, wanted, ask, parcel_by;
    with SUPPLY: day, needed, arrives, past_date, to_buy, left, measured_in, why.
    """
    if supply is not None:
        if order_sheet is not None:
            raise Refused(
                "--order-sheet is of all that is to be ordered, and one SUPPLY is given.",
                "Type: spindlebook reorder --order-sheet FOLDER",
            )
        from collection.cli.reorder_story import show_story

        show_story(face, supply, plot, mode)
        return
    if plot is not None:
        raise Refused("--plot is of one supply, and none is given.", "Type: spindlebook reorder SUPPLY --plot FILE.png")
    facts, rows = reorder_list(face)
    emit(rows, _columns(mode, facts), mode, empty=_nothing(facts), under="under", above="group")
    tell = say if mode == "table" else note
    tell(*_below(facts, rows))
    if order_sheet is not None:
        from collection.cli.reorder_sheets import write_order_sheets

        tell(*write_order_sheets(face, Path(order_sheet), rows, report_dir, paper))


def reorder_list(face: Face) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return what is told of the whole list, and its rows, kept from run to run."""
    from collection.cli.kept_stock import stock_lines
    from collection.store.book import open_book

    with face.view() as connection:
        form = open_book(connection).settings.date_form

        def made(found: StockList) -> list[str]:
            from collection.cli.reorder_rows import day_in, stock_lines_of

            return stock_lines_of(found, day_in(form))

        facts, *rows = map(json.loads, stock_lines(face, connection, made))
    return facts, rows


def _columns(mode: Mode, facts: dict[str, Any]) -> list[Column]:
    if mode != "table":
        return [Column(key) for key in _KEYS]
    return [
        Column("name", "supply"),
        Column("what", "what to do"),
        Column("buy"),
        Column("price", right=True),
        Column("there"),
        Column("takes", f"takes by {facts['until_shown']}"),
    ]


def _nothing(facts: dict[str, Any]) -> str:
    return f"No work due by {facts['until_shown']} takes anything out of the drawer."


def _below(facts: dict[str, Any], rows: list[dict[str, Any]]) -> Iterator[str]:
    if facts["total"]:
        yield f"All that is to be ordered: {' and '.join(facts['total'])}."
    if facts["unoffered"]:
        yield "A supplier for what nobody offers: spindlebook order offer SUPPLIER SUPPLY PACK PRICE"
    if rows:
        yield "The story of one supply: spindlebook reorder SUPPLY"
    if facts["not_listed"]:
        one = facts["not_listed"] == 1
        what, it = ("1 more supply was", "it") if one else (f"{facts['not_listed']} more supplies were", "them")
        yield f"{what} never held, and nothing needs {it}: spindlebook supply list"
    if facts["no_history"]:
        one = facts["no_history"] == 1
        units, what = ("1 unit has", "it") if one else (f"{facts['no_history']} units have", "they")
        yield f"{units} no history yet, so nobody knows what {what} will take: spindlebook due"
