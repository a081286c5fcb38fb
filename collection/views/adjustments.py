"""Screws that were turned on a unit, and where each stands now against where it was first turned from."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.turns import net_turns, parse_turns
from collection.store.engine import fetch
from collection.views.counts import counts


class Adjustment(NamedTuple):
    """One turn of a screw; entered: how far, as it was typed; measurement, service and note "" where not told."""

    id: int
    done_on: str
    screw: str
    direction: str
    entered: str
    measurement: str
    service: str
    note: str

    @property
    def turns(self) -> Fraction:
        """How far, exactly."""
        return parse_turns(self.entered)


class Screw(NamedTuple):
    """A screw: where it stands now (clockwise above zero), how often it was turned, from when to when, what it sets."""

    screw: str
    net: Fraction
    times: int
    first_on: str
    last_on: str
    measurement: str


_SQL = f"""
SELECT t.id, t.done_on, t.screw, t.direction, t.entered, m.name, s.name, t.note
FROM adjustment t LEFT JOIN measurement m ON m.id = t.measurement_id LEFT JOIN service s ON s.id = t.service_id
WHERE {counts("t")} AND {{of}} ORDER BY t.done_on, t.id
"""


def adjustments_of(conn: Connection, unit_id: int) -> list[Adjustment]:
    """Return every turn of a screw on a unit, the earliest first."""
    return _rows(conn, "t.unit_id = :id", unit_id)


def turned_in(conn: Connection, service_id: int) -> list[Adjustment]:
    """Return the turns of screws in a service."""
    return _rows(conn, "t.service_id = :id", service_id)


def screws(listed: Iterable[Adjustment]) -> list[Screw]:
    """Return each screw that was turned, in the order of their names."""
    of: dict[str, list[Adjustment]] = {}
    for each in listed:
        of.setdefault(each.screw, []).append(each)
    return [
        Screw(
            name,
            net_turns((each.direction, each.turns) for each in turned),
            len(turned),
            turned[0].done_on,
            turned[-1].done_on,
            next((each.measurement for each in reversed(turned) if each.measurement), ""),
        )
        for name, turned in sorted(of.items())
    ]


def _rows(conn: Connection, of: str, row_id: int) -> list[Adjustment]:
    rows = fetch(conn, _SQL.format(of=of), id=row_id)
    return [Adjustment(row[0], *("" if value is None else value for value in row[1:])) for row in rows]
