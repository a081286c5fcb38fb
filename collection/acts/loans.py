"""Lending units and taking them back. While a loan is open its units stand on loan; nothing else is written."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.amounts import price_given
from collection.acts.days import day_ahead, day_given
from collection.acts.faults import write_fault
from collection.acts.texts import refuse_texts
from collection.acts.work import Work, open_work
from collection.errors import Refused
from collection.quantity import Money
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.faults import open_faults_on
from collection.views.loans import LoanRow, loan_list, loans_of
from collection.views.people import find_person
from collection.views.units import Unit, find_unit, unit_on


def lend(
    engine: Engine,
    tags: Sequence[str],
    *,
    to: str,
    due: str,
    on: str = "",
    purpose: str = "",
    deposit: str = "",
    anyway: str = "",
    today: date,
    now: datetime,
) -> list[LoanRow]:
    """Lend units to a person until a day; returns one row per unit.

    Raises Refused for an unknown person or unit, the same unit twice, a unit that is out already, a day due
    before the day out, and, without a reason, for a unit that is not ready or has an open fault.
    """
    refuse_texts(purpose=purpose, anyway=anyway)
    with open_work(engine, "loan out", today=today, now=now, reason=anyway or None) as work:
        out, back = day_given(on, today), day_ahead(due, "--due")
        if back < out:
            raise Refused(f"Due on {back.isoformat()} is before out on {out.isoformat()}.", "Type a later --due.")
        person = find_person(work.conn, to)
        units = [unit_on(work.conn, unit_id, out) for unit_id in _each_once(work.conn, tags)]
        for unit in units:
            _refuse_out(work.conn, unit, out)
            if not anyway:
                _refuse_unfit(work.conn, unit, out)
        money = _deposit(work.conn, deposit)
        loan_id = work.insert(
            "loan",
            name=_free_name(work.conn),
            direction="out",
            person_id=person.id,
            out_on=out.isoformat(),
            due_on=back.isoformat(),
            purpose=purpose.strip() or None,
            deposit_minor=money.minor if money else None,
            currency=money.currency if money else None,
        )
        _items(work, loan_id, units, out, anyway)
        rows = [row for row in loan_list(work.conn, today) if row.loan_id == loan_id]
        work.commit(f"lent {', '.join(unit.tag for unit in units)} until {back.isoformat()}")
    return rows


def take_back(
    engine: Engine,
    tags: Sequence[str],
    *,
    on: str = "",
    condition: str = "",
    complaint: str = "",
    today: date,
    now: datetime,
) -> list[LoanRow]:
    """Take units back from the loans they are on; returns one row per unit.

    complaint: what the borrower says is wrong, which becomes an open fault of the unit. Raises Refused for a unit that
    is not on loan, the same unit twice, a day before it went out, and a complaint of several units at once.
    """
    refuse_texts(condition=condition, symptom=complaint)
    if complaint.strip() and len(tags) > 1:
        raise Refused("A complaint is of one unit, and several are named.", "Take them back one by one.")
    with open_work(engine, "loan back", today=today, now=now) as work:
        day = day_given(on, today)
        unit_ids = _each_once(work.conn, tags)
        going = [_open_item(work.conn, unit_id, day) for unit_id in unit_ids]
        for row in going:
            work.update("loan_item", row.item_id, back_on=day.isoformat(), condition_back=condition.strip() or None)
            if complaint.strip():
                write_fault(work, find_unit(work.conn, row.tag), complaint.strip(), day, loan_id=row.loan_id)
        items = {row.item_id for row in going}
        rows = [row for row in loan_list(work.conn, today, closed_too=True) if row.item_id in items]
        work.commit(f"took back {', '.join(row.tag for row in rows)}")
    return rows


def _each_once(conn: Connection, tags: Sequence[str]) -> list[int]:
    ids: list[int] = []
    for tag in tags:
        unit = find_unit(conn, tag)
        if unit.id in ids:
            raise Refused(f"{unit.tag} is named twice.", "Name each unit once.")
        ids.append(unit.id)
    return ids


def _refuse_out(conn: Connection, unit: Unit, out: date) -> None:
    """Refuse a unit that is out on that day or goes out after it."""
    for row in loans_of(conn, unit.id):
        if not row.back_on or row.back_on > out.isoformat():
            raise Refused(
                f"{unit.tag} is out to {row.person} since {row.out_on}, due {row.due_on} (loan {row.loan})."
                if row.out_on <= out.isoformat()
                else f"{unit.tag} is lent from {row.out_on} on already (loan {row.loan}).",
                f"Take it back first: spindlebook loan back {unit.tag}",
            )


def _refuse_unfit(conn: Connection, unit: Unit, out: date) -> None:
    reasons = []
    if unit.standing != "ready":
        reasons.append(f"it is {unit.standing}, not ready" if unit.standing else "it is not called ready")
    reasons += [f'fault "{fault.symptom}" is open' for fault in open_faults_on(conn, unit.id, out)]
    if reasons:
        raise Refused(
            f"{unit.tag} is not lent: {'; '.join(reasons)}.",
            f'See: spindlebook unit show {unit.tag}; or give a reason: --anyway "REASON".',
        )


def _items(work: Work, loan_id: int, units: Sequence[Unit], out: date, anyway: str) -> None:
    for unit in units:
        work.insert("loan_item", loan_id=loan_id, unit_id=unit.id)
        faults = open_faults_on(work.conn, unit.id, out)
        if anyway and (faults or unit.standing != "ready"):
            state = "; ".join([unit.standing or "no standing", *(fault.symptom for fault in faults)])
            work.doubt("loan", loan_id, "unit", unit.tag, f"lent all the same ({anyway}): {state}")


def _open_item(conn: Connection, unit_id: int, day: date) -> LoanRow:
    tag = unit_on(conn, unit_id, day).tag
    rows = [row for row in loans_of(conn, unit_id) if not row.back_on]
    if not rows:
        raise Refused(f"{tag} is not on loan.", "Type: spindlebook loan list")
    if rows[0].out_on > day.isoformat():
        raise Refused(
            f"{tag} went out on {rows[0].out_on}, after {day.isoformat()}.", "Type the day it came back: --on DATE."
        )
    return rows[0]


def _deposit(conn: Connection, text: str) -> Money | None:
    """Return the deposit that "50" or "50 EUR" spells, in the book's currency where none is named."""
    if not text.strip():
        return None
    number, _, currency = text.strip().partition(" ")
    return price_given("A deposit", number, currency.strip() or open_book(conn).settings.currency)


def _free_name(conn: Connection) -> str:
    """Return the name of a new loan, "L1" and so on: one that no loan ever had."""
    names = {row[0] for row in fetch(conn, "SELECT name FROM loan")}
    number = len(names) + 1
    while f"L{number}" in names:
        number += 1
    return f"L{number}"
