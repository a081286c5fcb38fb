"""Locations by name."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.errors import Refused, fold, nearest
from collection.store.engine import fetch


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
    """A location, maybe inside another; None for what is not told."""

    location: str
    inside: str | None
    note: str | None


def location_list(conn: Connection) -> list[Location]:
    """Return every location, by name."""
    sql = (
        "SELECT l.name, o.name, l.note FROM location l LEFT JOIN location o ON o.id = l.inside_id"
        " WHERE l.void = 0 ORDER BY l.name_folded"
    )
    return [Location._make(row) for row in fetch(conn, sql)]


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
