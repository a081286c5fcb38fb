"""Correcting what a loan says, and what it says of one of its units."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.days import day_ahead
from collection.acts.edit import Edited, Given, edit_record
from collection.acts.loan_rules import loan_person, refuse_beyond_owner, refuse_to_lender
from collection.acts.work import Work
from collection.errors import Refused, typed
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.loans import find_loan, items_of
from collection.views.units import find_unit, unit_on


def edit_loan(engine: Engine, name: str, given: Given, *, reason: str = "", today: date, now: datetime) -> Edited:
    """Change a loan by its name: whose it is, when it is due, its terms.

    Raises Refused as `edit_record` does, for an unknown loan, a day due that is not whole, before the day out, beyond
    the day on which a borrowed unit is due back or, without a reason, later than it was while a unit is still out, for
    a deposit below what of it went back, and for a borrower who lent a unit of it.
    """

    def find(conn: Connection) -> tuple[int, str]:
        loan_id, spelt = find_loan(conn, name)
        if given.get("due_on"):
            _refuse_due(conn, loan_id, given["due_on"], spelt, reason)
        return loan_id, spelt

    return edit_record(
        engine, "loan edit", "loan", find, given, reason=reason, check=_refuse_contradiction, today=today, now=now
    )


def edit_item(
    engine: Engine, name: str, tag: str, given: Given, *, reason: str = "", today: date, now: datetime
) -> Edited:
    """Correct what a loan says of one of its units: what goes along or is missing, and how it went and came.

    Raises Refused as `edit_record` does, and for a unit that is not on the loan.
    """

    def find(conn: Connection) -> tuple[int, str]:
        loan_id, spelt = find_loan(conn, name)
        unit = find_unit(conn, tag)
        for row in items_of(conn, loan_id, today):
            if row.unit_id == unit.id:
                return row.item_id, f"{unit.tag} on {spelt}"
        raise Refused(f"{unit.tag} is not on {spelt}.", f"See: spindlebook loan show {typed(spelt)}")

    return edit_record(engine, "loan edit-unit", "loan_item", find, given, reason=reason, today=today, now=now)


def _refuse_due(conn: Connection, loan_id: int, due: str, name: str, reason: str) -> None:
    """Refuse a day due that no loan has, in words, before the database would; and a silent way past `loan extend`."""
    rows = items_of(conn, loan_id, date.min)
    last = day_ahead(due, "--due")
    if last < parse_day(rows[0].out_on).first:
        raise Refused(f"Due on {due} is before out on {rows[0].out_on}.", "Type a later --due.")
    for row in rows:
        if row.direction == "out" and not row.back_on:
            refuse_beyond_owner(conn, unit_on(conn, row.unit_id, last), last)
            if last > parse_day(row.due_on).last and not reason.strip():
                raise Refused(
                    f"{name} is due on {row.due_on}, and {due} is later.",
                    f"Type: spindlebook loan extend {typed(name)} --due {due}; or why it was wrong: --reason REASON",
                )


def _refuse_contradiction(work: Work, row_id: int, _edited: Edited) -> None:
    """Refuse a deposit that is less than what of it went back, and a borrower who lent a unit of the loan."""
    sql = "SELECT deposit_minor, deposit_back_minor FROM loan WHERE id = :id"
    deposit, back = fetch(work.conn, sql, id=row_id)[0]
    if back is not None and (deposit is None or deposit < back):
        raise Refused("More of the deposit went back than it would be.", "Type the deposit as it was taken.")
    for row in items_of(work.conn, row_id, work.today):
        if row.direction == "out" and not row.back_on:
            refuse_to_lender(work.conn, unit_on(work.conn, row.unit_id, work.today), loan_person(work.conn, row_id))
