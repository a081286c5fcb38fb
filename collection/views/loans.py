"""Loans: which units are out, to whom, until when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.quantity import Money, parse_day
from collection.store.engine import fetch

_SQL = """
SELECT i.id, l.id, l.name, l.direction, u.tag, p.name, l.out_on, l.due_on, i.back_on, l.purpose, i.condition_out,
       i.condition_back, l.deposit_minor, l.currency
FROM loan_item i JOIN loan l ON l.id = i.loan_id JOIN unit u ON u.id = i.unit_id JOIN person p ON p.id = l.person_id
WHERE i.void = 0 AND l.void = 0{only} ORDER BY l.out_on, i.id
"""


@dataclass(frozen=True, slots=True)
class LoanRow:
    """One unit of one loan; back_on is "" while it is out. Days are day texts.

    days_over: above zero for days past the day due while it is out, else zero or below.
    """

    item_id: int
    loan_id: int
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
    deposit: Money | None
    days_over: int


def loan_list(conn: Connection, today: date, *, closed_too: bool = False) -> list[LoanRow]:
    """Return the units on loan, or all that ever were: out by day due, then those that are back."""
    rows = [_row(row, today) for row in fetch(conn, _SQL.format(only=""))]
    chosen = [row for row in rows if closed_too or not row.back_on]
    return sorted(chosen, key=lambda row: (bool(row.back_on), row.due_on, tag_order(row.tag)))


def loans_of(conn: Connection, unit_id: int) -> list[LoanRow]:
    """Return the loans out of one unit, the earliest first."""
    only = " AND l.direction = 'out' AND i.unit_id = :unit"
    return [_row(row, date.min) for row in fetch(conn, _SQL.format(only=only), unit=unit_id)]


def _row(row: tuple[Any, ...], today: date) -> LoanRow:
    known: list[Any] = ["" if value is None else value for value in row]
    due_on, back_on, minor, currency = known[7], known[8], row[12], row[13]
    deposit = None if minor is None else Money(minor, currency)
    over = 0 if back_on else (today - parse_day(due_on).last).days
    return LoanRow(*(*known[:12], deposit, over))
