"""export workbook: the book as one workbook that can be edited and brought back."""

from __future__ import annotations

from pathlib import Path

import click

from collection.cli.face import Face
from collection.cli.show import Column, emit, note, progress, say
from collection.errors import path_typed


@click.command("workbook")
@click.argument("file", metavar="FILE.xlsx", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--only", multiple=True, metavar="SHEET", help="Only this sheet: units, readings, lots ... (repeatable).")
@click.option("--standing", default="", metavar="WORD", help="Only what is about units standing so.")
@click.option("--location", default="", metavar="NAME", help="Only what is about units there, or in a place inside it.")
@click.option("--owner", default="", metavar="NAME", help="Only what is about units of this person.")
@click.option("--replace", is_flag=True, help="Write over a file of the name.")
@click.pass_obj
def workbook_command(face: Face, /, file: Path, *, only: tuple[str, ...], replace: bool, **units: str) -> None:
    """Write the book as a workbook to read, edit and import again.

    A sheet each for units, readings, lots and so on. Change it in any spreadsheet program, save it as .xlsx and type:
    spindlebook import FILE.xlsx. What changed is shown before anything is written.
    """
    from collection.exchange.book_workbook import Choice, write_workbook
    from collection.views.unit_list import Wanted

    choice = Choice(only, Wanted(**units))
    with face.view() as connection, progress("writing sheets") as tick:
        written = write_workbook(connection, file, choice, today=face.today, replace=replace, tick=tick)
    emit([{"sheet": sheet, "rows": rows} for sheet, rows in written.rows.items()], (Column("sheet"), Column("rows")))
    say(f"Written to {file}. To bring changes back: spindlebook import {path_typed(file)}")
    if "people" in written.rows:
        note("The sheet people holds names and addresses: mind who gets the workbook.")
    if written.too_large:
        note(f"It has {written.too_large}, too much to be brought back: choose less by --only, --location or --owner.")
