"""What the book has at a shelf, as it is held against what was found there; and the shelf-checks that were made."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.analysis.shelf_check import UNKNOWN, Book, Finding, compare
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.places import find_location, places_inside
from collection.views.units import Unit, unit_list

_ALIASES = "SELECT alias_folded, unit_id FROM unit_alias WHERE void = 0"
_SIGHTINGS = f"""
SELECT s.seen_on, s.act_id, u.tag, s.seen, l.name, s.shelf_check_id, p.name, s.note, s.id
FROM sighting s JOIN unit u ON u.id = s.unit_id LEFT JOIN location l ON l.id = s.location_id
LEFT JOIN person p ON p.id = s.by_id WHERE {counts("s")}
"""
_CHECKS = f"""
SELECT c.checked_on, c.act_id, c.unknown, l.name, p.name, c.note
FROM shelf_check c JOIN location l ON l.id = c.location_id LEFT JOIN person p ON p.id = c.by_id
WHERE {counts("c")}
"""
SEEN, NOT_FOUND = "seen", "not found"


class Shelf(NamedTuple):
    """A location as it stands in the book on a day, with every unit by its folded tags and aliases."""

    id: int
    name: str
    books: dict[str, Book]
    units: dict[str, Unit]

    def findings(self, found: list[str]) -> list[Finding]:
        """Return what is to be said of what was found there; those that nobody found come last, by tag."""
        rows = compare(self.name, self.books, found)
        return [*(row for row in rows if row.seen), *sorted((r for r in rows if not r.seen), key=_by_tag)]

    def unit(self, tag: str) -> Unit:
        """Return a unit by its tag."""
        return self.units[fold(tag)]


def shelf_in_book(conn: Connection, location: str, day: date, *, inside: bool = True) -> Shelf:
    """Return what the book has at a location on a day, and in the places inside it unless only itself is meant.

    Raises Refused for a location that the book does not have.
    """
    place, name = find_location(conn, location)
    names = {name} | (places_inside(conn, place) if inside else set())
    units = unit_list(conn, day)
    by_id = {unit.id: unit for unit in units}
    known = {alias: by_id[unit] for alias, unit in fetch(conn, _ALIASES) if unit in by_id}
    known |= {fold(unit.tag): unit for unit in units}
    return Shelf(place, name, {key: _book(unit, unit.location in names) for key, unit in known.items()}, known)


def _book(unit: Unit, on_shelf: bool) -> Book:
    return Book(unit.tag, unit.location, on_shelf, unit.standing, unit.loan.person if unit.loan else "")


def _by_tag(row: Finding) -> tuple[tuple[int, int, str], ...]:
    return tag_order(row.tag)


class Sighting(NamedTuple):
    """A unit that was seen at a place or looked for in vain, or a text found there that is no tag; "" for not told.

    says: "seen", "not found" or "not known". shelf_check: whether it was at one.
    """

    seen_on: str
    tag: str
    says: str
    location: str
    shelf_check: bool
    by: str
    note: str


def sightings(conn: Connection) -> list[Sighting]:
    """Return every sighting by day, those of one act together, texts that are no tag behind the units."""
    rows: list[tuple[str, int, int, Sighting]] = []
    for day, act, tag, seen, place, check, by, note, key in fetch(conn, _SIGHTINGS):
        says = SEEN if seen else NOT_FOUND
        rows.append((day, act, key, Sighting(day, tag, says, place or "", bool(check), by or "", note or "")))
    last = max((row[2] for row in rows), default=0)
    for day, act, texts, place, by, note in fetch(conn, _CHECKS):
        for at, text in enumerate(texts.split("\n") if texts else (), start=last + 1):
            rows.append((day, act, at, Sighting(day, text, UNKNOWN, place, True, by or "", note or "")))
    return [row for *_, row in sorted(rows, key=lambda each: each[:3])]
