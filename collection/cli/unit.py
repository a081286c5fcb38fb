"""unit: list, show, add, edit and enter."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, ParamSpec, TypeVar

import click

from collection.cli.face import Face
from collection.cli.lubricated import lubricated_command
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, emit_object, note, output_options, say
from collection.cli.tags import complete_tag
from collection.cli.turn import turn_command
from collection.cli.unit_arrivals import arrivals_command
from collection.cli.unit_dispose import disposals_command, dispose_command, edit_disposal_command
from collection.cli.unit_move import move_command, places_command
from collection.cli.unit_uses import uses_command
from collection.cli.value import cost_command
from collection.errors import typed
from collection.quantity import show_day

P = ParamSpec("P")
T = TypeVar("T")
_NOTHING = "(nothing)"


@click.group("unit")
def unit_group() -> None:
    """List, show, add and edit units."""


@unit_group.command("list")
@click.option("--standing", default="", metavar="WORD", help="Only units standing so: ready, on loan, gone ...")
@click.option("--location", default="", metavar="NAME", help="Only units there, or in a place inside it.")
@click.option("--owner", default="", metavar="NAME", help="Only units of this person.")
@click.option("--kind", default="", metavar="WORD", help="Only units of this kind: drive, supply unit ...")
@click.option("--model", default="", metavar="NAME", help="Only units of this model.")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, /, mode: Mode, sort: str, **wanted: str) -> None:
    """List units as they stand today.

    Keys of --json: tag, kind, model, maker, serial, owner, location, standing, due (the day of the next work).
    """
    from collection.cli.kept import kept_rechecks
    from collection.store.book import open_book
    from collection.views.unit_list import Wanted, listed_units

    with face.view() as connection:
        settings = open_book(connection).settings
        rechecks = kept_rechecks(face, connection, settings.risk)
        rows = listed_units(connection, face.today, Wanted(**wanted), rechecks)
        form = settings.date_form
    known = [{key: getattr(row.unit, key) or None for key in _KEYS} | {"due": row.due} for row in rows]
    columns = _columns(form)
    emit(in_order(known, columns, sort), columns, mode, empty="No unit. Type: spindlebook unit add TAG --model NAME")


@unit_group.command("show")
@click.argument("tag", shell_complete=complete_tag)
@past_options
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def show_command(face: Face, tag: str, as_json: bool) -> None:
    """Show the card of a unit: all the book has on it.

    The keys of --json stand in docs/json-keys.md.
    """
    from collection.cli.card import card_object, show_card
    from collection.cli.kept import kept_rechecks
    from collection.store.book import open_book
    from collection.views.card import card_of

    with face.view() as connection:
        settings = open_book(connection).settings
        card = card_of(connection, tag, face.today, kept_rechecks(face, connection, settings.risk))
        form = settings.date_form
    if as_json:
        emit_object(card_object(card, face.today))
    else:
        show_card(card, face.today, form)


def record_options(command: Callable[P, T]) -> Callable[P, T]:
    """Add an option for each column of a unit's own record; those not typed arrive as None."""
    return _with_options(command, _RECORD)


def record_options_but_note(command: Callable[P, T]) -> Callable[P, T]:
    """As `record_options`, for a command that has a --note of its own."""
    return _with_options(command, [each for each in _RECORD if each[0] != "note"])


def _with_options(command: Callable[P, T], options: Sequence[tuple[str, str]]) -> Callable[P, T]:
    for name, text in reversed(options):
        command = click.option(f"--{name}", metavar="TEXT", help=text)(command)
    return command


_RECORD = (
    ("model", "Its model."),
    ("maker", "The maker of its model, where several have one of this name."),
    ("kind", "With a new model: drive, mechanism, supply unit, computer, test gear, medium ..."),
    ("drive-type", "With a new model: belt, direct adjustable, direct crystal, AC motor, unknown."),
    ("nominal-speed", "With a new model: r/min, several by ;"),
    ("serial", "The serial number."),
    ("serial-state", "known, lost or illegible."),
    ("acquired-on", "The day it came, as 2019, 2019-05 or 2019-05-17."),
    ("acquired-from", "The person it came from."),
    ("acquired-how", "How it was acquired: bought, as a gift, by exchange, found, left to the club ..."),
    ("title-evidence", "What shows whose it is: the letter of gift, a receipt, and where that is kept."),
    ("price", "What was paid for it."),
    ("currency", "Of the price, as EUR; the book's own when left out."),
    ("condition", "In what condition it is."),
    ("marks", "Marks and labels by which it is known."),
    ("drive-number", "Its drive number, as jumpers or switch set it."),
    ("jumpers", "How its jumpers are set."),
    ("rom", "The version of its ROM."),
    ("modifications", "What was changed in it."),
    ("accessories", "What belongs to it."),
    ("box", "The box it is kept or sent in."),
    ("rescue-rank", "In an emergency it is carried out in this place: 1 is the first."),
    ("rescue-note", "What to mind when it is carried out: heavy, two people, glass ..."),
    ("note", "Anything else."),
)


