"""inventory: every unit with where it is and when it was last seen; and which nobody saw for a time."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, output_options, say

if TYPE_CHECKING:
    from collection.views.inventory import Listed


@click.command("inventory")
@click.option("--not-seen", default="", metavar="TIME", help="Only units that nobody saw for so long, as 12months.")
@click.option("--standing", default="", metavar="WORD", help="Only units standing so: ready, on loan, gone ...")
@click.option("--location", default="", metavar="NAME", help="Only units there, or in a place inside it.")
@click.option("--owner", default="", metavar="NAME", help="Only units of this person.")
@click.option("--kind", default="", metavar="WORD", help="Only units of this kind: drive, supply unit ...")
@click.option("--all", "gone_too", is_flag=True, help="Units that are gone, too.")
@sort_option
@past_options
@output_options
@click.pass_obj
def inventory_command(face: Face, /, not_seen: str, gone_too: bool, sort: str, mode: Mode, **wanted: str) -> None:
    """List every unit: where it is, whose, and when it was last seen.

    A unit was seen when it was at a shelf-check, checked, serviced, read, moved, lent, or came. A day that is known to
    its year or month alone counts as its first.

    Keys of --json: tag, name (maker and model), kind, pieces, serial, marks, photos (how many), location, owner,
    standing, last_seen, evidence (what tells it), by (who saw it), not_found_on (looked for in vain since).
    """
    from collection.analysis.horizon import day_back
    from collection.quantity import show_day
    from collection.store.book import open_book
    from collection.views.inventory import inventory, usual_owner
    from collection.views.unit_list import Wanted

    since = day_back(not_seen, face.today) if not_seen else None
    with face.view() as conn:
        found = inventory(conn, face.today, Wanted(**wanted), not_seen_since=since, gone_too=gone_too)
        form = open_book(conn).settings.date_form

    def day(text: str | None) -> str:
        return show_day(text, form) if text else ""

    hidden = ("kind", "pieces", "serial", "marks", "photos", "owner")
    columns = [
        *(Column(key, in_table=key not in hidden) for key in _KEYS),
        Column("last_seen", "last seen", day),
        Column("evidence", "by what"),
        Column("by", in_table=False),
        Column("not_found_on", in_table=False),
    ]
    usual = usual_owner(found)
    rows = [_object(row, usual, day) for row in found]
    from_day = f" since {day(since.isoformat())}" if since else ""
    empty = f"Every unit was seen{from_day}." if since else "No unit."
    emit(in_order(rows, columns, sort), columns, mode, empty=empty, under="below")
    if mode == "table" and rows:
        units = "1 unit" if len(rows) == 1 else f"{len(rows)} units"
        say(f"{units}{from_day and f' not seen{from_day}'}. To look: spindlebook shelf-check LOCATION")
        say(*filter(None, [usual and f"Owner, where none is named: {usual}."]))


def _object(row: Listed, usual_owner: str, day: Callable[[str], str]) -> dict[str, Any]:
    """Return a row for a program, and what stands below it for a person: another owner, and what was not found."""
    owner = "" if row.owner == usual_owner else f"owner {row.owner or 'not known'}"
    lost = row.not_found_on and f"looked for in vain on {day(row.not_found_on)}"
    known = {key: None if value == "" else value for key, value in row._asdict().items()}
    return known | {"below": "; ".join(filter(None, (owner, lost)))}


_KEYS = ("tag", "name", "kind", "pieces", "serial", "marks", "photos", "location", "owner", "standing")
