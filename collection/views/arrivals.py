"""Arrivals of units: what came, from whom and in what state; and the cautions before one is unpacked."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.errors import fold
from collection.store.engine import fetch
from collection.views.procedures import procedure_list
from collection.views.units import unit_ids


class Arrival(NamedTuple):
    """One arrival of a unit; a text is "" where nothing was told. from_id: the person who sent or brought it."""

    id: int
    arrived_on: str
    sender: str
    contents: str
    damage: str
    mains_setting: str
    fuse: str
    cord: str
    note: str
    entry_number: str
    reason: str
    return_by: str
    receipt_on: str
    from_id: int | None


_SQL = """
SELECT a.id, a.arrived_on, p.name, a.contents, a.damage, a.mains_setting, a.fuse, a.cord, a.note,
       a.entry_number, a.reason, a.return_by, a.receipt_on, a.from_id
FROM arrival a LEFT JOIN person p ON p.id = a.from_id
WHERE a.unit_id = :unit AND a.void = 0 ORDER BY a.arrived_on DESC, a.id DESC
"""
# Common practice, no source. What stands before the unit is opened comes with the procedures due after an arrival.
CAUTIONS = (
    "Two people lift a heavy or awkward unit.",
    "Mains inside the case can kill. Leave the plug out; work inside a mains unit belongs to a qualified person.",
    "Capacitors keep a charge after the plug is out, in old supplies for minutes or longer: leave the cover on.",
)


def arrivals_of(conn: Connection, unit_id: int) -> list[Arrival]:
    """Return the arrivals of a unit, the last first."""
    rows = fetch(conn, _SQL, unit=unit_id)
    return [Arrival._make([*("" if value is None else value for value in told), from_id]) for *told, from_id in rows]


def is_new(conn: Connection, tag: str) -> bool:
    """Say whether no unit of the book has this tag or alias."""
    return fold(tag) not in unit_ids(conn)


def arrival_checks(conn: Connection) -> list[str]:
    """Return the names of the procedures that are due after an arrival."""
    return [each.name for each in procedure_list(conn) if "arrival" in each.rule.after]
