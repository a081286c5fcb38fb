"""report shopping: what to buy, on paper."""

from __future__ import annotations

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.report_page import PageTo, page_options


@click.command("shopping")
@past_options
@page_options
@click.pass_obj
def shopping_command(face: Face, page: PageTo) -> None:
    """Print what to buy, by supplier and by when.

    The same supplies for the same reasons as spindlebook reorder. Sheets to send to suppliers: spindlebook reorder
    --order-sheet FOLDER
    """
    from collection.cli.reorder import reorder_list
    from collection.exchange.report_shopping import shopping_places

    facts, rows = reorder_list(face)
    page.write(face, "shopping", shopping_places(rows, facts["until_shown"], facts["total"]))
