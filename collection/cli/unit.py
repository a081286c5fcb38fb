"""unit: list, show, add, edit and enter."""

from __future__ import annotations

from typing import Any

import click

from collection.cli.face import Face
from collection.cli.show import Column, Mode, emit, emit_object, output_options
from collection.cli.tags import complete_tag
from collection.quantity import show_day

SORTS = ("tag", "kind", "model", "owner", "location", "standing", "due")


@click.group("unit")
def unit_group() -> None:
    """List, show, add and edit units."""


@unit_group.command("list")
@click.option("--standing", default="", metavar="WORD", help="Only units standing so: ready, on loan, gone ...")
@click.option("--location", default="", metavar="NAME", help="Only units there, or in a place inside it.")
@click.option("--owner", default="", metavar="NAME", help="Only units of this person.")
@click.option("--kind", default="", metavar="WORD", help="Only units of this kind: drive, supply unit ...")
@click.option("--model", default="", metavar="NAME", help="Only units of this model.")
@click.option("--sort", type=click.Choice(SORTS), default="tag", show_default=True, help="The order of the list.")
@output_options
@click.pass_obj
def list_command(face: Face, /, mode: Mode, sort: str, **wanted: str) -> None:
    """List units as they stand today.

    Keys of --json: tag, kind, model, maker, serial, owner, location, standing, due (the day of the next work).
    """
    from collection.store.book import open_book
    from collection.views.unit_list import Wanted, listed_units

    with face.view() as connection:
        rows = listed_units(connection, face.today, Wanted(**wanted), sort)
        form = open_book(connection).settings.date_form
    known = [{key: getattr(row.unit, key) or None for key in _KEYS} | {"due": row.due} for row in rows]
    emit(known, _columns(form), mode, empty="No unit. Type: spindlebook unit add TAG --model NAME")


@unit_group.command("show")
@click.argument("tag", shell_complete=complete_tag)
@click.option("--json", "as_json", is_flag=True, help="Print JSON: one object.")
@click.pass_obj
def show_command(face: Face, tag: str, as_json: bool) -> None:
    """Show the card of a unit: all the book has on it.

    The keys of --json stand in docs/json-keys.md.
    """
    from collection.cli.card import card_object, show_card
    from collection.store.book import open_book
    from collection.views.card import card_of

    with face.view() as connection:
        card = card_of(connection, tag, face.today)
        form = open_book(connection).settings.date_form
    if as_json:
        emit_object(card_object(card, face.today))
    else:
        show_card(card, face.today, form)


_KEYS = ("tag", "kind", "model", "maker", "serial", "owner", "location", "standing")


def _columns(form: str) -> list[Column]:
    def day(value: Any) -> str:
        return show_day(value.isoformat(), form) if value else ""

    hidden = ("maker", "serial")
    return [*(Column(key, in_table=key not in hidden) for key in _KEYS), Column("due", show=day)]
