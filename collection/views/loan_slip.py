"""A loan as it is handed over: who lends what to whom, in which condition, until when."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.errors import Refused, fold
from collection.quantity import Money
from collection.store.engine import fetch
from collection.views.people import Person
from collection.views.units import Unit, find_unit, unit_on

_LOANS_SQL = """
SELECT l.id, l.name, l.direction, l.out_on, l.due_on, l.purpose, l.deposit_minor, l.currency,
       p.id, p.name, p.role, p.email, p.phone, p.address, p.note
FROM loan l JOIN person p ON p.id = l.person_id WHERE l.void = 0 ORDER BY l.id
"""
_ITEMS_SQL = """
SELECT i.unit_id, u.accessories, u.marks, i.condition_out, i.back_on, i.condition_back
FROM loan_item i JOIN unit u ON u.id = i.unit_id WHERE i.void = 0 AND i.loan_id = :loan ORDER BY i.id
"""
_OF_UNIT_SQL = """
SELECT i.loan_id FROM loan_item i JOIN loan l ON l.id = i.loan_id
WHERE i.void = 0 AND l.void = 0 AND i.unit_id = :unit AND i.back_on IS NULL ORDER BY l.out_on DESC, l.id DESC
"""


class SlipItem(NamedTuple):
    """One unit of a loan; "" for what is not told. unit: as of today. back_on: "" while it is out."""

    unit: Unit
    accessories: str
    marks: str
    condition_out: str
    back_on: str
    condition_back: str


class LoanSlip(NamedTuple):
    """A loan with its units by tag. direction: out for what the book lends, in for what it borrows."""

    loan: str
    direction: str
    person: Person
    out_on: str
    due_on: str
    purpose: str
    deposit: Money | None
    items: tuple[SlipItem, ...]


def loan_slips(conn: Connection, names: Iterable[str], today: date) -> list[LoanSlip]:
    """Return the loans that are named by a unit that is out, or by their own name; each once.

    Raises Refused for a unit that is not out and for a name that is neither a tag nor a loan.
    """
    rows = {row[0]: row for row in fetch(conn, _LOANS_SQL)}
    by_name = {fold(row[1]): row[0] for row in rows.values()}
    chosen = dict.fromkeys(_loan_of(conn, name, by_name) for name in names)
    return [_slip(conn, rows[loan_id], today) for loan_id in chosen]


def _loan_of(conn: Connection, name: str, by_name: Mapping[str, int]) -> int:
    """Return the loan that a unit is out on, else the loan of this name."""
    named = by_name.get(fold(name))
    try:
        unit = find_unit(conn, name)
    except Refused:
        if named is None:
            raise
        return named
    found = fetch(conn, _OF_UNIT_SQL, unit=unit.id)
    if not found and named is not None:
        return named
    if not found:
        raise Refused(f"{unit.tag} is not on loan.", "Name a unit or a loan of: spindlebook loan list --all")
    return int(found[0][0])


def _slip(conn: Connection, row: tuple[Any, ...], today: date) -> LoanSlip:
    known: list[Any] = ["" if value is None else value for value in row]
    loan_id, name, direction, out_on, due_on, purpose, minor, currency, *person = known
    items = [
        SlipItem(unit_on(conn, unit_id, today), *("" if text is None else text for text in texts))
        for unit_id, *texts in fetch(conn, _ITEMS_SQL, loan=loan_id)
    ]
    return LoanSlip(
        loan=name,
        direction=direction,
        person=Person._make(person),
        out_on=out_on,
        due_on=due_on,
        purpose=purpose,
        deposit=None if row[6] is None else Money(minor, currency),
        items=tuple(sorted(items, key=lambda item: tag_order(item.unit.tag))),
    )
