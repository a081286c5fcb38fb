"""loan in, loan give-back: what is borrowed from others, and when it went back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.loan_out import terms_of, terms_options
from collection.cli.loan_rows import MORE, day_form, loan_columns, loan_objects
from collection.cli.loan_words import finder, one_of_each, state_options, states, tell_doubts_of
from collection.cli.show import Mode, emit, note, output_options, say
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
@output_options
@click.pass_obj
def in_command(face: Face, /, tags: tuple[str, ...], along: tuple[str, ...], mode: Mode, **told: Any) -> None:
    """Note units that are borrowed from somebody.

    \b
    spindlebook loan in B1 --from "Museum of Drives" --due 2026-09-30
      --cover "theirs, 200 EUR, the way included" --agreement 2026/14

    A unit must be in the book (spindlebook arrival TAG --model NAME). Its lender becomes its owner where none is known.
    Whose it is in the book stays so, and is told where that is not the lender. Until it is given back it is lent on
    only until the day it is due. Keys of --json: those of loan list.
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
        today=face.today,
        now=face.now,
    )
    emit(loan_objects(rows), loan_columns(day_form(face), back=False), mode, under=MORE)
    tell_doubts_of(face, rows, "entry", mode)
    _tell_owners(face, rows)
    if mode == "table":
        say(f"To give back: spindlebook loan give-back {' '.join(typed(row.tag) for row in rows)}")


def _tell_owners(face: Face, rows: Sequence[LoanRow]) -> None:
    """Say which units belong to somebody else than who lends them: it may be right, and the lender answers for it."""
    from collection.views.loans import owned_by_others

    with face.view() as conn:
        found = owned_by_others(conn, rows)
    for row, owner in found:
        owns = f"spindlebook unit enter {typed(row.tag)} --owner {typed(row.person)} --on {row.out_on}"
        note(
            f"{row.tag} belongs to {owner}, as the book has it, and {row.person} lends it.",
            f"If the owner is wrong: {owns}",
            f"If the lender is: spindlebook loan edit {typed(row.loan)} --to PERSON --reason TEXT",
        )


@click.command("give-back")
@_TAGS
@click.option("--on", default="", metavar="DATE", help="Day it went back (else today).")
@state_options
@click.option("--missing", "missing", multiple=True, metavar="TEXT", help=_MISSING)
@click.option("--by", default="", metavar="PERSON", help="Who gives it back (else --who of the command).")
@output_options
@click.pass_obj
def give_back_command(
    face: Face, /, tags: tuple[str, ...], on: str, missing: tuple[str, ...], by: str, mode: Mode, **told: Any
) -> None:
    """Give borrowed units back to who lent them.

    They are gone from then on, and their history stays. Keys of --json: those of loan list.
    """
    from collection.acts.loan_given import ComingBack
    from collection.acts.loan_in import give_back

    find = finder(face)
    state, lacks = states(tags, told, find), one_of_each(tags, missing, "--missing", find)
    units = [ComingBack(tag, state[tag], missing=lacks[tag]) for tag in tags]
    rows = give_back(face.engine(), units, on=on, by=by, today=face.today, now=face.now)
    emit(loan_objects(rows), loan_columns(day_form(face), back=True), mode, under=MORE)
    tell_doubts_of(face, rows, "exit", mode)
