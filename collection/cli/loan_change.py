"""loan extend, edit, edit-unit, deposit: what changes of a loan, and what goes back after it."""

from __future__ import annotations

from typing import Any

import click

from collection.cli.edit_options import field_options, given_of, tell_edited
from collection.cli.face import Face
from collection.cli.loan_out import rechecks_of, tell_marks
from collection.cli.loan_rows import MORE, day_form, loan_columns, loan_objects, shown_day
from collection.cli.show import Mode, emit, output_options, say
from collection.cli.tags import complete_tag

_LOAN = click.argument("loan", metavar="LOAN|TAG", shell_complete=complete_tag)


@click.command("extend")
@_LOAN
@click.option("--due", required=True, metavar="DATE", help="The later day it is due back.")
@click.option("--all-the-same", default="", metavar="REASON", help="Extend it though something stands against it.")
@output_options
@click.pass_obj
def extend_command(face: Face, loan: str, due: str, all_the_same: str, mode: Mode) -> None:
    """Let a loan last longer.

    The days that are added are asked for as those of a new loan: what falls due, who has reserved it, whether the
    electrical safety check is good that long, when a borrowed unit is due back. Keys of --json: those of loan list.
    """
    from collection.acts.loan_change import extend
    from collection.views.loan_show import marks_of

    rechecks = rechecks_of(face)
    given = {"due": due, "all_the_same": all_the_same}
    rows = extend(face.engine(), loan, **given, rechecks=rechecks, today=face.today, now=face.now)
    emit(loan_objects(rows), loan_columns(day_form(face), back=False), mode, under=MORE)
    if mode == "table" and all_the_same:
        with face.view() as conn:
            tell_marks(marks_of(conn, rows[0].loan_id))


@click.command("deposit")
@_LOAN
@click.argument("amount", required=False, default="", metavar="[SUM]")
@click.option("--on", default="", metavar="DATE", help="Day it went back (else today).")
@click.option("--reason", default="", metavar="TEXT", help="Why not all of it; the history keeps it.")
@click.pass_obj
def deposit_command(face: Face, loan: str, amount: str, on: str, reason: str) -> None:
    """Note that the deposit of a loan went back.

    SUM is how much of it, all when left out; less than all needs a --reason, 0 where it is kept.
    """
    from collection.acts.loan_change import return_deposit

    row = return_deposit(face.engine(), loan, amount, on=on, reason=reason, today=face.today, now=face.now)
    back, whole = row.deposit_back, row.deposit
    if back and whole:
        kept = f" of {whole.text}" if back != whole else ""
        day = shown_day(day_form(face))(row.deposit_back_on)
        say(f"{row.loan}: {back.text}{kept} {back.currency} went back to {row.person} on {day}.")


@click.command("edit")
@click.argument("loan", metavar="LOAN|TAG", shell_complete=complete_tag)
@field_options(
    ("to", "PERSON", "Who has it."),
    ("due", "DATE", "Day it is due back."),
    ("purpose", "TEXT", "What it is lent for."),
    ("deposit", "SUM", 'As 50, or "50 EUR".'),
    ("cover", "TEXT", "Whose insurance covers it, the way there and back too."),
    ("agreement", "TEXT", "Number or place of what was signed."),
    ("by", "PERSON", "Who handed it over."),
    named={"to": "person", "due": "due_on"},
)
@click.pass_obj
def edit_command(face: Face, /, loan: str, reason: str, **told: Any) -> None:
    """Change a loan, as the day it is due.

    Another borrower needs a --reason. LOAN is its name, as loan list shows it, or the tag of a unit that is on it. To
    let it last longer by the rules of lending: loan extend.
    """
    from collection.acts.loan_edit import edit_loan

    tell_edited(edit_loan(face.engine(), loan, given_of(told), reason=reason, today=face.today, now=face.now))


@click.command("edit-unit")
@click.argument("loan", metavar="LOAN|TAG")
@click.argument("tag", shell_complete=complete_tag)
@field_options(
    ("along", "TEXT", "What goes along that has no tag."),
    ("missing", "TEXT", "What of that did not come back."),
    ("condition-out", "TEXT", "How it went out."),
    ("condition-back", "TEXT", "How it came back."),
)
@click.pass_obj
def edit_unit_command(face: Face, /, loan: str, tag: str, reason: str, **told: Any) -> None:
    """Correct what a loan says of one of its units.

    It needs a --reason. An empty text takes a value away. What was written at a condition check stays as it was.
    """
    from collection.acts.loan_edit import edit_item

    given = given_of(told)
    tell_edited(edit_item(face.engine(), loan, tag, given, reason=reason, today=face.today, now=face.now))
