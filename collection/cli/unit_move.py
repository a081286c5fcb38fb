"""unit move and unit places: where units stand from a day on, and where one stood before."""

from __future__ import annotations

from typing import Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_tag
from collection.errors import typed


@click.command("move")
@click.argument("tags", nargs=-1, required=True, metavar="TAG...", shell_complete=complete_tag)
@click.option("--to", required=True, metavar="LOCATION", help="Where they stand.")
@click.option("--new-location", is_flag=True, help="Make the location if the book has none of this name.")
@click.option("--by", default="", metavar="PERSON", help="Who moved them (else --who of the command).")
@click.option("--on", default="", metavar="DATE", help="From which day; today when left out.")
@click.option("--note", default="", metavar="TEXT", help="Anything else.")
@click.pass_obj
def move_command(face: Face, /, tags: tuple[str, ...], **told: Any) -> None:
    """Enter where units stand from a day on.

    Earlier places stay in the book: unit places TAG
    """
    from collection.acts.unit_moves import move_units

    moved = move_units(face.engine(), tags, **told, today=face.today, now=face.now)
    for tag, one in moved:
        say(f"{tag}: location {one.before or '(nothing)'} -> {one.after}")
        if one.now != one.after:
            say(f"A later entry holds today: location {one.now}")
    if not moved:
        say("Nothing to do: the book says so already.")


@click.command("places")
@click.argument("tag", shell_complete=complete_tag)
@sort_option
@past_options
@output_options
@click.pass_obj
def places_command(face: Face, tag: str, sort: str, mode: Mode) -> None:
    """List where a unit stood, and who brought it there, the latest first.

    Keys of --json: location, from_date, until (null while it holds), by, note.
    """
    from collection.quantity import show_day
    from collection.store.book import open_book
    from collection.views.unit_places import places_of
    from collection.views.units import find_unit

    with face.view() as conn:
        unit = find_unit(conn, tag)
        found = places_of(conn, unit.id)
        form = open_book(conn).settings.date_form

    def day(text: str | None) -> str:
        return show_day(text, form) if text else ""

    columns = (
        Column("location"),
        Column("from_date", "from", day),
        Column("until", "until", day),
        Column("by", "moved by"),
        Column("note"),
    )
    rows = [{key: value or None for key, value in row._asdict().items()} for row in found]
    empty = f"No location of {unit.tag} is known. Type: spindlebook unit move {typed(unit.tag)} --to LOCATION"
    emit(in_order(rows, columns, sort), columns, mode, empty=empty)
