"""Lending units: what goes out, to whom, until when, on what terms and in what state."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.amounts import sum_given
from collection.acts.condition_checks import GivenCheck, write_check
from collection.acts.days import day_ahead, day_given
from collection.acts.loan_given import GivenState, GivenTerms, GoingOut
from collection.acts.loan_refusals import Judged, mark, refuse_units
from collection.acts.loan_rules import (
    Span,
    against_lending,
    close_reservations,
    each_once,
    refuse_failed,
    refuse_impossible,
)
from collection.acts.texts import refuse_texts, refuse_texts_of
from collection.acts.work import Work, open_work
from collection.errors import Refused
from collection.quantity import Money
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.due import Rechecks
from collection.views.loans import LoanRow, items_of
from collection.views.people import find_person
from collection.views.units import Unit, unit_on


def lend(
    engine: Engine,
    units: Sequence[str | GoingOut],
    *,
    to: str,
    due: str,
    on: str = "",
    came_back: str = "",
    terms: GivenTerms | None = None,
    all_the_same: str = "",
    rechecks: Rechecks | None = None,
    today: date,
    now: datetime,
) -> list[LoanRow]:
    """Lend units to a person until a day; returns one row per unit.

    units: each by its tag, or with what is told of it. came_back: the day on which all of them were back, of a loan
    that is over. rechecks: by unit, of `views.recheck`; without them none is due. Raises Refused for an unknown person
    or unit, the same unit twice, a day due or back before the day out, what no reason overrides, and, without a reason,
    for a unit that something stands against, unless the loan is over.
    """
    given, terms = [_going(each) for each in units], terms or GivenTerms()
    refuse_texts(all_the_same=all_the_same)
    for told in (terms, *given):
        refuse_texts_of(told)
    with open_work(engine, "loan out", today=today, now=now, reason=all_the_same.strip() or None) as work:
        span = _over(loan_span(work, to, due, on), came_back, today)
        going = [
            (unit_on(work.conn, unit_id, span.first), each)
            for unit_id, each in zip(each_once(work.conn, [each.tag for each in given]), given, strict=True)
        ]
        judged = [_judged(work, unit, span, each.state, rechecks) for unit, each in going]
        refuse_units(judged, all_the_same)
        loan_id = new_loan(work, "out", span, terms)
        for (unit, each), (*_, against) in zip(going, judged, strict=True):
            item_id = work.insert(
                "loan_item",
                loan_id=loan_id,
                unit_id=unit.id,
                along=each.along.strip() or None,
                condition_out=each.state.condition.strip() or None,
                back_on=span.back.isoformat() if span.back else None,
            )
            check_state(work, unit, span.first, each.state, "loan out", terms.by, item_id)
            refuse_failed(work.conn, unit, span.first, work.today)  # what was just read may be its electrical safety
            mark(work, loan_id, unit, against, all_the_same)
            close_reservations(work, unit, span, loan_id)
        rows = items_of(work.conn, loan_id, today)
        work.commit(f"lent {', '.join(unit.tag for unit, _ in going)} until {span.away.isoformat()}")
    return rows


def _judged(work: Work, unit: Unit, span: Span, state: GivenState, rechecks: Rechecks | None) -> Judged:
    """Return what stands against lending a unit; of a loan that is over nothing that a reason would override."""
    try:
        refuse_impossible(work.conn, unit, span, work.today)
    except Refused as refusal:
        return Judged(unit, refusal, ())
    if span.back:
        return Judged(unit, None, ())
    return Judged(unit, None, against_lending(work, unit, span, state, rechecks))


def new_loan(work: Work, direction: str, span: Span, terms: GivenTerms) -> int:
    """Write a loan without its units; returns its id. Raises Refused for an unknown person and for no sum."""
    money = _deposit(work.conn, terms.deposit)
    return work.insert(
        "loan",
        name=_free_name(work.conn),
        direction=direction,
        person_id=span.person_id,
        out_on=span.first.isoformat(),
        due_on=span.last.isoformat(),
        purpose=terms.purpose.strip() or None,
        deposit_minor=money.minor if money else None,
        currency=money.currency if money else None,
        cover=terms.cover.strip() or None,
        agreement=terms.agreement.strip() or None,
        issued_by_id=find_person(work.conn, terms.by).id if terms.by.strip() else work.who_id,
    )


def check_state(
    work: Work, unit: Unit, day: date, state: GivenState, occasion: str, by: str, item_id: int
) -> int | None:
    """Write the condition check that goes with a loan, where anything is told; returns its id."""
    if not state:
        return None
    check = GivenCheck(
        occasion=occasion,
        condition=state.condition,
        grade=state.grade,
        by=by,
        readings=state.readings,
        instrument=state.instrument,
        new_instrument=state.new_instrument,
        photos=state.photos,
    )
    return write_check(work, unit, day, check, loan_item_id=item_id)


def loan_span(work: Work, person: str, due: str, on: str, option: str = "--to") -> Span:
    """Return the days of a new loan and its other side. Raises Refused for nobody, and for days in the wrong order."""
    if not person.strip():
        raise Refused(f"{option} names nobody.", f'Add {option} "NAME"; a new one: spindlebook person add "NAME"')
    first, last = day_given(on, work.today), day_ahead(due, "--due")
    if last < first:
        raise Refused(f"Due on {last.isoformat()} is before out on {first.isoformat()}.", "Type a later --due.")
    return Span(first, last, find_person(work.conn, person).id)


def _over(span: Span, came_back: str, today: date) -> Span:
    """Return the days of a loan with the one on which it was over, if it is. Raises Refused for one before it began."""
    if not came_back.strip():
        return span
    back = day_given(came_back, today, "--came-back")
    if back < span.first:
        raise Refused(f"Back on {back.isoformat()} is before out on {span.first.isoformat()}.", "Type a later day.")
    return span._replace(back=back)


def _going(told: str | GoingOut) -> GoingOut:
    return told if isinstance(told, GoingOut) else GoingOut(told)


def _deposit(conn: Connection, text: str) -> Money | None:
    """Return the deposit that "50" or "50 EUR" spells, in the book's currency where none is named."""
    return sum_given("A deposit", text, open_book(conn).settings.currency) if text.strip() else None


def _free_name(conn: Connection) -> str:
    """Return the name of a new loan, "L1" and so on: one that no loan ever had."""
    number = int(fetch(conn, "SELECT count(*) FROM loan")[0][0]) + 1
    while fetch(conn, "SELECT 1 FROM loan WHERE name = :name", name=f"L{number}"):
        number += 1
    return f"L{number}"
