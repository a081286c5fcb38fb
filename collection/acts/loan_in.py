"""Borrowing units from others, and giving them back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.days import day_given
from collection.acts.dispose import end_pairings
from collection.acts.entries import Standing, enter_owner, enter_standing
from collection.acts.leaving import refuse_gone_since
from collection.acts.loan_back import close_item, coming_back, open_item, rows_now
from collection.acts.loan_given import ComingBack, GivenTerms, GoingOut
from collection.acts.loan_out import check_state, loan_span, new_loan
from collection.acts.loan_refusals import Objection, mark
from collection.acts.loan_rules import borrowed_on, each_once
from collection.acts.texts import refuse_texts, refuse_texts_of
from collection.acts.units import ARRIVED
from collection.acts.work import Work, open_work
from collection.errors import Refused, fold, typed
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.exits import GONE
from collection.views.loans import LoanRow, items_of, loans_of
from collection.views.people import find_person
from collection.views.units import Unit, unit_on

_BORROWED = "borrowed"  # begins the mark of what somebody lent whose it is not
_AGREED = f"""
SELECT 1 FROM doubt d WHERE d.table_name = 'loan' AND d.row_id = :loan AND d.value = :tag AND d.rule LIKE :begins
AND {counts("d")} AND NOT EXISTS (SELECT 1 FROM unit_entry e
  WHERE e.unit_id = :unit AND e.what = 'owner' AND {counts("e")} AND e.act_id > d.act_id)
