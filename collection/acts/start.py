"""Starting a book: the schema, the book's own settings and the reference data, or nothing at all."""

import os
from datetime import date, datetime
from pathlib import Path

from collection.acts.instruments import bring_in_eye
from collection.acts.reference import bring_in_reference
from collection.acts.work import Work, open_work
from collection.analysis.currencies import refuse_unknown_currency
from collection.errors import Refused
from collection.schema.journal import DATE_FORMS
from collection.store.backup import journal_path
from collection.store.book import BookSettings
from collection.store.engine import book_url, opened
from collection.store.migrate import create_schema, new_schema, refuse_filled
from collection.store.place import beside, put_in_place


def start_book(location: str, settings: BookSettings, *, today: date, now: datetime, made_by: str = "start") -> None:
    """Create a book at ``location`` with its reference data; refused when something stands there.

    A file is made under another name and gets its own when it is whole, a database on a server gets its tables and
    its first act in one transaction: a start that is cut short leaves no half book.
    """
    check_settings(settings)
    url = book_url(location)
    if url.get_backend_name() == "sqlite":
        _start_file(Path(str(url.database)), settings, today, now, made_by)
        return
    with new_schema(location) as connection:
        work = Work(connection, today, now)
        work.begin("start", None)
        _first_act(work, settings, made_by)


def refuse_existing(location: str) -> None:
    """Refuse a place in which something stands, and a server that is out of reach."""
    url = book_url(location)
    if url.get_backend_name() == "sqlite":
        _refuse_taken(Path(str(url.database)))
    else:
        refuse_filled(location)


def _refuse_taken(path: Path) -> None:
    if path.is_file() and not path.stat().st_size:
        raise Refused(
            f"There is an empty file at {path}; nothing is overwritten.", "Remove it, or choose another name."
        )
    if os.path.lexists(path):
        raise Refused(
            f"There is something at {path} already; nothing is overwritten.",
            "Use it as it is, or name another file: spindlebook --db FILE start",
        )
    refuse_left_over(path)


def refuse_left_over(path: Path) -> None:
    """Refuse the place of a file that is gone while its journal is not: SQLite would roll it back into a new file."""
    journal = journal_path(path)
    if not path.exists() and os.path.lexists(journal):
        raise Refused(
            f"{journal} was left over by a book that is gone; it would spoil a new one in its place.",
            "Bring the book back with: spindlebook restore FILE; or move what was left over away.",
        )


def check_settings(settings: BookSettings) -> None:
    """Refuse settings that no book can have, by name."""
    from zoneinfo import available_timezones

    if settings.time_zone not in available_timezones():
        raise Refused(f"'{settings.time_zone}' is not a time zone.", "Form: Europe/Lisbon (or UTC)")
    refuse_unknown_currency(settings.currency)
    if settings.date_form not in DATE_FORMS:
        raise Refused(f"'{settings.date_form}' is not a date form.", f"Type one of: {', '.join(DATE_FORMS)}")
    if settings.mains_hertz not in (50, 60):
        raise Refused(f"Mains frequency {settings.mains_hertz} Hz: mains run at 50 or 60 Hz.", "Give --hertz 50 or 60")
    if not 90 <= settings.mains_volts <= 260:
        raise Refused(f"Mains voltage {settings.mains_volts} V: 90 to 260 V are taken.", "Give --volts 230 or 120")


def _start_file(path: Path, settings: BookSettings, today: date, now: datetime, made_by: str) -> None:
    _refuse_taken(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        with beside(path) as aside:
            create_schema(str(aside))
            with opened(str(aside)) as engine, open_work(engine, "start", today=today, now=now) as work:
                _first_act(work, settings, made_by)
            put_in_place(aside, path)
    except FileExistsError:
        _refuse_taken(path)
        raise


def _first_act(work: Work, settings: BookSettings, made_by: str) -> None:
    _write_settings(work, settings, made_by)
    counts = bring_in_reference(work)
    bring_in_eye(work)
    work.commit(f"started the book with {counts} rows of reference data")


def _write_settings(work: Work, settings: BookSettings, made_by: str) -> None:
    work.insert(
        "book",
        name=settings.name,
        time_zone=settings.time_zone,
        currency=settings.currency,
        date_form=settings.date_form,
        mains_hertz=settings.mains_hertz,
        mains_volts=settings.mains_volts,
        made_by=made_by,
    )
