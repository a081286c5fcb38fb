"""Parts of units: fitted now and before, taken for other units, and what is left on a donor."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.donor_parts import (
    IN_PLACE,
    LOOSE,
    Gone,
    Move,
    gone_after,
    gone_by,
    left_of,
    own_part,
    part_word,
    parts_of_kind,
)
from collection.analysis.mechanisms import MECHANISM
from collection.store.engine import fetch
from collection.views.mechanisms import mechanisms
from collection.views.units import Unit

NOW, BEFORE, TAKEN, LEFT = "fitted", "removed", "taken", "left"
DONOR = "donor"


class PartRow(NamedTuple):
    """A part of a unit.

    state: fitted (now), removed (was fitted before, or was its own), taken (to another unit, `to`), or left (on a
    donor, which was built with it). number: its place among the fittings of the unit, None for the last two. donor:
    the unit it came from, or the unit that it is. Days are ISO texts; "" where there is nothing to tell.
    """

    id: int
    number: int | None
    part: str
    state: str
    fitted_on: str
    removed_on: str
    supply: str
    lot: str
    donor: str
    service: str
    to: str
    note: str


_PARTS_SQL = """
SELECT f.id, f.part, f.fitted_on, f.removed_on, s.name, l.name, coalesce(d.tag, o.tag), v.name, f.note
FROM fitted_part f LEFT JOIN supply s ON s.id = f.supply_id LEFT JOIN lot l ON l.id = f.lot_id
LEFT JOIN unit d ON d.id = f.donor_id LEFT JOIN unit o ON o.id = f.part_unit_id
LEFT JOIN service v ON v.id = f.service_id AND v.void = 0
WHERE f.unit_id = :unit AND f.void = 0 ORDER BY f.id
"""
_GIVEN_SQL = """
SELECT f.id, f.part, f.fitted_on, u.tag, v.name FROM fitted_part f JOIN unit u ON u.id = f.unit_id
LEFT JOIN service v ON v.id = f.service_id AND v.void = 0
WHERE (f.donor_id = :unit OR f.part_unit_id = :unit) AND f.unit_id <> :unit AND f.void = 0 ORDER BY f.fitted_on, f.id
"""
_MOVES_SQL = """
SELECT f.id, f.part, f.fitted_on, f.removed_on, f.unit_id, f.donor_id, f.part_unit_id, u.tag
FROM fitted_part f JOIN unit u ON u.id = f.unit_id
WHERE (f.unit_id = :unit OR f.donor_id = :unit OR f.part_unit_id = :unit) AND f.void = 0 ORDER BY f.id
"""


def parts_of(conn: Connection, unit: Unit) -> list[PartRow]:
    """Return the parts of a unit: fitted and removed in the order of entry, taken by day, then what is left."""
    rows = []
    for number, (row_id, part, *texts) in enumerate(fetch(conn, _PARTS_SQL, unit=unit.id), start=1):
        fitted_on, removed_on, supply, lot, donor, service, note = ("" if text is None else text for text in texts)
        state = BEFORE if removed_on else NOW
        rows.append(PartRow(row_id, number, part, state, fitted_on, removed_on, supply, lot, donor, service, "", note))
    for row_id, part, day, to, service in fetch(conn, _GIVEN_SQL, unit=unit.id):
        rows.append(PartRow(row_id, None, part, TAKEN, "", day, "", "", "", service or "", to, ""))
    return rows + [PartRow(0, None, part, LEFT, *[""] * 8) for part in left_on(conn, unit)]


def left_on(conn: Connection, unit: Unit) -> list[str]:
    """Return which parts are left on a donor, those fitted later included; nothing on a unit that is none."""
    if unit.standing != DONOR:
        return []
    moves = moves_of(conn, unit.id)
    built = built_with(conn, unit)
    known = {part_word(part) for part in built}
    fitted = (part_word(move.part) for move in moves if move.what == "fitted")
    more = [part for part in dict.fromkeys(fitted) if part not in known]
    return left_of(moves, [*built, *more], "9999-12-31")


def built_with(conn: Connection, unit: Unit) -> tuple[str, ...]:
    """Return the parts that a unit has when it is whole; none where that is not known of its kind."""
    inside = fetch(conn, "SELECT supply_inside FROM model WHERE id = :id", id=unit.model_id)[0][0]
    return parts_of_kind(unit.kind, unit.drive_type, supply_inside=bool(inside))


def taken_already(conn: Connection, donor_id: int, part: str, day: str) -> Gone | None:
    """Return where a part of a unit has gone by a day, or will go after it; None where it can be taken that day."""
    moves = moves_of(conn, donor_id)
    return gone_by(moves, part, day) or gone_after(moves, part, day)


def own_part_of(conn: Connection, unit_id: int, part: str, day: str) -> str:
    """Return where the part that a unit was built with is: IN_PLACE, LOOSE, or the tag of the unit it is in."""
    if part_word(part) != MECHANISM:
        return own_part(moves_of(conn, unit_id), part, day)
    home = mechanisms(conn).home_of(unit_id)
    if home is None or home == unit_id:
        return LOOSE if home is None else IN_PLACE
    return str(fetch(conn, "SELECT tag FROM unit WHERE id = :id", id=home)[0][0])


def moves_of(conn: Connection, unit_id: int) -> list[Move]:
    """Return what happened to the parts of a unit."""
    moves = []
    for row, part, fitted_on, removed_on, unit, donor, itself, tag in fetch(conn, _MOVES_SQL, unit=unit_id):
        if unit == unit_id:
            moves.append(Move(fitted_on, "fitted", row, part, own=unit_id in (donor, itself)))
        else:
            moves.append(Move(fitted_on, "taken", row, part, tag, own=itself == unit_id))
        if removed_on and unit_id in (unit, itself):
            moves.append(Move(removed_on, "removed", row, part))
    return moves
