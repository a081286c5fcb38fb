"""loan overdue: who has what past its day, with a text to send."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from collection.cli.face import Face
from collection.cli.loan_rows import way
from collection.cli.past import past_options
from collection.cli.show import Column, Mode, emit, output_options, say
from collection.errors import typed

if TYPE_CHECKING:
    from collection.views.loans_overdue import Overdue


@click.command("overdue")
@click.option("--person", default="", metavar="NAME", help="Only what this person has, or lent.")
@past_options
@output_options
@click.pass_obj
def loan_overdue_command(face: Face, person: str, mode: Mode) -> None:
    """List who has what past its day, with a text to send to each.

    Nothing is sent: copy the text. Keys of --json: direction, person, email, phone, tags, loans, due_on, days_over (of
    the one that is longest over), reminder (null for what was borrowed).
    """
    from collection.quantity import show_day
    from collection.store.book import open_book
    from collection.views.loans_overdue import overdue_loans

    with face.view() as conn:
        found = overdue_loans(conn, face.today, person)
        form = open_book(conn).settings.date_form
    columns = [
        Column("direction", "way", way),
        Column("person"),
        Column("tags"),
        Column("loans"),
        Column("due_on", "due", lambda day: show_day(day, form)),
        Column("days_over", "days over"),
        *(Column(key, in_table=False) for key in ("email", "phone", "reminder")),
    ]
    emit([_object(row) for row in found], columns, mode, empty="Nothing is overdue.")
    if mode == "table":
        _tell_reminders(found)


def _tell_reminders(found: list[Overdue]) -> None:
    for row in found:
        if row.reminder:
            say("", f"To send to {_reached(row)}:", bold=True)
            say("", *row.reminder)
        else:
            words = " ".join(map(typed, row.tags))
            say("", f"To go back to {_reached(row)}, who lent it: spindlebook loan give-back {words}")


def _reached(row: Overdue) -> str:
    return ", ".join(text for text in (row.person, row.email, row.phone) if text)


def _object(row: Overdue) -> dict[str, Any]:
    texts = {key: getattr(row, key) or None for key in ("direction", "person", "email", "phone", "tags", "loans")}
    return texts | {
        "due_on": row.due_on,
        "days_over": row.days_over,
        "reminder": "\n".join(row.reminder) or None,
    }
