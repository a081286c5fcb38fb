"""Which supply unit feeds which drive, and when."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.store.engine import fetch

_SQL = """
SELECT p.id, p.drive_id, p.supply_unit_id, d.tag, s.tag, p.from_date, coalesce(p.to_date, '')
FROM pairing p JOIN unit d ON d.id = p.drive_id JOIN unit s ON s.id = p.supply_unit_id
WHERE p.void = 0 AND d.void = 0 AND s.void = 0 ORDER BY p.from_date, p.id
"""


class Pairing(NamedTuple):
    """A drive and the supply unit that feeds it; days are day texts, to_date "" while it lasts."""

    id: int
    drive_id: int
    supply_unit_id: int
    drive: str
    supply_unit: str
    from_date: str
    to_date: str


def pairing_list(conn: Connection, unit_id: int | None = None) -> list[Pairing]:
    """Return the pairings of one unit, or all by the tags of the drives, the earliest first."""
    rows = [Pairing._make(row) for row in fetch(conn, _SQL)]
    chosen = [row for row in rows if unit_id in (None, row.drive_id, row.supply_unit_id)]
    return sorted(chosen, key=lambda row: tag_order(row.drive))
