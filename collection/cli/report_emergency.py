"""report emergency: the list that hangs by the door."""

from __future__ import annotations

import click

from collection.cli.face import Face
from collection.cli.report_page import PageTo, page_options
from collection.cli.whole import Whole


@click.command("emergency")
@click.option("--location", default="", metavar="NAME", help="Only what is there, or in a place inside it.")
@click.option("--first", type=Whole(1), metavar="NUMBER", help="Only so many of them.")
@page_options
@click.pass_obj
def emergency_report_command(face: Face, location: str, first: int | None, page: PageTo) -> None:
    """Print what to carry out first, where it is, and whom to call.

    \b
    spindlebook report emergency --to by-the-door.pdf

    Hang one by the door and keep one elsewhere. The order is that of the command emergency.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.exchange.report_emergency import emergency_places
    from collection.views.emergency import emergency

    with face.view() as conn:
        found = emergency(conn, face.today, location)
    page.write(face, "emergency", emergency_places(found, first), about=location)
