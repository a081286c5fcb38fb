"""What still ties a person to the book: open loans, reservations, units they own, work they have in hand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.units import unit_list

_LOANS = """
SELECT l.direction, u.tag, l.name FROM loan_item i JOIN loan l ON l.id = i.loan_id JOIN unit u ON u.id = i.unit_id
WHERE i.void = 0 AND l.void = 0 AND i.back_on IS NULL AND l.person_id = :id ORDER BY l.out_on, i.id
"""
_OWNERS = """
SELECT e.unit_id, e.person_id FROM unit_entry e
WHERE e.what = 'owner' AND e.act_id NOT IN (SELECT act_id FROM undone) ORDER BY e.from_date, e.id
"""
_SERVICES = """
SELECT u.tag FROM service s JOIN unit u ON u.id = s.unit_id
WHERE s.void = 0 AND s.closed_on IS NULL AND s.by_id = :id ORDER BY s.opened_on, s.id
"""
_RESERVED = """
SELECT u.tag FROM reservation r JOIN unit u ON u.id = r.unit_id
WHERE r.void = 0 AND r.closed_on IS NULL AND r.to_date >= :day AND r.person_id = :id ORDER BY r.from_date, r.id
"""
_DAMAGE = """
SELECT d.name FROM damage d LEFT JOIN loan_item i ON i.id = d.loan_item_id LEFT JOIN loan l ON l.id = i.loan_id
WHERE d.void = 0 AND d.closed_on IS NULL AND :id IN (d.reported_by_id, d.by_id, l.person_id) ORDER BY d.id
"""
_LAST_ACT = "SELECT a.id FROM act a WHERE a.id = :last AND a.who_id = :id"


@dataclass(frozen=True, slots=True)
class Ties:
    """What is not closed of a person's history; tags of units, names of loans.

    lent: (tag, loan) they still have. borrowed: (tag, loan) of theirs that is still here. reserved: units kept for
    them. owned: units of theirs that are not gone. at_work: units with an open service of theirs. damage: open damage
    and losses that they reported, noted or had on loan. last_act: the newest act's number, when it is theirs.
    """

    lent: tuple[tuple[str, str], ...]
    borrowed: tuple[tuple[str, str], ...]
    reserved: tuple[str, ...]
    owned: tuple[str, ...]
    at_work: tuple[str, ...]
    damage: tuple[str, ...]
    last_act: int | None


def ties_of(conn: Connection, person_id: int, today: date, last: int) -> Ties:
    """Return what is not closed of a person's history today; last: the newest act."""
    loans = fetch(conn, _LOANS, id=person_id)
    owners = dict(fetch(conn, _OWNERS))
    mine = {unit for unit, owner in owners.items() if owner == person_id}
    standing = [unit for unit in unit_list(conn, today) if unit.id in mine and unit.standing != "gone"] if mine else []
    act = fetch(conn, _LAST_ACT, last=last, id=person_id)
    return Ties(
        tuple((tag, loan) for direction, tag, loan in loans if direction == "out"),
        tuple((tag, loan) for direction, tag, loan in loans if direction == "in"),
        tuple(row[0] for row in fetch(conn, _RESERVED, id=person_id, day=today.isoformat())),
        tuple(unit.tag for unit in standing),
        tuple(row[0] for row in fetch(conn, _SERVICES, id=person_id)),
        tuple(row[0] for row in fetch(conn, _DAMAGE, id=person_id)),
        act[0][0] if act else None,
    )
