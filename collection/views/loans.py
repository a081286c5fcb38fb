"""Loans: which units are out or borrowed, with whom, until when, and on what terms."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.errors import Refused, fold, nearest, typed
from collection.quantity import Money, parse_day
from collection.store.engine import fetch
from collection.views.units import find_unit

_SQL = """
SELECT i.id, l.id, u.id, l.name, l.direction, u.tag, p.name, l.out_on, l.due_on, i.back_on, l.purpose, i.condition_out,
       i.condition_back, i.along, i.along_missing, taker.name, l.cover, l.agreement, issuer.name, l.deposit_back_on,
       l.deposit_minor, l.deposit_back_minor, l.currency
FROM loan_item i JOIN loan l ON l.id = i.loan_id JOIN unit u ON u.id = i.unit_id JOIN person p ON p.id = l.person_id
LEFT JOIN person issuer ON issuer.id = l.issued_by_id LEFT JOIN person taker ON taker.id = i.taken_by_id
WHERE i.void = 0 AND l.void = 0{only} ORDER BY l.out_on, i.id
"""
_BORROWED_SQL = """
SELECT i.unit_id FROM loan_item i JOIN loan l ON l.id = i.loan_id
WHERE i.void = 0 AND l.void = 0 AND l.direction = 'in' AND i.back_on IS NULL
"""
LOST_WORD = "lost: "  # begins the condition of what did not come back


@dataclass(frozen=True, slots=True)
class LoanRow:
    """One unit of one loan; "" for what is not told, back_on "" while it is out. Days are day texts.

    direction: out for what the book lends, in for what it borrows. along: what goes with the unit; along_missing: what
    of that did not come back. cover: insurance, the way there and back too. issued_by, taken_by: who handed it out and
    who took it back. deposit_back: None while nothing of it was returned. days_over: above zero for days past the day
    due while it is out, else zero or below.
    """

    item_id: int
    loan_id: int
    unit_id: int
    loan: str
    direction: str
    tag: str
    person: str
    out_on: str
    due_on: str
    back_on: str
    purpose: str
    condition_out: str
    condition_back: str
    along: str
    along_missing: str
    taken_by: str
    cover: str
    agreement: str
    issued_by: str
    deposit_back_on: str
    deposit: Money | None
    deposit_back: Money | None
    days_over: int

    @property
    def lost(self) -> bool:
        """Whether its loan ended because it was lost."""
        return self.condition_back.startswith(LOST_WORD)


def loan_list(conn: Connection, today: date, *, closed_too: bool = False, unit_id: int | None = None) -> list[LoanRow]:
    """Return the units on loan, or all that ever were: out by day due, then those that are back; unit_id: of one."""
    only = "" if closed_too else " AND i.back_on IS NULL"
    one = {} if unit_id is None else {"unit": unit_id}
    sql = _SQL.format(only=only + (" AND i.unit_id = :unit" if one else ""))
    rows = [_row(row, today) for row in fetch(conn, sql, **one)]
    return sorted(rows, key=lambda row: (bool(row.back_on), row.due_on, tag_order(row.tag)))


def loans_of(conn: Connection, unit_id: int, direction: str = "out") -> list[LoanRow]:
    """Return the loans of one unit in a direction, the earliest first."""
    only = " AND l.direction = :direction AND i.unit_id = :unit"
    return [_row(row, date.min) for row in fetch(conn, _SQL.format(only=only), unit=unit_id, direction=direction)]


def borrowed(conn: Connection) -> set[int]:
    """Return the units that are borrowed and have not gone back."""
    return {row[0] for row in fetch(conn, _BORROWED_SQL)}


def items_of(conn: Connection, loan_id: int, today: date) -> list[LoanRow]:
    """Return the units of one loan, by tag."""
    rows = [_row(row, today) for row in fetch(conn, _SQL.format(only=" AND l.id = :loan"), loan=loan_id)]
    return sorted(rows, key=lambda row: tag_order(row.tag))


def find_loan(conn: Connection, name: str) -> tuple[int, str]:
    """Return id and name of the loan of this name, else of the one that the unit of this tag is out or borrowed on.

    Raises Refused for a name that is neither, and for a unit that is on no loan.
    """
    known = dict(fetch(conn, "SELECT name, id FROM loan WHERE void = 0"))
    for each, loan_id in known.items():
        if fold(each) == fold(name):
            return loan_id, each
    try:
        unit = find_unit(conn, name)
    except Refused:
        near = nearest(name, known)
        hint = f"Nearest: {', '.join(near)}. " if near else ""
        raise Refused(f'No loan and no unit is called "{name}".', f"{hint}See: spindlebook loan list --all") from None
    rows = [row for way in ("out", "in") for row in loans_of(conn, unit.id, way) if not row.back_on]
    if not rows:
        raise Refused(f"{unit.tag} is not on loan.", f"Its loans: spindlebook loan list --all --unit {typed(unit.tag)}")
    return rows[0].loan_id, rows[0].loan


def _row(row: tuple[Any, ...], today: date) -> LoanRow:
    known: list[Any] = ["" if value is None else value for value in row]
    due_on, back_on, currency = known[8], known[9], row[-1]
    sums = [None if minor is None else Money(minor, currency) for minor in row[-3:-1]]
    over = 0 if back_on else (today - parse_day(due_on).last).days
    return LoanRow(*(*known[:-3], *sums, over))
