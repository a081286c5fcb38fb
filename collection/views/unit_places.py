"""Where a unit stood, from when to when, and who brought it there."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.counts import counts

_SQL = f"""
SELECT l.name, e.from_date, p.name, e.note FROM unit_entry e JOIN location l ON l.id = e.location_id
LEFT JOIN person p ON p.id = e.by_id
WHERE e.unit_id = :unit AND e.what = 'location' AND {counts("e")} ORDER BY e.from_date, e.id
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
    rows = fetch(conn, _SQL, unit=unit_id)
    ends = [row[1] for row in rows[1:]] + [""]
    found = [Place(row[0], row[1], end, row[2] or "", row[3] or "") for row, end in zip(rows, ends, strict=True)]
    return found[::-1]
