"""What stands against lending a unit: what no reason overrides, and what one does.

No reason lends what is not there (out already, missing, gone), keeps a borrowed unit beyond the day on which its owner
wants it, or hands out a unit that failed its electrical safety check.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.acts.instruments import Instruments
from collection.acts.leaving import refuse_gone_since
from collection.acts.loan_given import GivenState
from collection.acts.loan_refusals import Objection
from collection.acts.readings import held_against, out_of_limits
from collection.acts.work import Work
from collection.analysis.bench_plan import PRESSING
from collection.errors import Refused, fold, typed
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.condition_checks import failed_conditions
from collection.views.due import Rechecks, due_facts, work_ahead
from collection.views.faults import open_faults_on
from collection.views.loans import LoanRow, loans_of
from collection.views.reservations import reserved
from collection.views.safety import safety_against, safety_failed
from collection.views.units import LOST, Unit, find_unit

_NEVER = "9999"  # later than any day text


class Span(NamedTuple):
    """From when to when a unit is lent, both days included, and the id of who borrows.

    back: the day it came back, of a loan that is noted when it is over; None for one that is out.
    """

    first: date
    last: date
    person_id: int
    back: date | None = None

    @property
    def away(self) -> date:
        """The last day on which the unit is away."""
        return self.back or self.last


def each_once(conn: Connection, tags: Sequence[str]) -> list[int]:
    """Return the units of these tags. Raises Refused for an unknown one and for one that is named twice."""
    ids: list[int] = []
    for tag in tags:
        unit = find_unit(conn, tag)
        if unit.id in ids:
            raise Refused(f"{unit.tag} is named twice.", "Name each unit once.")
        ids.append(unit.id)
    return ids


def refuse_impossible(conn: Connection, unit: Unit, span: Span, today: date) -> None:
    """Refuse what no reason overrides; unit: as of the first day."""
    refuse_out(conn, unit, span)
    if unit.standing in LOST:
        on = f" --on {span.first}" if span.first < today else ""
        raise Refused(
            f"{unit.tag} is {unit.standing} since {unit.standing_from}: it is not there to be lent.",
            f"If it is: spindlebook unit enter {typed(unit.tag)} --standing ready{on}",
        )
    _refuse_left(conn, unit, span, today)
    refuse_beyond_owner(conn, unit, span.away)
    refuse_to_lender(conn, unit, span.person_id)
    refuse_failed(conn, unit, span.first, today)


def _refuse_left(conn: Connection, unit: Unit, span: Span, today: date) -> None:
    """Refuse a loan during which the unit left for good."""
    if span.back:
        so, hint = (
            f"so it did not come back on {span.back}",
            "Type the day it was back, {since} or before: --came-back DATE",
        )
    else:
        so, hint = "so it is out on no loan now", "If it was back by {since}: --came-back DATE"
    refuse_gone_since(conn, unit, span.back or today, so, hint, over=span.back is not None)


def refuse_failed(conn: Connection, unit: Unit, day: date, today: date) -> None:
    """Refuse a unit whose last electrical safety check, or grade of a service or a reading, by a day failed."""
    if safety_failed(conn, unit.id, day):
        raise Refused(
            f"{unit.tag} failed its last electrical safety check; no reason lends it.",
            _once_passed(unit, day, today),
        )


def refuse_out(conn: Connection, unit: Unit, span: Span) -> None:
    """Refuse a unit that is out on a day of a loan, or goes out after the first day of one that is not over."""
    first, back = span.first.isoformat(), span.back.isoformat() if span.back else _NEVER
    met = [row for row in loans_of(conn, unit.id) if first < (row.back_on or _NEVER) and row.out_on < back]
    if met:
        raise _met(unit, met, first)


def _met(unit: Unit, met: Sequence[LoanRow], first: str) -> Refused:
    """Return the refusal of a loan from a day on that shares days with others: they are named by the first of them."""
    row = met[0]
    if row.back_on:
        says = f"{unit.tag} was out to {row.person} from {row.out_on} to {row.back_on} (loan {row.loan})."
    elif row.out_on <= first:
        says = f"{unit.tag} is out to {row.person} since {row.out_on}, due {row.due_on} (loan {row.loan})."
    else:
        says = f"{unit.tag} is lent from {row.out_on} on already (loan {row.loan})."
    if all(each.back_on for each in met):
        mend = f"{unit.tag} can go out from {max(each.back_on for each in met)} on: --on DATE."
    else:
        mend = f"Take it back first: spindlebook loan back {typed(unit.tag)}"
    over = f"If {unit.tag} was back by {row.out_on}: --came-back DATE. Else: " if row.out_on > first else ""
    return Refused(says, over + mend)


def refuse_beyond_owner(conn: Connection, unit: Unit, last: date) -> None:
    """Refuse to keep a borrowed unit away beyond the day on which it is due back to its lender."""
    loan = borrowed_on(conn, unit.id)
    if loan is not None and last > parse_day(loan.due_on).last:
        raise Refused(
            f"{unit.tag} is borrowed from {loan.person} until {loan.due_on} (loan {loan.loan}), before {last}.",
            f"End by then; if the lender agrees to more: spindlebook loan extend {typed(loan.loan)} --due DATE",
        )


def refuse_to_lender(conn: Connection, unit: Unit, person_id: int) -> None:
    """Refuse to lend a borrowed unit to whoever lent it."""
    loan = borrowed_on(conn, unit.id)
    if loan is not None and loan_person(conn, loan.loan_id) == person_id:
        raise Refused(
            f"{unit.tag} is borrowed from {loan.person}, so it is not lent to them (loan {loan.loan}).",
            f"Give it back: spindlebook loan give-back {typed(unit.tag)}",
        )


def borrowed_on(conn: Connection, unit_id: int) -> LoanRow | None:
    """Return the open loan in of a unit."""
    return next((row for row in loans_of(conn, unit_id, "in") if not row.back_on), None)


def against_lending(
    work: Work, unit: Unit, span: Span, state: GivenState, rechecks: Rechecks | None
) -> list[Objection]:
    """Return what stands against lending a unit, what may hurt first; a reason overrides it.

    state: as it goes out. First the electrical safety, then how it stands and what is wrong, then what falls due.
    """
    due = _due_work(work, unit, span.last, rechecks)
    faults = open_faults_on(work.conn, unit.id, span.first)
    return [
        *_unsafe(work, unit, span.last, span.first),
        *_not_ready(unit),
        *against_state(work, unit, span.first, state),
        *(() if state.grade else _failed_before(work, unit, span.first)),
        *(Objection(f'fault "{fault.symptom}" is open') for fault in faults),
        *(each for each, wrong in due if wrong),
        *_kept(work, unit, span),
        *(each for each, wrong in due if not wrong),
    ]


def against_state(work: Work, unit: Unit, day: date, state: GivenState) -> list[Objection]:
    """Return what is seen of a unit as it goes out that stands against lending it; a reason overrides it."""
    found: list[Objection] = []
    if state.readings:
        told = Instruments((state.instrument,) if state.instrument else (), state.new_instrument)
        held = held_against(work.conn, unit, told)
        found += map(Objection, out_of_limits(work, held, state.readings, day))
    return found + ([Objection("its condition is graded fail")] if fold(state.grade) == "fail" else [])


def _failed_before(work: Work, unit: Unit, day: date) -> Iterator[Objection]:
    """Yield that a unit failed its last condition check until a day; words alone, as it goes out, do not pass it."""
    for failed_on in failed_conditions(work.conn, day, unit.id).values():
        add = f"spindlebook condition add {typed(unit.tag)} --condition"
        late = f'If it was put right by {day}: {add} "AS IT WAS" --grade pass --on DATE'
        mend = late if day < work.today else f'Once it is put right: {add} "AS IT IS" --grade pass'
        yield Objection(f"its condition was graded fail on {failed_on}", mend)


def against_longer(work: Work, unit: Unit, span: Span, rechecks: Rechecks | None) -> list[Objection]:
    """Return what stands against a unit being out until the last day of a span; what was checked while out counts."""
    due = _due_work(work, unit, span.last, rechecks)
    return [
        *_unsafe(work, unit, span.last),
        *(each for each, wrong in due if wrong),
        *_kept(work, unit, span),
        *(each for each, wrong in due if not wrong),
    ]


def _unsafe(work: Work, unit: Unit, last: date, out: date | None = None) -> Iterator[Objection]:
    unsafe = safety_against(work.conn, unit.id, last, out)
    if unsafe:
        yield Objection(unsafe, _once_passed(unit, out or work.today, work.today))


def _not_ready(unit: Unit) -> Iterator[Objection]:
    if unit.standing != "ready":
        yield Objection(f"it is {unit.standing}, not ready" if unit.standing else "it is not called ready")


def _kept(work: Work, unit: Unit, span: Span) -> Iterator[Objection]:
    for row in reserved(work.conn, unit.id, span.first, span.last, but_for=span.person_id):
        yield Objection(f"it is reserved from {row.from_date} to {row.to_date}")


def _once_passed(unit: Unit, day: date, today: date) -> str:
    """Return what to type for a unit that goes out on a day: of one that is past, a check of today says nothing."""
    add = f"spindlebook safety add {typed(unit.tag)} pass --by PERSON"
    if day < today:
        return f"If a competent person passed it by {day}: {add} --on DATE"
    return f"Once a competent person passed it: {add}"


def close_reservations(work: Work, unit: Unit, span: Span, loan_id: int) -> None:
    """Close the borrower's own reservations of a unit that share a day with its being away: the loan is made of them.

    They are closed on the first day of the span, or today where that has not come.
    """
    closed_on = min(work.today, span.first).isoformat()
    for row in reserved(work.conn, unit.id, span.first, span.away):
        if row.person_id == span.person_id:
            work.update("reservation", row.id, closed_on=closed_on, loan_id=loan_id)


def loan_person(conn: Connection, loan_id: int) -> int:
    """Return the id of who has a loan, or lent it."""
    return int(fetch(conn, "SELECT person_id FROM loan WHERE id = :id", id=loan_id)[0][0])


def _due_work(work: Work, unit: Unit, last: date, rechecks: Rechecks | None) -> list[tuple[Objection, bool]]:
    """Return what is due on a unit, or falls due while it is out, each procedure once; and whether something is wrong.

    That is so of a reading outside its limit, a symptom and a complaint, not of work that its time alone asks for.
    """
    found: dict[str, tuple[Objection, bool]] = {}
    for item in work_ahead(due_facts(work.conn, work.today, unit.id, rechecks)):
        if item.due <= last and fold(item.procedure) not in found:
            when = "is due since" if item.due <= work.today else "falls due on"
            says = Objection(f"{item.procedure} {when} {item.due.isoformat()}")
            found[fold(item.procedure)] = says, item.kind in PRESSING
    return list(found.values())
