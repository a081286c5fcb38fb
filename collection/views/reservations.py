"""Reservations: which units are kept for whom, from when to when."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.store.engine import fetch

_SQL = """
SELECT r.id, r.unit_id, r.person_id, u.tag, p.name, r.from_date, r.to_date, r.purpose, r.closed_on, r.closed_reason,
       l.name
FROM reservation r JOIN unit u ON u.id = r.unit_id JOIN person p ON p.id = r.person_id
LEFT JOIN loan l ON l.id = r.loan_id
WHERE r.void = 0{only} ORDER BY r.from_date, r.id
"""


class Reservation(NamedTuple):
    """One unit kept for one person between two days, both included; "" for what is not told.

    closed_on: "" while it stands. loan: the loan that it became.
    """

    id: int
    unit_id: int
    person_id: int
    tag: str
    person: str
    from_date: str
    to_date: str
    purpose: str
    closed_on: str
    closed_reason: str
    loan: str

    def state(self, today: date) -> str:
        """Return how it stands today: ahead, now, over, lent, or given up."""
        if self.loan:
            return "lent"
        if self.closed_on:
            return "given up"
        if self.to_date < today.isoformat():
            return "over"
        return "ahead" if self.from_date > today.isoformat() else "now"


def reservation_list(conn: Connection, today: date, *, closed_too: bool = False) -> list[Reservation]:
    """Return the reservations that stand and are not over, by first day and tag, or all that ever were."""
    only = "" if closed_too else " AND r.closed_on IS NULL AND r.to_date >= :today"
    bound = {} if closed_too else {"today": today.isoformat()}
    rows = [_row(row) for row in fetch(conn, _SQL.format(only=only), **bound)]
    return sorted(rows, key=lambda row: (row.from_date, tag_order(row.tag)))


def reserved(conn: Connection, unit_id: int, first: date, last: date, but_for: int | None = None) -> list[Reservation]:
    """Return the standing reservations of a unit that share a day with a span, the earliest first.

    but_for: a person whose own are left out.
    """
    only = (
        " AND r.closed_on IS NULL AND r.unit_id = :unit AND r.from_date <= :last AND r.to_date >= :first"
        " AND r.person_id <> :person"
    )
    rows = fetch(
        conn,
        _SQL.format(only=only),
        unit=unit_id,
        first=first.isoformat(),
        last=last.isoformat(),
        person=0 if but_for is None else but_for,
    )
    return [_row(row) for row in rows]


def _row(row: tuple[object, ...]) -> Reservation:
    return Reservation._make("" if value is None else value for value in row)
