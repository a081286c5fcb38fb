"""Locations by name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.errors import Refused, fold, nearest
from collection.store.engine import fetch
from collection.views.counts import counts


def find_location(conn: Connection, name: str) -> tuple[int, str]:
    """Return id and name of a location. Raises Refused, naming the nearest three."""
    rows = fetch(conn, "SELECT id, name FROM location WHERE name_folded = :name AND void = 0", name=fold(name))
    if not rows:
        known = [row[0] for row in fetch(conn, "SELECT name FROM location WHERE void = 0 ORDER BY name_folded")]
        near = nearest(name, known) or known[:3]
        hint = f"Nearest: {', '.join(near)}." if near else "Type: spindlebook location add NAME"
        raise Refused(f'There is no location "{name}".', hint)
    return int(rows[0][0]), str(rows[0][1])


class Location(NamedTuple):
    """A location, maybe inside another; None for what is not told.

    checked_on: the day of the last shelf-check of it, or of one that it is inside with all that is there.
    """

    location: str
    inside: str | None
    note: str | None
    checked_on: str | None


def location_list(conn: Connection) -> list[Location]:
    """Return every location, by name."""
    rows = fetch(conn, "SELECT id, name, inside_id, note FROM location WHERE void = 0 ORDER BY name_folded")
    outer = {row[0]: row[2] for row in rows}
    names = {row[0]: row[1] for row in rows}
    alone, whole = (_last_checks(conn, only) for only in ("", " AND inside = 1"))
    return [
        Location(name, names.get(inside), note, _checked(alone.get(place, ""), place, outer, whole) or None)
        for place, name, inside, note in rows
    ]


def _last_checks(conn: Connection, only: str) -> dict[int, str]:
    sql = f"SELECT location_id, max(checked_on) FROM shelf_check s WHERE {counts('s')}{only} GROUP BY location_id"
    return dict(fetch(conn, sql))


def _checked(alone: str, place: int, outer: Mapping[int, int | None], whole: Mapping[int, str]) -> str:
    """Return the last of a location's own shelf-check and those that took in what is inside."""
    last, around, passed = alone, outer.get(place), {place}
    while around is not None and around not in passed:
        last = max(last, whole.get(around, ""))
        passed.add(around)
        around = outer.get(around)
    return last


def location_names(conn: Connection) -> dict[int, str]:
    """Return every location's name by id."""
    return {row[0]: row[1] for row in fetch(conn, "SELECT id, name FROM location WHERE void = 0")}


def places_inside(conn: Connection, location_id: int) -> set[str]:
    """Return the names of all locations that stand inside one, however deep."""
    rows = fetch(conn, "SELECT id, name, inside_id FROM location WHERE void = 0")
    found: dict[int, str] = {}
    grown = -1
    while grown < len(found):
        grown = len(found)
        found |= {row[0]: row[1] for row in rows if row[2] == location_id or row[2] in found}
    return set(found.values())
