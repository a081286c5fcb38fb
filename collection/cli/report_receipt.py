"""report receipt: what is given to whoever brings a unit."""

from __future__ import annotations

import click

from collection.cli.face import Face
from collection.cli.report_page import PageTo, page_options
from collection.cli.tags import complete_tag


@click.command("receipt")
@click.argument("names", nargs=-1, required=True, metavar="ENTRY|TAG...", shell_complete=complete_tag)
@page_options
@click.pass_obj
def receipt_command(face: Face, names: tuple[str, ...], page: PageTo) -> None:
    """Print a receipt for whoever brought units.

    \b
    spindlebook report receipt E1 --to receipt.pdf

    ENTRY is an entry number, as in unit arrivals; TAG a unit: its last arrival, with all that came under its number.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.exchange.report_receipt import receipt_places
    from collection.store.book import open_book
    from collection.views.entries import entries_named

    with face.view() as conn:
        settings = open_book(conn).settings
        entries = entries_named(conn, names, face.today)
    places = receipt_places(entries, settings.name or "", settings.date_form)
    page.write(face, "receipt", places, about=entries[0].entry_number or entries[0].tag)
