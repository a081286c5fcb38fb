"""Reserving units for a person between two days, and giving a reservation up."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.days import day_ahead
from collection.acts.loan_rules import each_once, refuse_beyond_owner, refuse_to_lender
from collection.acts.texts import refuse_texts
from collection.acts.work import open_work
from collection.errors import Refused, typed
from collection.quantity import parse_day
from collection.views.loans import loans_of
from collection.views.people import find_person
from collection.views.reservations import Reservation, reservation_list, reserved
from collection.views.units import LOST, Unit, find_unit, unit_on


def reserve(
    engine: Engine,
    tags: Sequence[str],
    *,
    to: str,
    first: str,
    last: str,
    purpose: str = "",
    today: date,
    now: datetime,
) -> list[Reservation]:
    """Keep units for a person from one day to another, both included; returns one row per unit.

    Raises Refused for an unknown person or unit, the same unit twice, days in the wrong order or that are over, a unit
    that is lost, out or reserved then, for a borrowed one beyond the day on which it is due back, and for who lent it.
    """
    refuse_texts(purpose=purpose)
    with open_work(engine, "loan reserve", today=today, now=now) as work:
        begin, end = _days(first, last, today)
        if not to.strip():
            raise Refused("--to names nobody.", 'Add --to "NAME"; a new one: spindlebook person add "NAME"')
        person = find_person(work.conn, to)
        units = [unit_on(work.conn, unit_id, today) for unit_id in each_once(work.conn, tags)]
        ids = []
        for unit in units:
            _refuse_taken(work.conn, unit, begin, end)
            refuse_to_lender(work.conn, unit, person.id)
            ids.append(
                work.insert(
                    "reservation",
                    unit_id=unit.id,
                    person_id=person.id,
                    from_date=begin.isoformat(),
                    to_date=end.isoformat(),
                    purpose=purpose.strip() or None,
                )
            )
        made = {row.id: row for row in reservation_list(work.conn, today)}
        work.commit(f"reserved {', '.join(unit.tag for unit in units)} from {begin} to {end}")
    return [made[row_id] for row_id in ids]


def unreserve(
    engine: Engine,
    tags: Sequence[str],
    *,
    person: str = "",
    first: str = "",
    reason: str = "",
    today: date,
    now: datetime,
) -> list[Reservation]:
    """Give up the reservations of units; person and first day say which where a unit has several.

    Raises Refused for a unit without a standing reservation, and where several are meant.
    """
    refuse_texts(reason=reason)
    with open_work(engine, "loan unreserve", today=today, now=now, reason=reason.strip() or None) as work:
        only = find_person(work.conn, person, forgotten_too=True).id if person.strip() else None
        begin = day_ahead(first, "--from").isoformat() if first.strip() else ""
        standing = reservation_list(work.conn, today)
        rows = [
            _which([row for row in standing if row.unit_id == unit_id], find_unit(work.conn, tag).tag, only, begin)
            for unit_id, tag in zip(each_once(work.conn, tags), tags, strict=True)
        ]
        for row in rows:
            work.update("reservation", row.id, closed_on=today.isoformat(), closed_reason=reason.strip() or None)
        work.commit(f"gave up the reservation of {', '.join(row.tag for row in rows)}")
    return rows


def _days(first: str, last: str, today: date) -> tuple[date, date]:
    begin, end = day_ahead(first, "--from"), day_ahead(last, "--until")
    if end < begin:
        raise Refused(f"Until {end} is before from {begin}.", "Type days in the order in which they come.")
    if end < today:
        raise Refused(f"From {begin} to {end} is over (today is {today}).", "Type days that are still to come.")
    return begin, end


def _refuse_taken(conn: Connection, unit: Unit, begin: date, end: date) -> None:
    """Refuse a unit that cannot be handed out then."""
    if unit.standing in LOST:
        raise Refused(
            f"{unit.tag} is {unit.standing} since {unit.standing_from}: it is not there to be lent.",
            f"If it is: spindlebook unit enter {typed(unit.tag)} --standing ready",
        )
    for loan in loans_of(conn, unit.id):
        if not loan.back_on and parse_day(loan.due_on).last >= begin:
            raise Refused(
                f"{unit.tag} is out to {loan.person} until {loan.due_on} (loan {loan.loan}).",
                f"Reserve it from a later day; if it is back: spindlebook loan back {typed(unit.tag)}",
            )
    for row in reserved(conn, unit.id, begin, end):
        raise Refused(
            f"{unit.tag} is reserved for {row.person} from {row.from_date} to {row.to_date}.",
            "Type other days; if that is given up:"
            f" spindlebook loan unreserve {typed(unit.tag)} --from {row.from_date}",
        )
    refuse_beyond_owner(conn, unit, end)


def _which(rows: Sequence[Reservation], tag: str, person_id: int | None, begin: str) -> Reservation:
    found = [row for row in rows if person_id in (None, row.person_id) and begin in ("", row.from_date)]
    if len(found) == 1:
        return found[0]
    if not found:
        asked = " then, or for that person" if rows else ""
        raise Refused(f"{tag} is not reserved{asked}.", "Type: spindlebook loan reservations")
    days = ", ".join(f"{row.from_date} ({row.person})" for row in found)
    raise Refused(
        f"{tag} is reserved {len(found)} times: from {days}.",
        f"Say which: spindlebook loan unreserve {typed(tag)} --from {found[0].from_date}",
    )
