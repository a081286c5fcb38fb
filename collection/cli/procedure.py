"""procedure: list, show, add and change what is done to units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.edit_options import field_options, given_of, tell_edited
from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.show import Column, Mode, emit, emit_object, output_options, say, say_pairs
from collection.cli.tags import complete_procedure, complete_supply

if TYPE_CHECKING:
    from collection.views.procedure_sheet import ProcedureSheet

_SAYS = (
    ("applies-to", "WORDS", "Kinds, drive types or models, by ; (else every unit)."),
    ("every-months", "NUMBER", "Due so many months after it was done."),
    ("every-hours", "NUMBER", "Due after so many hours of running."),
    ("triggers", "WORDS", "after arrival; after loan; after transport; unused 12 months; symptom WORDS"),
    ("minutes", "NUMBER", "How long it takes."),
    ("resets", "WORDS", 'What it sets anew: "spindle speed: level".'),
    ("retests", "WORDS", "What must be measured as left, by ;"),
    ("lubricates", "POINT", "The point that it puts lubricant on."),
    ("cautions", "TEXT", "What stands before the work, one a line."),
    ("steps", "TEXT", "How it is done, one a line."),
    ("source", "TEXT", "Where this is from."),
)
_NAME = click.argument("name", metavar="PROCEDURE", shell_complete=complete_procedure)


@click.group("procedure")
def procedure_group() -> None:
    """List, show and change what is done to units."""


@procedure_group.command("list")
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, mode: Mode) -> None:
    """List procedures, in the order of work.

    Keys of --json: procedure, revision, applies_to, every_months, every_hours, triggers, minutes, resets, retests,
    lubricates, cautions, steps, source.
    """
    from collection.views.procedure_sheet import procedure_sheets

    with face.view() as conn:
        rows = [_object(sheet) for sheet in procedure_sheets(conn)]
    emit(rows, _COLUMNS, mode, empty="No procedure is in the book.")


@procedure_group.command("show")
@_NAME
@past_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def show_command(face: Face, name: str, as_json: bool) -> None:
    """Show the sheet of a procedure: cautions, steps, amounts.

    The keys of --json stand in docs/json-keys.md.
    """
    from collection.views.procedure_sheet import procedure_sheet

    with face.view() as conn:
        sheet = procedure_sheet(conn, name)
    if as_json:
        emit_object(_object(sheet) | {"amounts": [_amount(*each) for each in sheet.amounts]})
        return
    say(f"{sheet.procedure}, revision {sheet.revision}", bold=True)
    for title, text in (("Before the work", sheet.cautions), ("Steps", sheet.steps)):
        if text:
            say(title, bold=True)
            say_pairs([("!" if title != "Steps" else "", line) for line in text.splitlines()])
    if sheet.amounts:
        say("Takes", bold=True)
        say_pairs([(name, amount) for name, amount, _ in sheet.amounts])
    said = {column.key: column.show(getattr(sheet, column.key)) for column in _COLUMNS[2:]}
    say_pairs([(key.replace("_", " "), text) for key, text in said.items() if key not in ("cautions", "steps")])


@procedure_group.command("add")
@click.argument("name", metavar="PROCEDURE")
@field_options(*_SAYS, reason=False)
@click.pass_obj
def add_command(face: Face, /, name: str, **told: Any) -> None:
    """Add a procedure.

    What it takes of supplies is told by: spindlebook procedure amount PROCEDURE SUPPLY QUANTITY
    """
    from collection.acts.procedures import add_procedure

    given = {key: text for key, text in told.items() if text is not None}
    added = add_procedure(face.engine(), name, given, today=face.today, now=face.now)
    say(f'Added the procedure "{added}", revision 1.')


@procedure_group.command("edit")
@_NAME
@field_options(("name", "TEXT", "Another name."), *_SAYS, named={"name": "procedure"})
@click.pass_obj
def edit_command(face: Face, /, name: str, reason: str, **told: Any) -> None:
    """Change a procedure.

    What changes the work or when it is due raises its revision, and needs a --reason. Work done before keeps the
    revision it was done by. An empty text takes a value away.
    """
    from collection.acts.procedures import edit_procedure
    from collection.views.procedure_sheet import procedure_sheet

    edited = edit_procedure(face.engine(), name, given_of(told), reason=reason, today=face.today, now=face.now)
    tell_edited(edited)
    with face.view() as conn:
        say(f"It is revision {procedure_sheet(conn, edited.name).revision}.")


@procedure_group.command("amount")
@_NAME
@click.argument("supply", shell_complete=complete_supply)
@click.argument("quantity", nargs=-1, required=True)
@click.option("--chance", default="", metavar="NUMBER", help="How often it takes it at all, 0 to 1 (else always).")
@click.option("--reason", default="", metavar="TEXT", help="Why it is changed; the history keeps it.")
@click.pass_obj
def amount_command(face: Face, name: str, supply: str, quantity: tuple[str, ...], chance: str, reason: str) -> None:
    """Say how much of a supply a procedure takes.

    It raises the revision; another amount than before needs a --reason.
    """
    from collection.acts.procedures import set_amount

    amount = " ".join(quantity)
    did = set_amount(face.engine(), name, supply, amount, chance=chance, reason=reason, today=face.today, now=face.now)
    say(f"{did}.")


def _object(sheet: ProcedureSheet) -> dict[str, Any]:
    return {column.key: getattr(sheet, column.key) for column in _COLUMNS}


def _amount(supply: str, amount: str, chance: float | None) -> dict[str, Any]:
    return {"supply": supply, "amount": amount, "chance": chance}


_COLUMNS = (
    Column("procedure"),
    Column("revision", "rev."),
    Column("applies_to", "for"),
    Column("every_months", "months"),
    Column("every_hours", "hours"),
    Column("triggers"),
    Column("minutes"),
    *(Column(key, in_table=False) for key in ("resets", "retests", "lubricates", "cautions", "steps", "source")),
)