"""
_OWNED_SINCE = f"""
SELECT max(e.from_date) FROM unit_entry e
WHERE e.unit_id = :unit AND e.what = 'owner' AND e.from_date <= :day AND {counts("e")}
"""
_OWNED = (Objection("it belongs to somebody else than its lender"),)


def borrow(
    engine: Engine,
    units: Sequence[str | GoingOut],
    *,
    lender: str,
    due: str,
    on: str = "",
    terms: GivenTerms | None = None,
    all_the_same: str = "",
    today: date,
    now: datetime,
) -> list[LoanRow]:
    """Note that units of the book are borrowed until a day; returns one row per unit.

    The lender becomes the owner of a unit of which none is known; a unit that was gone has arrived again. Raises
    Refused for an unknown person or unit, the same unit twice, a day due before the day it came, for a unit that is
    borrowed or out already, or was borrowed beyond the day it came, and, without a reason, for one that belongs to
    somebody else than the lender.
    """
    given = [each if isinstance(each, GoingOut) else GoingOut(each) for each in units]
    terms = terms or GivenTerms()
    refuse_texts(all_the_same=all_the_same)
    for told in (terms, *given):
        refuse_texts_of(told)
    with open_work(engine, "loan in", today=today, now=now, reason=all_the_same.strip() or None) as work:
        span = loan_span(work, lender, due, on, "--from")
        name = find_person(work.conn, lender).name
        ids = _known(work.conn, [each.tag for each in given])
        came = [(unit_on(work.conn, unit_id, span.first), each) for unit_id, each in zip(ids, given, strict=True)]
        for unit, _ in came:
            _refuse_here(work.conn, unit, span.first)
            refuse_gone_since(
                work.conn, unit, today, "so it is not borrowed now", "Type a day from {since} on: --on DATE"
            )
        others = {unit.id: unit for unit, _ in came if _belongs_to_other(unit, name)}
        if others and not all_the_same.strip():
            raise _not_borrowed(others.values(), name, span.first)
        loan_id = new_loan(work, "in", span, terms)
        for unit, each in came:
            item_id = work.insert(
                "loan_item",
                loan_id=loan_id,
                unit_id=unit.id,
                along=each.along.strip() or None,
                condition_out=each.state.condition.strip() or None,
            )
            if unit.id in others:
                mark(work, loan_id, unit, _OWNED, all_the_same, _BORROWED)
            _enter(work, unit, name, span.first.isoformat())
            check_state(work, unit, span.first, each.state, "entry", terms.by, item_id)
        rows = items_of(work.conn, loan_id, today)
        work.commit(f"borrowed {', '.join(unit.tag for unit, _ in came)} until {span.last.isoformat()}")
    return rows


def give_back(
    engine: Engine,
    units: Sequence[str | ComingBack],
    *,
    on: str = "",
    by: str = "",
    all_the_same: str = "",
    today: date,
    now: datetime,
) -> list[LoanRow]:
    """Note that borrowed units went back to who lent them; they are gone from then on. Returns one row per unit.

    Raises Refused for a unit that is not borrowed, the same unit twice, a day before it came, one that is lent on or
    promised, one with an open service, a day after which it was still lent on or entered to stand here, and, without a
    reason, for one that belongs to somebody else than the lender, unless it did so when it came, for a reason.
    """
    given = coming_back(units)
    refuse_texts(all_the_same=all_the_same)
    with open_work(engine, "loan give-back", today=today, now=now, reason=all_the_same.strip() or None) as work:
        day = day_given(on, today)
        going = [open_item(work.conn, unit_id, day, "in") for unit_id in each_once(work.conn, [e.tag for e in given])]
        for row, told in zip(going, given, strict=True):
            unit = unit_on(work.conn, row.unit_id, day)
            _ask_whose(work, unit, row, day, all_the_same)
            check_state(work, unit, day, told.state, "exit", by, row.item_id)
            close_item(work, row.item_id, day, told, by, told.state.condition.strip())
            _leave(work, unit, row, day)
        rows = rows_now(work.conn, going, today)
        work.commit(f"gave back {', '.join(row.tag for row in rows)}")
    return rows


def _known(conn: Connection, tags: Sequence[str]) -> list[int]:
    try:
        return each_once(conn, tags)
    except Refused as refusal:
        if refusal.what.startswith("No unit"):
            hint = f'{refusal.hint} If it is new: spindlebook arrival TAG --model "NAME"'
            raise Refused(refusal.what, hint) from None
        raise


def _refuse_here(conn: Connection, unit: Unit, first: date) -> None:
    """Refuse to borrow what is borrowed, was so on the first day or after it, or is lent out."""
    rows = loans_of(conn, unit.id, "in")
    for row in rows:
        if row.back_on > first.isoformat():
            raise Refused(
                f"{unit.tag} was borrowed from {row.person} from {row.out_on} to {row.back_on} (loan {row.loan}).",
                f"Type a day from {max(each.back_on for each in rows)} on: --on DATE.",
            )
    loan = borrowed_on(conn, unit.id)
    if loan is not None:
        raise Refused(
            f"{unit.tag} is borrowed from {loan.person} since {loan.out_on} already (loan {loan.loan}).",
            f"Give it back first: spindlebook loan give-back {typed(unit.tag)}",
        )
    if unit.loan is not None:
        raise Refused(
            f"{unit.tag} is out to {unit.loan.person} since {unit.loan.out_on}, so nobody lends it to you.",
            f"Take it back first: spindlebook loan back {typed(unit.tag)}",
        )


def _belongs_to_other(unit: Unit, lender: str) -> bool:
    return bool(unit.owner) and fold(unit.owner) != fold(lender)


def _not_borrowed(units: Iterable[Unit], lender: str, first: date) -> Refused:
    """Return the refusal of units that belong to somebody else than who would lend them: a tag may be mistyped."""
    says = [f"{unit.tag} is not borrowed: it belongs to {unit.owner}, not to {lender}." for unit in units]
    mends = [f"If the owner is wrong: {_enter_owner(unit, lender, first.isoformat())}" for unit in units]
    more = f'If {lender} lends what is not theirs, give a reason: --all-the-same "REASON".'
    return Refused("\n".join(says), "\n".join([*mends, more]))


def _enter_owner(unit: Unit, lender: str, day: str) -> str:
    return f"spindlebook unit enter {typed(unit.tag)} --owner {typed(lender)} --on {day}"


def _ask_whose(work: Work, unit: Unit, row: LoanRow, day: date, all_the_same: str) -> None:
    """Refuse to give a unit to somebody else than its owner without a reason, and mark the loan where there is one.

    It needs none where it came from there for a reason, and whose it is was not entered since.
    """
    if not _belongs_to_other(unit, row.person):
        return
    agreed = fetch(work.conn, _AGREED, loan=row.loan_id, unit=unit.id, tag=unit.tag, begins=f"{_BORROWED}%")
    if not all_the_same.strip() and not agreed:
        since = fetch(work.conn, _OWNED_SINCE, unit=unit.id, day=day.isoformat())[0][0]
        raise Refused(
            f"{unit.tag} belongs to {unit.owner}, not to {row.person}, who lent it (loan {row.loan}):"
            " given back, it is gone.",
            f'If it goes to {row.person}, give a reason: --all-the-same "REASON".'
            f"\nIf {unit.owner} got it from {row.person} and it stays here: give that as the reason, and then:"
            f" spindlebook unit enter {typed(unit.tag)} --standing ready"
            # an owner entered after it came would hold on over one of the day it came
            f"\nIf the owner is wrong: {_enter_owner(unit, row.person, max(since, row.out_on))}"
            "\nIf it was never borrowed: spindlebook undo, with the act that history shows.",
        )
    if all_the_same.strip():
        mark(work, row.loan_id, unit, _OWNED, all_the_same, "given back")


def _enter(work: Work, unit: Unit, lender: str, day: str) -> None:
    """Enter whose a borrowed unit is, and that it is here, as far as the book does not know it."""
    if not unit.owner:
        enter_owner(work, unit.id, lender, day)
    if unit.standing in ("", GONE):
        enter_standing(work, unit, Standing(ARRIVED, day, "borrowed"))


def _leave(work: Work, unit: Unit, row: LoanRow, day: date) -> None:
    """Enter that a unit whose loan is ended left, and to whom. Raises Refused as `enter_standing` of what is gone."""
    enter_standing(work, unit, Standing(GONE, day.isoformat(), f"given back, loan {row.loan}"))
    lender = fetch(work.conn, "SELECT person_id FROM loan WHERE id = :id", id=row.loan_id)[0][0]
    work.insert(
        "unit_exit",
        unit_id=unit.id,
        left_on=day.isoformat(),
        how="given back",
        reason=f"loan {row.loan}",
        to_id=lender,
        authority_id=work.who_id,
    )
    end_pairings(work, unit.id, day.isoformat())
