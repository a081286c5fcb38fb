"""report due: the due list on paper."""

from __future__ import annotations

import click

from collection.cli.due import accepted_risk, due_told
from collection.cli.face import Face
from collection.cli.option_reader import days_ahead_given
from collection.cli.past import past_options
from collection.cli.report_page import PageTo, page_options


@click.command("due")
@click.option(
    "--within", metavar="TIME", default="30d", show_default=True, callback=days_ahead_given, help="As 60d, 8w or 2m."
)
@click.option(
    "--risk", metavar="PERCENT", callback=accepted_risk, help="Accepted risk for this time, as 5% (else the book's)."
)
@past_options
@page_options
@click.pass_obj
def due_report_command(face: Face, within: int, risk: float | None, page: PageTo) -> None:
    """Print which units are due and why, to tick off.

    The same units for the same reasons as spindlebook due.
    """
    from collection.exchange.report_due import due_places
    from collection.store.book import open_book

    with face.view() as conn:
        settings = open_book(conn).settings
        told = due_told(face, conn, within, settings.risk if risk is None else risk)
    page.write(face, "due", due_places(told["rows"], told["below"], settings.date_form))
