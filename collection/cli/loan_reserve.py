"""loan reserve, unreserve, reservations: units kept for somebody from one day to another."""

from __future__ import annotations

import click

from collection.cli.face import Face
from collection.cli.loan_rows import day_form, shown_day
from collection.cli.past import past_options
from collection.cli.rows import in_order, naming, sort_option
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.cli.tags import complete_tag
from collection.errors import typed
from collection.views.custody_rows import reservation_row

_TAGS = click.argument("tags", nargs=-1, required=True, metavar="TAG...", shell_complete=complete_tag)


@click.command("reserve")
@_TAGS
@click.option("--to", required=True, metavar="PERSON", help="For whom they are kept.")
@click.option("--from", "first", required=True, metavar="DATE", help="First day.")
@click.option("--until", "last", required=True, metavar="DATE", help="Last day.")
@click.option("--purpose", default="", metavar="TEXT", help="What they are wanted for.")
@output_options
@click.pass_obj
def reserve_command(face: Face, /, tags: tuple[str, ...], mode: Mode, **told: str) -> None:
    """Keep units for a person between two days.

    A unit is not lent to others for a time that shares a day with it, unless with a reason. The loan to that person
    closes it. Keys of --json: those of loan reservations.
    """
    from collection.acts.reservations import reserve

    rows = reserve(face.engine(), tags, **told, today=face.today, now=face.now)
    emit([reservation_row(row, face.today) for row in rows], _columns(face), mode)
    if mode == "table":
        tags_now = " ".join(typed(row.tag) for row in rows)
        say(f"To lend: spindlebook loan out {tags_now} --to {typed(rows[0].person)} --due {rows[0].to_date}")


@click.command("unreserve")
@_TAGS
@click.option("--to", "person", default="", metavar="PERSON", help="For whom, where it is kept for several.")
@click.option("--from", "first", default="", metavar="DATE", help="The first day of the one that is meant.")
@click.option("--reason", default="", metavar="TEXT", help="Why it is given up; the history keeps it.")
@click.pass_obj
def unreserve_command(face: Face, /, tags: tuple[str, ...], **told: str) -> None:
    """Give up the reservation of units."""
    from collection.acts.reservations import unreserve

    day = shown_day(day_form(face))
    for row in unreserve(face.engine(), tags, **told, today=face.today, now=face.now):
        say(f"{row.tag} is not kept for {row.person} any more ({day(row.from_date)} to {day(row.to_date)}).")


@click.command("reservations")
@click.option("--all", "closed_too", is_flag=True, help="Those that are over, lent or given up too.")
@click.option("--unit", "tag", default="", metavar="TAG", help="Only of this unit.", shell_complete=complete_tag)
@click.option("--person", default="", metavar="NAME", help="Only for this person.")
@sort_option
@past_options
@output_options
@click.pass_obj
def reservations_command(face: Face, /, closed_too: bool, tag: str, sort: str, mode: Mode, **wanted: str) -> None:
    """List which units are kept for whom, by their first day.

    Keys of --json: tag, person, from_date, to_date, purpose, state (ahead, now, over, lent, given up), closed_on,
    reason (why it was given up), loan.
    """
    from collection.views.reservations import reservation_list
    from collection.views.units import find_unit

    with face.view() as conn:
        only = find_unit(conn, tag).id if tag else None
        listed = reservation_list(conn, face.today, closed_too=closed_too)
        found = [each for each in listed if only in (None, each.unit_id)]
    columns = _columns(face)
    rows = in_order(naming([reservation_row(row, face.today) for row in found], **wanted), columns, sort)
    emit(rows, columns, mode, empty="Nothing is reserved.")


def _columns(face: Face) -> list[Column]:
    day = shown_day(day_form(face))
    return [
        Column("tag"),
        Column("person"),
        Column("from_date", "from", day),
        Column("to_date", "until", day),
        Column("state"),
        Column("loan"),
        Column("purpose"),
        Column("closed_on", in_table=False),
        Column("reason"),
    ]
