"""Electrical safety checks of units, as a competent person found them. The program judges nothing electrical itself."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.days import day_ahead, past_day
from collection.acts.texts import refuse_texts
from collection.acts.work import Work, open_work
from collection.errors import Refused, fold
from collection.quantity import parse_day
from collection.views.people import find_person
from collection.views.safety import SafetyCheck, safety_checks
from collection.views.units import find_unit, refuse_gone, unit_on

RESULTS = ("pass", "fail")


def add_safety_check(
    engine: Engine,
    tag: str,
    result: str,
    *,
    by: str = "",
    on: str = "",
    rule: str = "",
    good_through: str = "",
    note: str = "",
    today: date,
    now: datetime,
) -> SafetyCheck:
    """Note the electrical safety check of a unit.

    by: the competent person; who writes the act where nobody is named. on: maybe only a month or a year. rule: by what
    rule it was checked. Raises Refused for a result that is none, where nobody is named, for a failed check that shall
    be good for a time, one good through a day before it, and a unit that is gone.
    """
    refuse_texts(rule=rule, note=note)
    with open_work(engine, "safety add", today=today, now=now) as work:
        day = past_day(on, today, "--on")
        unit = unit_on(work.conn, find_unit(work.conn, tag).id, min(today, parse_day(day).last))
        refuse_gone(unit)
        said = _result(result)
        made = work.append(
            "safety_check",
            unit_id=unit.id,
            checked_on=day,
            result=said,
            by_id=_by(work, by),
            rule=" ".join(rule.split()) or None,
            good_through=_good_through(said, good_through, day),
            note=note.strip() or None,
        )
        row = next(each for each in safety_checks(work.conn, unit.id) if each.id == made)
        work.commit(f"{unit.tag}: electrical safety check, {said}")
    return row


def _result(text: str) -> str:
    if fold(text) not in RESULTS:
        raise Refused(f'"{text}" is no result of an electrical safety check.', "Type pass or fail.")
    return fold(text)


def _by(work: Work, name: str) -> int:
    if name:
        return find_person(work.conn, name).id
    if work.who_id is None:
        raise Refused("Who checked it is not said; a competent person answers for the result.", "Add --by PERSON.")
    return work.who_id


def _good_through(result: str, text: str, day: str) -> str | None:
    if not text:
        return None
    if result != "pass":
        raise Refused("A check that failed is good through no day.", "Leave --good-through out.")
    through = day_ahead(text, "--good-through")
    if through < parse_day(day).first:
        raise Refused(f"Good through {through.isoformat()} is before the check of {day}.", "Type a later day.")
    return through.isoformat()
