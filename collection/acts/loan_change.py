"""Changing an open loan: a later day, and the deposit that goes back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from sqlalchemy.engine import Connection, Engine

from collection.acts.amounts import sum_given
from collection.acts.days import day_ahead, day_given
from collection.acts.loan_refusals import Judged, mark, refuse_units
from collection.acts.loan_rules import (
    Span,
    against_longer,
    close_reservations,
    loan_person,
    refuse_beyond_owner,
)
from collection.acts.texts import refuse_texts
from collection.acts.work import Work, open_work
from collection.errors import Refused, typed
from collection.quantity import Money, parse_day
from collection.views.due import Rechecks
from collection.views.loans import LoanRow, find_loan, items_of
from collection.views.safety import safety_failed
from collection.views.units import unit_on


def extend(
    engine: Engine,
    name: str,
    *,
    due: str,
    all_the_same: str = "",
    rechecks: Rechecks | None = None,
    today: date,
    now: datetime,
) -> list[LoanRow]:
    """Let a loan last until a later day; name: of the loan, or a tag of a unit on it. Returns the units still on it.

    Raises Refused for a loan that is over, a day that is not later than the day due, beyond the day on which a borrowed
    unit is due back, and, without a reason, for what would stand against lending a unit that long.
    """
    refuse_texts(all_the_same=all_the_same)
    with open_work(engine, "loan extend", today=today, now=now, reason=all_the_same.strip() or None) as work:
        loan_id, loan = find_loan(work.conn, name)
        rows = _still_out(work.conn, loan_id, loan)
        before, after = parse_day(rows[0].due_on), day_ahead(due, "--due")
        if after <= before.last:
            raise Refused(
                f"{loan} is due on {rows[0].due_on} already, and {after.isoformat()} is not later.",
                f"Type a later --due; to put the day right: spindlebook loan edit {typed(loan)} --due DATE",
            )
        if rows[0].direction == "out":
            span = Span(before.last + timedelta(1), after, loan_person(work.conn, loan_id))
            _lend_longer(work, rows, span, all_the_same, rechecks)
        work.update("loan", loan_id, due_on=after.isoformat())
        made = [row for row in items_of(work.conn, loan_id, today) if not row.back_on]
        work.commit(f"{loan}: due {after.isoformat()} instead of {rows[0].due_on}")
    return made


def return_deposit(
    engine: Engine,
    name: str,
    amount: str = "",
    *,
    on: str = "",
    reason: str = "",
    today: date,
    now: datetime,
) -> LoanRow:
    """Note that the deposit of a loan went back; amount: how much of it ("": all of it), 0 where it is kept.

    Raises Refused for a loan without one, one that went back already, more than the deposit, another currency, less
    without a reason, and while a unit of the loan is still out.
    """
    with open_work(engine, "loan deposit", today=today, now=now, reason=reason.strip() or None) as work:
        loan_id, loan = find_loan(work.conn, name)
        rows = items_of(work.conn, loan_id, today)
        deposit = _deposit_held(rows)
        back = sum_given("A deposit", amount, deposit.currency) if amount.strip() else deposit
        _refuse_sum(loan, deposit, back, reason)
        day = day_given(on, today)
        if parse_day(rows[0].out_on).first > day:
            raise Refused(f"{loan} began on {rows[0].out_on}, after {day.isoformat()}.", "Type the day: --on DATE.")
        work.update("loan", loan_id, deposit_back_on=day.isoformat(), deposit_back_minor=back.minor)
        made = items_of(work.conn, loan_id, today)[0]
        work.commit(f"{loan}: deposit back, {back.text} {back.currency} of {deposit.text}")
    return made


def _still_out(conn: Connection, loan_id: int, loan: str) -> list[LoanRow]:
    rows = [row for row in items_of(conn, loan_id, date.min) if not row.back_on]
    if not rows:
        raise Refused(f"{loan} is over: all of it is back.", f"See: spindlebook loan show {typed(loan)}")
    return rows


def _lend_longer(work: Work, rows: Sequence[LoanRow], span: Span, all_the_same: str, rechecks: Rechecks | None) -> None:
    """Refuse days that are added to a loan and that something stands against, or mark it, by the rules of a new loan.

    rows: its units that are still out; what stands against each of them is told at once.
    """
    judged = [_judged_longer(work, row, span, rechecks) for row in rows]
    refuse_units(judged, all_the_same, "lent longer", "lend {} longer")
    for row, (unit, _, found) in zip(rows, judged, strict=True):
        mark(work, row.loan_id, unit, found, all_the_same)
        close_reservations(work, unit, span, row.loan_id)


def _judged_longer(work: Work, row: LoanRow, span: Span, rechecks: Rechecks | None) -> Judged:
    unit = unit_on(work.conn, row.unit_id, work.today)
    try:
        refuse_beyond_owner(work.conn, unit, span.last)
    except Refused as refusal:
        return Judged(unit, refusal, ())
    if safety_failed(work.conn, unit.id):
        failed = Refused(
            f"{unit.tag} failed its last electrical safety check; no reason leaves it out longer.",
            f"Ask for it back: spindlebook loan back {typed(unit.tag)}",
        )
        return Judged(unit, failed, ())
    return Judged(unit, None, against_longer(work, unit, span, rechecks))


def _deposit_held(rows: Sequence[LoanRow]) -> Money:
    """Return the deposit of a loan that is over and whose deposit has not gone back."""
    row, still_out = rows[0], [each.tag for each in rows if not each.back_on]
    if row.deposit is None:
        raise Refused(f"{row.loan} has no deposit.", f"See: spindlebook loan show {typed(row.loan)}")
    if row.deposit_back is not None:
        raise Refused(
            f"The deposit of {row.loan} went back on {row.deposit_back_on} already.",
            "If that is wrong: spindlebook undo, with the act that history shows.",
        )
    if still_out:
        raise Refused(
            f"{', '.join(still_out)} of {row.loan} is still out, and the deposit stands for all of it.",
            f"Take it back first: spindlebook loan back {' '.join(map(typed, still_out))}",
        )
    return row.deposit


def _refuse_sum(loan: str, deposit: Money, back: Money, reason: str) -> None:
    if back.currency != deposit.currency:
        raise Refused(
            f"The deposit of {loan} is {deposit.text} {deposit.currency}, and {back.currency} would go back.",
            f"Type the sum in {deposit.currency}.",
        )
    if back.minor > deposit.minor:
        raise Refused(
            f"{back.text} {back.currency} is more than the deposit of {loan}, {deposit.text} {deposit.currency}.",
            "Type the deposit or less.",
        )
    if back.minor < deposit.minor and not reason.strip():
        raise Refused(
            f"{back.text} of {deposit.text} {deposit.currency} would go back: the rest is kept for a reason.",
            'Add --reason "REASON"; the history keeps it.',
        )
