"""pairing: which supply unit feeds which drive."""

from __future__ import annotations

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_tag

_ON = click.option("--on", default="", metavar="DATE", help="From which day (else today).")


@click.group("pairing")
def pairing_group() -> None:
    """Tell which supply unit feeds which drive."""


@pairing_group.command("add")
@click.argument("tag", metavar="DRIVE", shell_complete=complete_tag)
@click.argument("supply_unit", metavar="SUPPLY_UNIT", shell_complete=complete_tag)
@_ON
@click.pass_obj
def add_command(face: Face, tag: str, supply_unit: str, on: str) -> None:
    """Note which supply unit feeds a drive from a day on.

    The pairing that the drive had until then ends on that day.
    """
    from collection.acts.pairings import add_pairing

    paired = add_pairing(face.engine(), tag, supply_unit, on=on, today=face.today, now=face.now)
    say(f"{paired.made.drive} is fed by {paired.made.supply_unit} from {paired.made.from_date}.")
    if paired.ended is not None:
        say(f"Ended: {paired.ended.supply_unit}, which fed it since {paired.ended.from_date}.")


@pairing_group.command("end")
@click.argument("tag", metavar="DRIVE", shell_complete=complete_tag)
@_ON
@click.pass_obj
def end_command(face: Face, tag: str, on: str) -> None:
    """Note that a drive is no longer fed by its supply unit."""
    from collection.acts.pairings import end_pairing

    ended = end_pairing(face.engine(), tag, on=on, today=face.today, now=face.now)
    say(f"{ended.drive} was fed by {ended.supply_unit} until {ended.to_date}.")


@pairing_group.command("list")
@click.argument("tag", required=False, default="", shell_complete=complete_tag)
@click.option("--all/--open", "everything", help="Also those that ended.  [default: open]")
@past_options
@output_options
@click.pass_obj
def list_command(face: Face, tag: str, everything: bool, mode: Mode) -> None:
    """List which supply unit feeds which drive.

    Keys of --json: drive, supply_unit, from_date, to_date.
    """
    from collection.quantity import show_day
    from collection.store.book import open_book
    from collection.views.pairings import pairing_list
    from collection.views.units import find_unit

    with face.view() as conn:
        rows = pairing_list(conn, find_unit(conn, tag).id if tag else None)
        form = open_book(conn).settings.date_form

    def day(value: str | None) -> str:
        return show_day(value, form) if value else ""

    columns = (
        Column("drive"),
        Column("supply_unit"),
        Column("from_date", "from", day),
        Column("to_date", "until", day),
    )
    chosen = [row._asdict() | {"to_date": row.to_date or None} for row in rows if everything or not row.to_date]
    emit(chosen, columns, mode, empty="No drive is paired with a supply unit.")
