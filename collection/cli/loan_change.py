"""loan extend, loan deposit: what changes while a loan lasts, and what goes back after it."""

from __future__ import annotations

import click

from collection.cli.face import Face
from collection.cli.loan_out import rechecks_of, tell_marks
from collection.cli.loan_rows import MORE, day_form, loan_columns, loan_object, shown_day
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
    emit([loan_object(row) for row in rows], loan_columns(day_form(face), back=False), mode, under=MORE)
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
