"""Calendar files by the rules of RFC 5545, read back by icalendar."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from icalendar import Calendar

from collection.errors import Refused
from collection.exchange.calendar_file import as_calendar, save_calendar
from collection.views.calendar import Entry
from tests.support.times import NOW

DAY = date(2026, 3, 7)
ODD = "Grüße; 1,5 mm \\ „Spindel“ 機構 ünd " * 8 + "\nnext line\r\nand \x07a bell \x1b[2J \ud800 end"


def written(*entries: Entry, now: datetime = NOW, sequence: int = 7) -> bytes:
    """Return the file of some entries."""
    return as_calendar(entries, name="Club; of, odd names", now=now, sequence=sequence)


def unescaped(content: bytes, name: str) -> str:
    """Return the text of a property by the words of RFC 5545 alone: unfolded (3.1), then unescaped (3.3.11)."""
    lines = content.replace(b"\r\n ", b"").decode("utf-8").split("\r\n")
    (line,) = (line for line in lines if line.startswith(f"{name}:"))
    return re.sub(r"\\(.)", lambda escape: "\n" if escape[1] in "nN" else escape[1], line.partition(":")[2])


def test_lines_are_folded_by_octets_and_end_in_crlf() -> None:
    """No line is longer than 75 octets, none cuts a letter of UTF-8, and all end in CRLF: RFC 5545, 3.1."""
    content = written(Entry("a", "due", DAY, ODD, (ODD, ODD)))
    lines = content.split(b"\r\n")
    assert b"" == lines[-1]
    assert b"\n" not in b"".join(lines)
    assert max(map(len, lines)) <= 75
    assert 20 < len(lines)
    for line in lines:
        line.decode("utf-8")


def test_texts_come_back_as_they_were() -> None:
    """Backslash, semicolon, comma and line break are escaped (3.3.11); control characters, allowed in no text, go."""
    content = written(Entry("a", "due", DAY, "x", (ODD,), "shelf; 1,2"))
    (event,) = Calendar.from_ical(content).walk("VEVENT")
    plain = ODD.replace("\r\n", "\n").replace("\x07", "").replace("\x1b", "").replace("\ud800", "?")
    assert plain == event["DESCRIPTION"] == unescaped(content, "DESCRIPTION")
    assert event["LOCATION"] == "shelf; 1,2"


def test_events_have_what_the_standard_asks_for() -> None:
    """One UID and one DTSTAMP in UTC each, a whole day that ends on the day after (3.6.1), PRODID and VERSION."""
    now = datetime(2026, 3, 1, 14, 30, tzinfo=timezone(timedelta(hours=2)))
    ended = Entry("b", "loan", DAY, "back", ended=True, personal=True)
    calendar = Calendar.from_ical(written(Entry("a", "due", DAY, "due D1"), ended, now=now, sequence=12))
    assert calendar["VERSION"] == "2.0"
    assert calendar["PRODID"]
    events = calendar.walk("VEVENT")
    assert ["a", "b"] == [event["UID"] for event in events]
    for event in events:
        assert datetime(2026, 3, 1, 12, 30, tzinfo=UTC) == event.decoded("DTSTAMP")
        assert (DAY, DAY + timedelta(days=1)) == (event.decoded("DTSTART"), event.decoded("DTEND"))
        assert event["DTSTART"].params["VALUE"] == "DATE"
        assert event["SEQUENCE"] == 12
    assert ["CONFIRMED", "CANCELLED"] == [event["STATUS"] for event in events]
    assert [None, "PRIVATE"] == [event.get("CLASS") for event in events]


def test_sequence_stays_an_integer_of_the_standard() -> None:
    """An integer is at most 2147483647: RFC 5545, 3.3.8."""
    for told, kept in ((2**31 - 2, 2**31 - 2), (2**31 - 1, 2**31 - 1), (2**31, 2**31 - 1)):
        (event,) = Calendar.from_ical(written(Entry("a", "due", DAY, "x"), sequence=told)).walk("VEVENT")
        assert kept == event["SEQUENCE"]


def test_calendar_is_never_written_over_unasked(tmp_path: Path) -> None:
    """A file of the name, another ending and a folder that is not there are refused, and what stands there stays."""
    file = tmp_path / "club.ics"
    save_calendar(b"first", file, replace=False)
    with pytest.raises(Refused, match="add --replace"):
        save_calendar(b"second", file, replace=False)
    assert b"first" == file.read_bytes()
    save_calendar(b"second", file, replace=True)
    assert b"second" == file.read_bytes()
    for wrong in (tmp_path / "club.txt", tmp_path / "nowhere" / "club.ics"):
        with pytest.raises(Refused):
            save_calendar(b"x", wrong, replace=False)
    assert [file] == list(tmp_path.iterdir())
