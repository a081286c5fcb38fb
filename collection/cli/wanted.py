"""wanted: the parts that units wait for."""

from __future__ import annotations

from typing import Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_tag
from collection.cli.whole import Whole
from collection.errors import typed
from collection.views.list_rows import WANTED_KEYS, wanted_row

_ON = click.option("--on", default="", metavar="DATE", help="Since when (else today).")


@click.group("wanted")
def wanted_group() -> None:
    """Note the parts that units wait for."""


@wanted_group.command("add")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("part")
@click.option("--supply", default="", metavar="SUPPLY", help="The supply that it is, so that receiving it is noticed.")
@click.option("--pieces", type=Whole(), default=1, show_default=True, metavar="NUMBER", help="How many.")
@_ON
@click.option("--note", default="", metavar="TEXT", help="Anything else.")
@click.pass_obj
def add_command(face: Face, /, tag: str, part: str, **told: Any) -> None:
    """Note that a unit wants a part.

    It stands on the shopping list (reorder) until it is got, fitted or dropped. A unit that stands awaiting parts is
    due again once all it wants is there.
    """
    from collection.acts.wanted import GivenWant, add_wanted

    wanted = add_wanted(face.engine(), tag, GivenWant(part, **told), today=face.today, now=face.now)
    row = wanted.row
    used_for = f", for its {row.part}" if row.supply not in ("", row.part) else ""
    say(f"{row.tag} wants {row.pieces} x {row.name}{used_for}.")
    if wanted.there is None:
        say(f"No supply is told. When it is there: spindlebook wanted got {typed(row.tag)} {typed(row.part)}")
    else:
        say(f"In the drawer: {wanted.there}.")


@wanted_group.command("list")
@click.argument("tag", required=False, default="", shell_complete=complete_tag)
@click.option("--all/--open", "everything", help="Also what was got or dropped.  [default: open]")
@sort_option
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, tag: str, everything: bool, sort: str, mode: Mode) -> None:
    """List the parts wanted, by one unit or by all.

    Keys of --json: tag, part, supply, pieces, wanted_on, got_on, dropped_on, reason, note.
    """
    from collection.store.book import open_book
    from collection.views.units import find_unit
    from collection.views.wanted import wanted_list

    with face.view() as conn:
        rows = wanted_list(conn, find_unit(conn, tag).id if tag else None)
        form = open_book(conn).settings.date_form
    chosen = [wanted_row(row) for row in rows if everything or row.open]
    emit(in_order(chosen, _columns(form), sort), _columns(form), mode, empty="No part is wanted.")


@wanted_group.command("got")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("part")
@_ON
@click.pass_obj
def got_command(face: Face, tag: str, part: str, on: str) -> None:
    """Note that a wanted part is there.

    Fitting a part does it too: service record TAG --part "PART=SUPPLY".
    """
    from collection.acts.wanted import got_wanted

    row = got_wanted(face.engine(), tag, part, on=on, today=face.today, now=face.now)
    say(f"{row.tag}: {row.name} got {row.got_on}.")


@wanted_group.command("drop")
@click.argument("tag", shell_complete=complete_tag)
@click.argument("part")
@click.option("--reason", default="", metavar="TEXT", help="Why it is not wanted any more.")
@_ON
@click.pass_obj
def drop_command(face: Face, tag: str, part: str, reason: str, on: str) -> None:
    """Note that a part is not wanted any more; a --reason is required."""
    from collection.acts.wanted import drop_wanted

    row = drop_wanted(face.engine(), tag, part, reason=reason, on=on, today=face.today, now=face.now)
    say(f"{row.tag}: {row.name} is not wanted any more ({row.reason}).")


def _columns(form: str) -> list[Column]:
    from collection.quantity import show_day

    def day(value: str | None) -> str:
        return show_day(value, form) if value else ""

    days = {"wanted_on": "wanted", "got_on": "got", "dropped_on": "dropped"}
    return [Column(key, days[key], day) if key in days else Column(key) for key in WANTED_KEYS]