@unit_group.command("add")
@click.argument("tag")
@record_options
@click.option("--owner", metavar="NAME", help="Whose it is.")
@click.option("--location", metavar="NAME", help="Where it is.")
@click.option("--new-location", is_flag=True, help="Make the location if the book has none of this name.")
@click.option("--standing", metavar="WORD", help="How it stands; arrived when left out.")
@click.option("--on", default="", metavar="DATE", help="Since when; today when left out.")
@click.option("--reason", default="", help="Why it stands so, where a rule asks.")
@click.pass_obj
def add_command(face: Face, /, tag: str, on: str, reason: str, new_location: bool, **columns: str | None) -> None:
    """Add a unit.

    A model that is new to the book is made when its --kind is given.
    """
    from collection.acts.units import add_unit

    added = add_unit(
        face.engine(),
        tag,
        _given(columns),
        on=on,
        reason=reason,
        new_location=new_location,
        today=face.today,
        now=face.now,
    )
    made = " (new model)" if added.new_model else ""
    say(f"Added {added.tag}, {added.model}{made}: {added.standing}.")
    _tell_doubts(added.doubts)
    say(f"Next: spindlebook service record {typed(added.tag)}")


@unit_group.command("edit")
@click.argument("tag", shell_complete=complete_tag)
@click.option("--tag", "new_tag", metavar="TEXT", help="Another tag; the old one stays as an alias.")
@click.option("--alias", "aliases", multiple=True, metavar="TEXT", help="One more name it is found by.")
@record_options
@click.option("--reason", default="", metavar="TEXT", help="Why it is changed; the history keeps it.")
@click.pass_obj
def edit_command(
    face: Face, /, tag: str, new_tag: str | None, aliases: tuple[str, ...], reason: str, **columns: str | None
) -> None:
    """Change what the record of a unit says.

    An empty text takes a value away: --serial "". Owner, location and standing are entered by date: unit enter.
    What it said before stays in the history: spindlebook history TAG
    """
    from collection.acts.units import edit_unit

    given = _given({"tag": new_tag, **columns})
    if not given and not aliases:
        raise click.UsageError("Nothing to change is given.")
    edited = edit_unit(face.engine(), tag, given, aliases=aliases, reason=reason, today=face.today, now=face.now)
    for name, before, after in edited.changes:
        say(f"{edited.tag}: {name.replace('_', ' ')} {before or _NOTHING} -> {after or _NOTHING}")
    if not edited.changes:
        say(f"Nothing to do: {edited.tag} says so already.")
    _tell_doubts(edited.doubts)


@unit_group.command("enter")
@click.argument("tag", shell_complete=complete_tag)
@click.option("--owner", default="", metavar="NAME", help="Whose it is.")
@click.option("--location", default="", metavar="NAME", help="Where it is.")
@click.option("--new-location", is_flag=True, help="Make the location if the book has none of this name.")
@click.option("--standing", default="", metavar="WORD", help="How it stands; gone retires it.")
@click.option("--on", default="", metavar="DATE", help="From which day; today when left out.")
@click.option("--by", default="", metavar="PERSON", help="Who moved it, or uses it from then on.")
@click.option("--reason", default="", help="Why; needed for gone.")
@click.pass_obj
def enter_command(face: Face, /, tag: str, **told: Any) -> None:
    """Enter a new owner, location or standing from a day on.

    Earlier entries stay: the book tells what held on any day. --standing gone retires a unit, with a --reason; unit
    dispose says besides who has it, who decided and for how much. Both are refused while it is on loan, borrowed,
    reserved or in service, and for a day after which a record shows it here.
    """
    from collection.acts.units import enter

    if not (told["owner"] or told["location"] or told["standing"]):
        raise click.UsageError("Give --owner, --location or --standing.")
    entered = enter(face.engine(), tag, **told, today=face.today, now=face.now)
    for one in entered:
        say(f"{one.what} {one.before or _NOTHING} -> {one.after}")
        if one.now != one.after:
            say(f"A later entry holds today: {one.what} {one.now}")
    if not entered:
        say("Nothing to do: it is so already.")


unit_group.add_command(turn_command)
unit_group.add_command(lubricated_command)
unit_group.add_command(cost_command)
unit_group.add_command(arrivals_command)
unit_group.add_command(dispose_command)
unit_group.add_command(edit_disposal_command)
unit_group.add_command(disposals_command)
unit_group.add_command(uses_command)
unit_group.add_command(move_command)
unit_group.add_command(places_command)


def _given(columns: Mapping[str, str | None]) -> dict[str, str]:
    return {name: value for name, value in columns.items() if value is not None}


def _tell_doubts(doubts: tuple[str, ...]) -> None:
    for doubt in doubts:
        note(f"Marked as doubtful: serial: {doubt}")


_KEYS = ("tag", "kind", "model", "maker", "serial", "owner", "location", "standing")


def _columns(form: str) -> list[Column]:
    def day(value: Any) -> str:
        return show_day(value.isoformat(), form) if value else ""

    hidden = ("maker", "serial")
    return [*(Column(key, in_table=key not in hidden) for key in _KEYS), Column("due", show=day)]
