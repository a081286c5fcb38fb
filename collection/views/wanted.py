"""Parts that units wait for: what is wanted, what of it has come, and which units can go on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.reasons import PART_CAME, Notice
from collection.analysis.schedule import tag_order
from collection.analysis.take_order import usable
from collection.analysis.wanted import Want, served
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.shelves import shelf_of
from collection.views.supplies import Supply, supply_of
from collection.views.units import Unit

AWAITING = "awaiting parts"
_SQL = """
SELECT w.id, w.unit_id, u.tag, w.part, w.supply_id, s.name, w.pieces, w.wanted_on, w.got_on, w.dropped_on, w.reason,
       w.note
FROM wanted_part w JOIN unit u ON u.id = w.unit_id LEFT JOIN supply s ON s.id = w.supply_id
WHERE w.void = 0{only} ORDER BY w.wanted_on, w.id
"""
# Nobody waits with a unit that is gone: what it wanted takes no piece from another and is not bought.
_NOT_GONE = f""" AND coalesce((
    SELECT e.standing FROM unit_entry e WHERE e.unit_id = w.unit_id AND e.what = 'standing' AND {counts("e")}
    ORDER BY e.from_date DESC, e.id DESC LIMIT 1), '') <> 'gone'"""


class WantedPart(NamedTuple):
    """A part that a unit wants; "" for what is not told. It is open until it is got or dropped."""

    id: int
    unit_id: int
    tag: str
    part: str
    supply_id: int | None
    supply: str
    pieces: int
    wanted_on: str
    got_on: str
    dropped_on: str
    reason: str
    note: str

    @property
    def open(self) -> bool:
        """Say whether it is still wanted."""
        return not self.got_on and not self.dropped_on

    @property
    def name(self) -> str:
        """What to look for: the supply where one is told, else the part."""
        return self.supply or self.part


class Ready(NamedTuple):
    """How much of a supply can be used, in pieces, and when the newest lot of it came."""

    pieces: int
    received_on: str


def wanted_list(conn: Connection, unit_id: int | None = None) -> list[WantedPart]:
    """Return the parts wanted by one unit, or by all in the order of tags; the longest wanted first."""
    only = "" if unit_id is None else " AND w.unit_id = :unit"
    bound = {} if unit_id is None else {"unit": unit_id}
    return _rows(conn, only, **bound)


def open_wants(conn: Connection) -> list[WantedPart]:
    """Return what is still wanted for units that are not gone, in the order of tags."""
    return [row for row in _rows(conn, _NOT_GONE) if row.open]


def _rows(conn: Connection, only: str, **bound: int) -> list[WantedPart]:
    rows = []
    for row in fetch(conn, _SQL.format(only=only), **bound):
        known = ["" if value is None else value for value in row]
        known[4] = row[4]
        rows.append(WantedPart._make(known))
    return sorted(rows, key=lambda row: tag_order(row.tag))


def there_for(conn: Connection, rows: Sequence[WantedPart], today: date) -> dict[int, Ready]:
    """Return what the drawer has of every supply among the rows, by supply."""
    wanted = {row.supply_id for row in rows if row.supply_id is not None}
    return {supply_id: _ready(conn, supply_of(conn, supply_id), today) for supply_id in wanted}


def parts_came(conn: Connection, units: Mapping[int, Unit], today: date) -> dict[int, list[Notice]]:
    """Return, for each unit awaiting parts of which all have come, what came and when.

    Parts got before the unit began to wait say nothing of what it waits for now.
    """
    waiting = {unit_id: unit for unit_id, unit in units.items() if unit.standing == AWAITING}
    if not waiting:
        return {}
    rows = [row for row in _rows(conn, _NOT_GONE) if not row.dropped_on]
    there = there_for(conn, [row for row in rows if row.open], today)
    here = _served(rows, there)
    found: dict[int, list[Notice]] = {}
    for unit_id, unit in waiting.items():
        mine = [row for row in rows if row.unit_id == unit_id and (row.open or row.got_on >= unit.standing_from)]
        if mine and all(row.got_on or row.id in here for row in mine):
            found[unit_id] = [_notice(row, there) for row in mine]
    return found


def missing_for(conn: Connection, unit_id: int, today: date) -> list[WantedPart]:
    """Return what a unit wants that is not there yet."""
    rows = open_wants(conn)
    here = _served(rows, there_for(conn, rows, today))
    return [row for row in rows if row.unit_id == unit_id and row.id not in here]


def _served(rows: Sequence[WantedPart], there: Mapping[int, Ready]) -> set[int]:
    """Return which of the open rows the drawer serves."""
    wants = [Want(row.id, row.supply_id, row.pieces, row.wanted_on) for row in rows if row.open]
    return served(wants, {supply: ready.pieces for supply, ready in there.items()})


def _notice(row: WantedPart, there: Mapping[int, Ready]) -> Notice:
    if row.got_on:
        return Notice(row.got_on, PART_CAME, f"part came: {row.name} got")
    received = there[row.supply_id or 0].received_on
    if received < row.wanted_on:
        return Notice(row.wanted_on, PART_CAME, f"part is in the drawer: {row.name}, wanted")
    return Notice(received, PART_CAME, f"part came: {row.name} received")


def _ready(conn: Connection, supply: Supply, today: date) -> Ready:
    """Return what can be used of a supply; nothing of one that is not tracked, since nobody counts it."""
    if supply.tracked == "no":
        return Ready(0, "")
    lots = [lot for lot in shelf_of(conn, supply).lots_held(today.isoformat()) if lot.steps and usable(lot, today)]
    steps = sum(lot.steps for lot in lots)
    return Ready(int(steps * supply.step), max((lot.received_on or "" for lot in lots if lot.steps > 0), default=""))
