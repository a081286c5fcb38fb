"""unit arrivals: what came in, from whom, why and until when."""

from __future__ import annotations

from typing import Any

import click

from collection.cli.face import Face
from collection.cli.past import past_options
from collection.cli.rows import in_order, sort_option
from collection.cli.show import Column, Mode, emit, output_options
from collection.cli.tags import complete_tag
from collection.views.custody_rows import ENTRY_KEYS, entry_row


@click.command("arrivals")
@click.argument("tag", required=False, default="", shell_complete=complete_tag)
@click.option("--to-return", is_flag=True, help="Only those that are here and go back on a day.")
@past_options
@sort_option
@output_options
@click.pass_obj
def arrivals_command(face: Face, tag: str, to_return: bool, sort: str, mode: Mode) -> None:
    """List what came in: from whom, why, and until when it stays.

    What one person brought on one day may share its entry number. Keys of --json: entry_number, tag, model, arrived_on,
    from, reason, return_by, days_over (negative while the day is ahead), receipt_on.
    """
    from collection.store.book import open_book
    from collection.views.entries import entry_list
    from collection.views.units import find_unit

    with face.view() as conn:
        listed = entry_list(conn, face.today)
        unit_id = find_unit(conn, tag).id if tag else None
        form = open_book(conn).settings.date_form
    chosen = [row for row in listed if unit_id in (None, row.unit.id)]
    rows = [entry_row(row) for row in chosen if row.days_over is not None or not to_return]
    columns = _in_table(form) if mode == "table" else _COLUMNS
    empty = "Nothing here goes back on a day." if to_return else "No arrival. Type: spindlebook arrival TAG"
    emit(in_order(rows, _COLUMNS, sort), columns, mode, empty=empty)


def _in_table(form: str) -> list[Column]:
    from collection.quantity import show_day

    def day(value: Any) -> str:
        return show_day(value, form) if value else ""

    return [
        Column("entry_number", "entry"),
        Column("tag"),
        Column("model"),
        Column("arrived_on", "arrived", day),
        Column("from"),
        Column("reason", "for"),
        Column("return_by", "goes back by", day),
        Column("days_over", "days over", lambda days: str(days) if days is not None and days > 0 else ""),
        Column("receipt_on", "receipt", day),
    ]


_COLUMNS = tuple(map(Column, ENTRY_KEYS))
