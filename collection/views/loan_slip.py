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
from collection.views.findings import show_value
from collection.views.people import Person
from collection.views.readings import reading_counts
from collection.views.units import Unit, find_unit, unit_on

_LOANS_SQL = """
SELECT l.id, l.name, l.direction, l.out_on, l.due_on, l.purpose, l.cover, l.agreement, issuer.name, l.deposit_minor,
       l.currency, p.id, p.name, p.role, p.email, p.phone, p.address, p.note
FROM loan l JOIN person p ON p.id = l.person_id LEFT JOIN person issuer ON issuer.id = l.issued_by_id
WHERE l.void = 0 ORDER BY l.id
"""
_ITEMS_SQL = """
SELECT i.unit_id, i.id, u.accessories, i.along, u.marks, i.condition_out, i.back_on, i.condition_back, i.along_missing
FROM loan_item i JOIN unit u ON u.id = i.unit_id WHERE i.void = 0 AND i.loan_id = :loan ORDER BY i.id
"""
_READ_SQL = f"""
SELECT m.name, s.point, r.value, r.grade, m.measured_in FROM reading r JOIN condition_check c ON c.id = r.check_id
JOIN series s ON s.id = r.series_id JOIN measurement m ON m.id = s.measurement_id
WHERE c.loan_item_id = :item AND c.occasion IN ('loan out', 'entry') AND {reading_counts("r")} ORDER BY r.id
"""
_OF_UNIT_SQL = """
SELECT i.loan_id FROM loan_item i JOIN loan l ON l.id = i.loan_id
WHERE i.void = 0 AND l.void = 0 AND i.unit_id = :unit AND i.back_on IS NULL ORDER BY l.out_on DESC, l.id DESC
"""


class SlipItem(NamedTuple):
    """One unit of a loan; "" for what is not told. unit: as of today. back_on: "" while it is out.

    accessories: what belongs to the unit; along: what goes with it on this loan. readings: as read when it went out.
    """

    unit: Unit
    accessories: str
    along: str
    marks: str
    condition_out: str
    back_on: str
    condition_back: str
    along_missing: str
    readings: tuple[str, ...]


class LoanSlip(NamedTuple):
    """A loan with its units by tag. direction: out for what the book lends, in for what it borrows."""

    loan: str
    direction: str
    person: Person
    out_on: str
    due_on: str
    purpose: str
    cover: str
    agreement: str
    issued_by: str
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
    loan_id, name, direction, out_on, due_on, purpose, cover, agreement, issued_by, minor, currency, *person = known
    items = [_item(conn, today, *each) for each in fetch(conn, _ITEMS_SQL, loan=loan_id)]
    return LoanSlip(
        loan=name,
        direction=direction,
        person=Person(*person),
        out_on=out_on,
        due_on=due_on,
        purpose=purpose,
        cover=cover,
        agreement=agreement,
        issued_by=issued_by,
        deposit=None if row[9] is None else Money(minor, currency),
        items=tuple(sorted(items, key=lambda item: tag_order(item.unit.tag))),
    )


def _item(conn: Connection, today: date, unit_id: int, item_id: int, *texts: str | None) -> SlipItem:
    told: list[Any] = ["" if text is None else text for text in texts]
    return SlipItem._make((unit_on(conn, unit_id, today), *told, _read(conn, item_id)))


def _read(conn: Connection, item_id: int) -> tuple[str, ...]:
    """Return what a unit read when it went out, as "spindle speed 300.2 r/min"."""
    return tuple(
        " ".join((name, *([point] if point else ()), grade if value is None else f"{show_value(value)} {unit}"))
        for name, point, value, grade, unit in fetch(conn, _READ_SQL, item=item_id)
    )
