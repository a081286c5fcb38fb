"""A calendar as a file of RFC 5545, which phones and desks read, and read again without doubling an entry."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from collection import __version__
from collection.errors import Refused
from collection.exchange.new_file import new_file, refuse_place
from collection.views.calendar import Entry

if TYPE_CHECKING:
    from icalendar import Event

# RFC 5545, 3.3.11: a text has no control characters; line breaks and tabs are written as such.
_CONTROLS = {code: None for code in (*range(32), 127, *range(128, 160)) if chr(code) not in "\t\n"}
_LARGEST = 2**31 - 1  # RFC 5545, 3.3.8


def as_calendar(entries: Sequence[Entry], *, name: str, now: datetime, sequence: int) -> bytes:
    """Return the entries as an iCalendar stream: each an event of a whole day that does not make one busy.

    name: of the calendar. now: when it was made. sequence: a number that rises with every change of the book, so that
    a reader keeps the newer of two events with one UID.
    """
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", f"-//Spindlebook//Spindlebook {__version__}//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", _text(name))  # RFC 7986, 5.1; the next is what was used before it, from memory
    calendar.add("x-wr-calname", _text(name))
    for entry in entries:
        calendar.add_component(_event(entry, now.astimezone(UTC), min(sequence, _LARGEST)))
    return bytes(calendar.to_ical())


def _event(entry: Entry, now: datetime, sequence: int) -> Event:
    from icalendar import Event

    event = Event()
    event.add("uid", entry.uid)
    event.add("dtstamp", now)
    event.add("sequence", sequence)
    event.add("dtstart", entry.day)
    event.add("dtend", entry.day + timedelta(days=1))  # RFC 5545, 3.6.1: the day on which it is over
    event.add("summary", _text(entry.title))
    if entry.about:
        event.add("description", _text("\n".join(entry.about)))
    if entry.place:
        event.add("location", _text(entry.place))
    event.add("categories", [entry.kind])
    event.add("status", "CANCELLED" if entry.ended else "CONFIRMED")
    event.add("transp", "TRANSPARENT")
    if entry.personal:
        event.add("class", "PRIVATE")
    return event


def _text(text: str) -> str:
    """Return a text as a calendar may have it: line breaks alike, no other control characters, no lone surrogates."""
    plain = text.replace("\r\n", "\n").replace("\r", "\n").translate(_CONTROLS)
    return plain.encode("utf-8", "replace").decode("utf-8")


def refuse_calendar(file: Path, *, replace: bool) -> None:
    """Refuse beforehand what save_calendar would refuse: another ending, a file that is there, no folder."""
    if file.suffix.lower() != ".ics":
        raise Refused(f"{file.name} is no .ics file.", "Let it end in .ics.")
    refuse_place(file, replace=replace)


def save_calendar(content: bytes, file: Path, *, replace: bool) -> None:
    """Write a calendar, made aside and named when it is whole.

    Raises Refused as refuse_calendar does, and for a place that cannot be written.
    """
    refuse_calendar(file, replace=replace)
    with new_file(file, replace=replace) as aside:
        aside.write_bytes(content)
