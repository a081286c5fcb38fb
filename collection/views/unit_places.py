"""Where a unit stood, from when to when, and who brought it there."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.units import unit_list

_SQL = f"""
SELECT e.unit_id, l.name, e.from_date, p.name, e.note FROM unit_entry e JOIN location l ON l.id = e.location_id
LEFT JOIN person p ON p.id = e.by_id
WHERE e.what = 'location' AND {counts("e")}{{only}} ORDER BY e.from_date, e.id
"""


class Place(NamedTuple):
    """A location of a unit; until is "" for the last one. by and note are "" where not told. Days may be partial."""

    location: str
    from_date: str
    until: str
    by: str
    note: str


def places_of(conn: Connection, unit_id: int) -> list[Place]:
    """Return where a unit stood, the latest first. What two entries of one day say in turn is all told."""
    return _places(fetch(conn, _SQL.format(only=" AND e.unit_id = :unit"), unit=unit_id))


def places_by_unit(conn: Connection, today: date) -> dict[str, list[Place]]:
    """Return where each unit stood, by tag; as `places_of`. today: as of which the units are read."""
    entered: dict[int, list[tuple[Any, ...]]] = {}
    for row in fetch(conn, _SQL.format(only="")):
        entered.setdefault(row[0], []).append(row)
    return {unit.tag: _places(entered.get(unit.id, [])) for unit in unit_list(conn, today)}


def _places(entered: Sequence[tuple[Any, ...]]) -> list[Place]:
    """Return the places of one unit from its entries by day, the latest first."""
    found: list[Place] = []
    until = ""
    for _, location, first, by, note in reversed(entered):
        found.append(Place(location, first, until, by or "", note or ""))
        until = first
    return found
