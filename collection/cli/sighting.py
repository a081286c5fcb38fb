"""sighting: note that units were seen or looked for in vain, and list what was seen."""

from __future__ import annotations

from typing import Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, naming, sort_option
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_tag


@click.group("sighting")
def sighting_group() -> None:
    """Note that units were seen, or looked for in vain."""


@sighting_group.command("add")
@click.argument("tags", nargs=-1, required=True, metavar="TAG...", shell_complete=complete_tag)
@click.option("--at", default="", metavar="LOCATION", help="Where (else where the book has it).")
@click.option("--not-found", is_flag=True, help="Looked for there, and not found.")
@click.option("--by", default="", metavar="PERSON", help="Who looked (else --who of the command).")
@click.option("--on", default="", metavar="DATE", help="The day (else today).")
@click.option("--note", default="", metavar="TEXT", help="Anything else.")
@click.pass_obj
def add_command(face: Face, /, tags: tuple[str, ...], not_found: bool, on: str, **told: Any) -> None:
    """Note that units were seen, or looked for and not found.

    It moves nothing: where book and eye differ, what to type is said. A whole shelf: spindlebook shelf-check LOCATION
    """
    from collection.acts.sightings import GivenSighting, add_sightings

    given = GivenSighting(found=not not_found, **told)
    seen, to_do = add_sightings(face.engine(), tags, given, on=on, today=face.today, now=face.now)
    say(f"{', '.join(seen)}: {'looked for and not found' if not_found else 'seen'}.", *to_do)


@sighting_group.command("list")
@click.argument("tag", required=False, default="", shell_complete=complete_tag)
@click.option("--location", default="", metavar="NAME", help="Only those at this location.")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, tag: str, location: str, sort: str, mode: Mode) -> None:
    """List what was seen and what was looked for in vain, by day.

    Keys of --json: seen_on, tag (or what was found that is no tag), says (seen, not found, not known), location,
    shelf_check (whether at one), by, note.
    """
    from collection.quantity import show_day
    from collection.store.book import open_book
    from collection.views.shelf_check import sightings
    from collection.views.units import find_unit

    with face.view() as conn:
        wanted = find_unit(conn, tag).tag if tag else ""
        found = sightings(conn)
        form = open_book(conn).settings.date_form
    columns = (
        Column("seen_on", "day", lambda day: show_day(day, form)),
        Column("tag"),
        Column("says"),
        Column("location"),
        Column("shelf_check", "shelf-check"),
        Column("by"),
        Column("note"),
    )
    rows = [
        {key: None if value == "" else value for key, value in row._asdict().items()}
        for row in found
        if wanted in ("", row.tag)
    ]
    empty = "Nothing was noted. Type: spindlebook shelf-check LOCATION"
    emit(in_order(naming(rows, location=location), columns, sort), columns, mode, empty=empty)
