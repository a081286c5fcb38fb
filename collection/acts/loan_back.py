"""Taking units back: as they came, with what is wrong or missing; or noting that one is lost."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.damage import GivenDamage, write_damage
from collection.acts.days import day_given
from collection.acts.faults import write_fault
from collection.acts.loan_given import ComingBack
from collection.acts.loan_out import check_state
from collection.acts.loan_rules import each_once
from collection.acts.texts import refuse_texts_of
from collection.acts.work import Work, open_work
from collection.errors import Refused, typed
from collection.views.loans import LOST_WORD, LoanRow, items_of, loans_of
from collection.views.people import find_person
from collection.views.units import Unit, find_unit, unit_on


def take_back(
    engine: Engine,
    units: Sequence[str | ComingBack],
    *,
    on: str = "",
    by: str = "",
    today: date,
    now: datetime,
) -> list[LoanRow]:
    """Take units back from the loans they are on; returns one row per unit.

    units: each by its tag, or with what is told of it: a complaint becomes an open fault of the unit, what is broken or
    missing a damage or loss. by: who took it back. Raises Refused for a unit that is not on loan, the same unit twice,
    and a day before it went out.
    """
    given = coming_back(units)
    for told in given:
        _refuse_contradiction(told)
    with open_work(engine, "loan back", today=today, now=now) as work:
        day = day_given(on, today)
        unit_ids = each_once(work.conn, [each.tag for each in given])
        going = [open_item(work.conn, unit_id, day) for unit_id in unit_ids]
        for row, told in zip(going, given, strict=True):
            close_item(work, row.item_id, day, told, by, _condition(told))
            _write_told(work, row, told, day, by)
        rows = rows_now(work.conn, going, today)
        work.commit(f"took back {', '.join(row.tag for row in rows)}")
    return rows


def coming_back(units: Sequence[str | ComingBack]) -> list[ComingBack]:
    """Return what is told of each unit. Raises Refused for a text that is too long."""
    given = [each if isinstance(each, ComingBack) else ComingBack(each) for each in units]
    for told in given:
        refuse_texts_of(told)
    return given


def open_item(conn: Connection, unit_id: int, day: date, direction: str = "out") -> LoanRow:
    """Return the loan that a unit is on. Raises Refused for none, and for one that began after the day."""
    tag = unit_on(conn, unit_id, day).tag
    rows = [row for row in loans_of(conn, unit_id, direction) if not row.back_on]
    if not rows:
        raise _on_no_loan(conn, unit_id, tag, direction)
    if rows[0].out_on > day.isoformat():
        raise Refused(
            f"{tag} went out on {rows[0].out_on}, after {day.isoformat()}."
            if direction == "out"
            else f"{tag} came on {rows[0].out_on}, after {day.isoformat()}.",
            f"Type the day it {'came' if direction == 'out' else 'went'} back: --on DATE.",
        )
    return rows[0]


def _on_no_loan(conn: Connection, unit_id: int, tag: str, direction: str) -> Refused:
    """Say that a unit is not lent, or borrowed, and of one that is the other how its loan ends."""
    what, other, ends = ("on loan", "in", "give-back") if direction == "out" else ("borrowed", "out", "back")
    for row in loans_of(conn, unit_id, other):
        if not row.back_on:
            how = f"borrowed from {row.person}" if other == "in" else f"on loan to {row.person}"
            return Refused(f"{tag} is not {what}, it is {how}.", f"Type: spindlebook loan {ends} {typed(tag)}")
    return Refused(f"{tag} is not {what}.", "Type: spindlebook loan list")


def close_item(work: Work, item_id: int, day: date, told: ComingBack, by: str, condition: str) -> None:
    """End the loan of one unit on a day; by: who took it, or gave it back, else who writes."""
    work.update(
        "loan_item",
        item_id,
        back_on=day.isoformat(),
        condition_back=condition or None,
        along_missing=told.missing.strip() or None,
        taken_by_id=find_person(work.conn, by).id if by.strip() else work.who_id,
    )


def rows_now(conn: Connection, going: Sequence[LoanRow], today: date) -> list[LoanRow]:
    """Return the rows as they are now, in the order in which units were named."""
    now = {row.item_id: row for loan in {row.loan_id for row in going} for row in items_of(conn, loan, today)}
    return [now[row.item_id] for row in going]


def _condition(told: ComingBack) -> str:
    return LOST_WORD + told.lost.strip() if told.lost.strip() else told.state.condition.strip()


def _refuse_contradiction(told: ComingBack) -> None:
    """Refuse to look at what is lost, and an estimate of nothing."""
    if told.lost.strip() and (told.state or told.complaint or told.missing or told.damage):
        raise Refused(
            f"{told.tag} is lost, yet it is told how it came back.",
            "Leave out condition, readings, photos, complaint, missing and damage; or leave out --lost.",
        )
    if told.estimate.strip() and not (told.damage.strip() or told.lost.strip()):
        raise Refused(f"{told.tag}: an estimate of what?", "Add --damage or --lost with what happened.")


def _write_told(work: Work, row: LoanRow, told: ComingBack, day: date, by: str) -> None:
    """Write the check, the fault, the damage and the loss that come with a return."""
    unit = unit_on(work.conn, row.unit_id, day)
    check_id = check_state(work, unit, day, told.state, "loan back", by, row.item_id)
    if told.complaint.strip():
        write_fault(work, find_unit(work.conn, row.tag), told.complaint.strip(), day, loan_id=row.loan_id)
    if told.damage.strip():
        _damage(work, unit, row, day, GivenDamage("damage", told.damage, by=by, estimate=told.estimate), check_id)
    if told.missing.strip():
        _damage(work, unit, row, day, GivenDamage("loss", f"what went along: {told.missing.strip()}", by=by), check_id)
    if told.lost.strip():
        lost = GivenDamage("loss", told.lost, by=by, estimate=told.estimate, missing=True)
        _damage(work, unit, row, day, lost, None)


def _damage(work: Work, unit: Unit, row: LoanRow, day: date, given: GivenDamage, check_id: int | None) -> None:
    write_damage(work, unit, day, given, loan_item_id=row.item_id, check_id=check_id)
