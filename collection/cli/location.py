"""location: list, add and change the places where units and supplies stand."""

from __future__ import annotations

from typing import Any

import click

from collection.cli.edit_options import field_options, given_of, tell_edited
from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, naming, sort_option
from collection.cli.show import Column, Mode, emit, output_options, say

_SAYS = (("inside", "LOCATION", "The location that it is inside."), ("note", "TEXT", "Anything else."))


@click.group("location")
def location_group() -> None:
    """List, add and change the places where things stand."""


@location_group.command("list")
@click.option("--inside", default="", metavar="NAME", help="Only those just inside this one.")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, inside: str, sort: str, mode: Mode) -> None:
    """List locations.

    Keys of --json: location, inside, note, checked_on (the last shelf-check of it, or of what it is inside).
    """
    from collection.quantity import show_day
    from collection.store.book import open_book
    from collection.views.places import location_list

    with face.view() as conn:
        rows = [place._asdict() for place in location_list(conn)]
        form = open_book(conn).settings.date_form
    day = Column("checked_on", "last shelf-check", lambda on: show_day(on, form) if on else "")
    columns = (Column("location"), Column("inside"), Column("note"), day)
    chosen = in_order(naming(rows, inside=inside), columns, sort)
    emit(chosen, columns, mode, empty='No location yet. Type: spindlebook location add "NAME"')


@location_group.command("add")
@click.argument("name")
@field_options(*_SAYS, reason=False)
@click.pass_obj
def add_command(face: Face, /, name: str, **told: Any) -> None:
    """Add a location."""
    from collection.acts.records import add_location

    given = {key: text for key, text in told.items() if text is not None}
    say(f'Added the location "{add_location(face.engine(), name, given, today=face.today, now=face.now)}".')


@location_group.command("edit")
@click.argument("location")
@field_options(("name", "TEXT", "Another name."), *_SAYS, named={"name": "renamed"})
@click.pass_obj
def edit_command(face: Face, /, location: str, renamed: str | None, reason: str, **told: Any) -> None:
    """Change what a location says.

    What stands in it goes with it. An empty text takes a value away.
    """
    from collection.acts.records import edit_location

    given = given_of({"location": renamed, **told})
    tell_edited(edit_location(face.engine(), location, given, reason=reason, today=face.today, now=face.now))
