"""measurement: list, add and change what can be measured."""

from __future__ import annotations

from typing import Any

import click

from collection.cli.edit_options import field_options, given_of, tell_edited
from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_measurement

_SAYS = (
    ("measured-in", "UNIT", "The unit it is kept in, or graded for pass, marginal, fail."),
    ("ratio", "yes|no", "Whether its changes are told in parts of its value."),
    ("points", "WORDS", 'Its usual points, by ; as "+5 V; +12 V".'),
    ("source", "TEXT", "Where this is from."),
    ("note", "TEXT", "Anything else."),
)


@click.group("measurement")
def measurement_group() -> None:
    """List, add and change what can be measured."""


@measurement_group.command("list")
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, mode: Mode) -> None:
    """List measurements.

    Keys of --json: measurement, measured_in, ratio, points, source, note.
    """
    from collection.views.measuring import measurement_rows

    with face.view() as conn:
        rows = measurement_rows(conn)
    emit(rows, _COLUMNS, mode, empty="No measurement is in the book.")


@measurement_group.command("add")
@click.argument("name")
@field_options(*_SAYS, reason=False)
@click.pass_obj
def add_command(face: Face, /, name: str, **told: Any) -> None:
    """Add a measurement; --measured-in is required.

    Its unit stays as it is once readings, limits or figures of instruments are in it.
    """
    from collection.acts.measurements import add_measurement

    given = {key: text for key, text in told.items() if text is not None}
    say(f'Added the measurement "{add_measurement(face.engine(), name, given, today=face.today, now=face.now)}".')


@measurement_group.command("edit")
@click.argument("measurement", shell_complete=complete_measurement)
@field_options(("name", "TEXT", "Another name."), *_SAYS, named={"name": "renamed"})
@click.pass_obj
def edit_command(face: Face, /, measurement: str, renamed: str | None, reason: str, **told: Any) -> None:
    """Change what a measurement says.

    Its unit changes only while no reading and no limit is kept in it. An empty text takes a value away.
    """
    from collection.acts.measurements import edit_measurement

    given = given_of({"measurement": renamed, **told})
    tell_edited(edit_measurement(face.engine(), measurement, given, reason=reason, today=face.today, now=face.now))


_COLUMNS = (
    Column("measurement"),
    Column("measured_in", "in"),
    Column("ratio", in_table=False),
    Column("points"),
    Column("source", in_table=False),
    Column("note", in_table=False),
)
