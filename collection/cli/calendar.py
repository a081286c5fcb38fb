"""calendar: what is due, planned, lent and expiring, for a phone or a desk."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import click

from collection.cli.face import Face
from collection.cli.show import note, say

_KINDS = ("due", "bench", "loan", "expiry")
_ONE = {"due": "due", "bench": "bench day", "loan": "loan", "expiry": "expiry"}
_MANY = {"due": "due", "bench": "bench days", "loan": "loans", "expiry": "expiries"}


@click.command("calendar")
@click.argument("file", metavar="FILE.ics", type=click.Path(path_type=Path))
@click.option("--only", multiple=True, type=click.Choice(_KINDS), help="Only these; may be given several times.")
@click.option("--no-people", is_flag=True, help="Leave people, and names of loans and entries, out.")
@click.option("--replace", is_flag=True, help="Write over a file of the name.")
@click.pass_obj
def calendar_command(face: Face, file: Path, only: tuple[str, ...], no_people: bool, replace: bool) -> None:
    """Write what is due, bench days, loans and expiries as a calendar file.

    due: the next opening of each unit with all that goes along, and checks of instruments and disks. bench: the bench
    days of the next eight weeks with their units. loan: when units are due back, lent or borrowed, when what
    was brought goes back (arrival --return-by), and from when units are reserved. expiry: the last day of lots and
    policies. What is overdue stands on today.

    Phones and desks import the file (iCalendar, RFC 5545). A later one changes the entries that moved and adds none
    twice; what is over meanwhile, as a loan that came back, is sent as cancelled for a year.
    """
    from collection.cli.kept import kept_rechecks
    from collection.exchange.calendar_file import as_calendar, refuse_calendar, save_calendar
    from collection.store.book import open_book
    from collection.views.calendar import calendar_entries, sequence

    refuse_calendar(file, replace=replace)
    kinds = only or _KINDS
    with face.view() as connection:
        book = open_book(connection)
        rechecks = kept_rechecks(face, connection, book.settings.risk)
        entries = calendar_entries(connection, face.today, book, rechecks, kinds, with_people=not no_people)
        name = book.settings.name or "Spindlebook"
        content = as_calendar(entries, name=name, now=face.now, sequence=sequence(connection))
    save_calendar(content, file, replace=replace)
    counted = Counter(entry.kind for entry in entries if not entry.ended)
    said = ", ".join(f"{counted[kind]} {(_ONE if counted[kind] == 1 else _MANY)[kind]}" for kind in kinds)
    say(f"Written to {file}: {said}.")
    if "bench" in kinds and book.settings.bench_weekdays is None:
        note("No bench days are set, so none are in it.", "To set them: spindlebook book set --bench-days sat,sun")
    if any(entry.personal for entry in entries):
        note("People are named in it: mind who gets the file, or add --no-people.")
