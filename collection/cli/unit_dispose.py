"""unit dispose, edit-disposal and disposals: what leaves for good."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.edit_options import field_options, given_of, tell_edited
from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, emit_object, note, output_options, say
from collection.cli.tags import complete_tag
from collection.errors import typed
from collection.views.custody_rows import EXIT_KEYS, exit_row

if TYPE_CHECKING:
    from collection.views.exits import Exit

_WAYS = "sold, given, exchanged, given back, transferred, scrapped or lost."
_SAYS = (
    ("to", "PERSON", "Who has it now; nobody where it was scrapped or lost."),
    ("authority", "PERSON", "Who decided it."),
    ("price", "SUM", 'What was paid for it, as 120 or "120 EUR".'),
    ("receipt", "DATE", "Day on which who has it signed for it."),
    ("note", "TEXT", "Anything else."),
)
_NAMED = {"receipt": "receipt_on"}


@click.command("dispose")
@click.argument("tag", shell_complete=complete_tag)
@click.option("--how", required=True, metavar="WORD", help=f"How it left: {_WAYS}")
@click.option("--reason", required=True, metavar="TEXT", help="Why it left.")
@click.option("--on", default="", metavar="DATE", help="Day it left (else today).")
@field_options(*_SAYS, named=_NAMED, reason=False)
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def dispose_command(face: Face, /, tag: str, on: str, as_json: bool, **told: str | None) -> None:
    """Let a unit leave for good, with why, to whom and who decided.

    \b
    spindlebook unit dispose D7 --how sold --reason "three of this model" \\
      --to "Ada Field" --authority "Ida Keeper" --price 120

    It stands gone from that day on, all that is known of it stays, and its tag is given to no other unit. One on loan,
    reserved or in service does not leave; a borrowed one goes back by loan give-back. Nor does one leave on a day after
    which a record shows it here (a reading, a service, a move, a loan and so on): type a later --on, or undo what is
    wrong. Keys of --json: those of unit disposals.
    """  # noqa: D301  \b is how click is told to keep lines as they are
    from collection.acts.dispose import GivenExit, dispose

    given = GivenExit(**{name: text or "" for name, text in told.items()})
    made = dispose(face.engine(), tag, given, on=on, today=face.today, now=face.now)
    if as_json:
        emit_object(exit_row(made))
        return
    _tell(made)


@click.command("edit-disposal")
@click.argument("tag", shell_complete=complete_tag)
@field_options(("how", "WORD", _WAYS), ("why", "TEXT", "Why it left."), *_SAYS, named={"why": "why", **_NAMED})
@click.pass_obj
def edit_disposal_command(face: Face, /, tag: str, reason: str, why: str | None, **told: str | None) -> None:
    """Put right what is told of a unit that left, as that it was signed for.

    How and why it left, to whom and the price need a --reason. The day is put right by undo.
    """
    from collection.acts.dispose import edit_exit

    given = given_of({"reason": why, **told})
    tell_edited(edit_exit(face.engine(), tag, given, reason=reason, today=face.today, now=face.now))


@click.command("disposals")
@click.argument("tag", required=False, default="", shell_complete=complete_tag)
@past_options
@sort_option
@output_options
@click.pass_obj
def disposals_command(face: Face, tag: str, sort: str, mode: Mode) -> None:
    """List what left for good: when, how, why, to whom.

    A unit that is gone with nothing told is among them. Keys of --json: tag, model, left_on, how, reason, to,
    authority, price, currency, receipt_on, note.
    """
    from collection.store.book import open_book
    from collection.views.exits import exit_list
    from collection.views.units import find_unit

    with face.view() as conn:
        listed = exit_list(conn, face.today, find_unit(conn, tag).id if tag else None)
        form = open_book(conn).settings.date_form
    rows = [exit_row(each) for each in listed]
    columns = _in_table(form) if mode == "table" else _COLUMNS
    emit(in_order(rows, _COLUMNS, sort), columns, mode, empty="Nothing has left.")


def _tell(made: Exit) -> None:
    to = f" to {made.to}" if made.to else ""
    price = f" for {made.price.text} {made.price.currency}" if made.price else ""
    say(f"{made.tag} is gone since {made.left_on}: {made.how}{to}{price}. Its tag is given to no other unit.")
    if made.to:
        say(f"Its page, to go with it: spindlebook report unit-history {typed(made.tag)} --no-prices --no-people")
    edit = f"spindlebook unit edit-disposal {typed(made.tag)}"
    if made.to and not made.receipt_on:
        say(f"To be signed: spindlebook report disposal {typed(made.tag)}; and then: {edit} --receipt DATE")
    if not made.authority:
        note(f"Nobody is named who decided it: {edit} --authority PERSON")


def _in_table(form: str) -> list[Column]:
    from collection.quantity import show_day

    def day(value: Any) -> str:
        return show_day(value, form) if value else ""

    return [
        Column("tag"),
        Column("model"),
        Column("left_on", "left", day),
        Column("how"),
        Column("to"),
        Column("price", right=True),
        Column("currency", ""),
        Column("reason"),
        Column("authority", "decided by"),
        Column("receipt_on", "signed for", day),
    ]


_COLUMNS = tuple(map(Column, EXIT_KEYS))
