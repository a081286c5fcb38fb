"""loan in, loan give-back: what is borrowed from others, and when it went back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.loan_out import tell_marks, terms_of, terms_options
from collection.cli.loan_rows import MORE, day_form, loan_columns, loan_objects
from collection.cli.loan_words import finder, one_of_each, state_options, states, tell_doubts_of
from collection.cli.show import Mode, emit, output_options, say
from collection.cli.tags import complete_tag
from collection.errors import typed

if TYPE_CHECKING:
    from collection.views.loans import LoanRow

_TAGS = click.argument("tags", nargs=-1, required=True, metavar="TAG...", shell_complete=complete_tag)
_ALONG = 'What came with it that has no tag, as "cable" or "D1: cable".'
_MISSING = "What came with it and does not go back."


@click.command("in")
@_TAGS
@click.option("--from", "lender", required=True, metavar="PERSON", help="Who lends it.")
@click.option("--due", required=True, metavar="DATE", help="Day it is due back.")
@click.option("--on", default="", metavar="DATE", help="Day it came (else today).")
@click.option("--along", "along", multiple=True, metavar="TEXT", help=_ALONG)
@state_options
@terms_options
@click.option("--all-the-same", default="", metavar="REASON", help="Borrow it though it belongs to somebody else.")
@output_options
@click.pass_obj
def in_command(
    face: Face, /, tags: tuple[str, ...], along: tuple[str, ...], all_the_same: str, mode: Mode, **told: Any
) -> None:
    """Note units that are borrowed from somebody.

    \b
    spindlebook loan in B1 --from "Museum of Drives" --due 2026-09-30
      --cover "theirs, 200 EUR, the way included" --agreement 2026/14

    A unit must be in the book (spindlebook arrival TAG --model NAME). Its lender becomes its owner where none is known.
    One that belongs to somebody else is refused; --all-the-same with a reason borrows it, and marks the loan. Whose it
    is in the book stays so. Until it is given back it is lent on only until the day it is due.

    Keys of --json: those of loan list.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.acts.loan_given import GoingOut
    from collection.acts.loan_in import borrow

    find = finder(face)
    state, goes = states(tags, told, find), one_of_each(tags, along, "--along", find)
    rows = borrow(
        face.engine(),
        [GoingOut(tag, goes[tag], state[tag]) for tag in tags],
        lender=told["lender"],
        due=told["due"],
        on=told["on"],
        terms=terms_of(told),
        all_the_same=all_the_same,
        today=face.today,
        now=face.now,
    )
    emit(loan_objects(rows), loan_columns(day_form(face), back=False), mode, under=MORE)
    tell_doubts_of(face, rows, "entry", mode)
    _tell_marks(face, rows)
    if mode == "table":
        say(f"To give back: spindlebook loan give-back {' '.join(typed(row.tag) for row in rows)}")


def _tell_marks(face: Face, rows: Sequence[LoanRow]) -> None:
    """Say of units that belong to somebody else than their lender for which reason they came, or went back."""
    from collection.views.loan_show import marks_of

    tags = {row.tag for row in rows}
    with face.view() as conn:
        marks = [mark for loan in dict.fromkeys(row.loan_id for row in rows) for mark in marks_of(conn, loan)]
    tell_marks(mark for mark in marks if mark[0] in tags)


@click.command("give-back")
@_TAGS
@click.option("--on", default="", metavar="DATE", help="Day it went back (else today).")
@state_options
@click.option("--missing", "missing", multiple=True, metavar="TEXT", help=_MISSING)
@click.option("--by", default="", metavar="PERSON", help="Who gives it back (else --who of the command).")
@click.option("--all-the-same", default="", metavar="REASON", help="Give it back though it belongs to somebody else.")
@output_options
@click.pass_obj
def give_back_command(face: Face, /, tags: tuple[str, ...], missing: tuple[str, ...], mode: Mode, **told: Any) -> None:
    """Give borrowed units back to who lent them.

    They are gone from then on, and their history stays. One that belongs to somebody else than its lender is refused,
    unless a reason was given when it came or is given now. Keys of --json: those of loan list.
    """
    from collection.acts.loan_given import ComingBack
    from collection.acts.loan_in import give_back

    find = finder(face)
    state, lacks = states(tags, told, find), one_of_each(tags, missing, "--missing", find)
    units = [ComingBack(tag, state[tag], missing=lacks[tag]) for tag in tags]
    rows = give_back(face.engine(), units, **told, today=face.today, now=face.now)
    emit(loan_objects(rows), loan_columns(day_form(face), back=True), mode, under=MORE)
    _tell_marks(face, rows)
    tell_doubts_of(face, rows, "exit", mode)
