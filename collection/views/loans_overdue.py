"""What is past the day it was due back, by the person who has it or lent it, with a text to send."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.analysis.reminders import StillOut, reminder
from collection.quantity import show_day
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.loans import LoanRow, loan_list
from collection.views.people import find_person

_MODELS = "SELECT u.tag, m.name FROM unit u JOIN model m ON m.id = u.model_id WHERE u.void = 0"


@dataclass(frozen=True, slots=True)
class Overdue:
    """What is overdue of one person; direction as of the loans.

    days_over: of the one that is longest over, above zero. due_on: its day. reminder: the lines of a text to send; none
    for what was borrowed from them, for that is the book's own to bring back.
    """

    direction: str
    person: str
    email: str
    phone: str
    tags: list[str]
    loans: list[str]
    due_on: str
    days_over: int
    reminder: list[str]


def overdue_loans(conn: Connection, today: date, person: str = "") -> list[Overdue]:
    """Return who has what past its day, the longest over first. Raises Refused for an unknown person."""
    only = find_person(conn, person).name if person.strip() else ""
    settings = open_book(conn).settings
    models = dict(fetch(conn, _MODELS))
    held: dict[tuple[str, str], list[LoanRow]] = {}
    for row in loan_list(conn, today):
        if row.days_over > 0 and only in ("", row.person):
            held.setdefault((row.direction, row.person), []).append(row)
    found = [
        _overdue(conn, direction, name, rows, models, settings.date_form, settings.name or "")
        for (direction, name), rows in held.items()
    ]
    return sorted(found, key=lambda each: (-each.days_over, each.person))


def _overdue(
    conn: Connection, direction: str, name: str, rows: list[LoanRow], models: dict[str, str], form: str, sender: str
) -> Overdue:
    person = find_person(conn, name, forgotten_too=True)
    units = [
        StillOut(row.tag, models[row.tag], row.loan, show_day(row.out_on, form), show_day(row.due_on, form), row.along)
        for row in rows
    ]
    worst = max(rows, key=lambda row: row.days_over)
    return Overdue(
        direction,
        name,
        person.email,
        person.phone,
        [row.tag for row in rows],
        list(dict.fromkeys(row.loan for row in rows)),
        worst.due_on,
        worst.days_over,
        reminder(name, units, sender) if direction == "out" else [],
    )
