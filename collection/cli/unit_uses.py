"""unit uses: who used units, when, for what, and what came of it."""

from __future__ import annotations

from typing import Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, output_options
from collection.cli.tags import complete_tag


@click.command("uses")
@click.argument("tag", required=False, default="", shell_complete=complete_tag)
@past_options
@sort_option
@output_options
@click.pass_obj
def uses_command(face: Face, tag: str, sort: str, mode: Mode) -> None:
    """List who used units, when and for what: in use here, and on loan.

    \b
    spindlebook unit enter D6 --standing "in use" --by "Ada Field" \\
      --reason "reads the club's disks"

    A use lasts until another standing is entered. What came of it: the condition in which it came back, faults noticed
    meanwhile, how it stood after. Keys of --json: tag, how (in use, on loan), from_date, until (null while it lasts),
    by, purpose, came_of_it.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.quantity import show_day
    from collection.store.book import open_book
    from collection.views.unit_uses import uses
    from collection.views.units import find_unit

    with face.view() as conn:
        found = uses(conn, find_unit(conn, tag).id if tag else None)
        form = open_book(conn).settings.date_form

    def day(text: Any) -> str:
        return show_day(text, form) if text else ""

    columns = (
        Column("tag"),
        Column("how"),
        Column("from_date", "from", day),
        Column("until", "until", day),
        Column("by"),
        Column("purpose", "for"),
        Column("came_of_it"),
    )
    rows = [{key: value or None for key, value in use._asdict().items()} for use in found]
    empty = 'No use is told. Type: spindlebook unit enter TAG --standing "in use" --by PERSON --reason TEXT'
    emit(in_order(rows, columns, sort), columns, mode, empty=empty)
