"""report disposal: what is signed when units leave for good."""

from __future__ import annotations

import click

from collection.cli.face import Face
from collection.cli.report_page import PageTo, page_options
from collection.cli.tags import complete_tag


@click.command("disposal")
@click.argument("tags", nargs=-1, required=True, metavar="TAG...", shell_complete=complete_tag)
@page_options
@click.pass_obj
def disposal_command(face: Face, tags: tuple[str, ...], page: PageTo) -> None:
    """Print what both sides sign when units leave for good.

    \b
    spindlebook report disposal D7 --to d7-signed.pdf

    What it says was told by unit dispose. Its history goes with it as a page of its own: report unit-history.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.exchange.report_disposal import disposal_places
    from collection.store.book import open_book
    from collection.views.exits import leaving_of

    with face.view() as conn:
        settings = open_book(conn).settings
        leaving = leaving_of(conn, tags, face.today)
    places = disposal_places(leaving, settings.name or "", settings.date_form)
    page.write(face, "disposal", places, about="-".join(each.told.tag for each in leaving))
