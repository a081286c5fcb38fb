"""Condition checks: the dated word of a person on what state a unit is in, with readings and pictures."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.attachments import GivenPhoto, attach
from collection.acts.days import day_given
from collection.acts.instruments import Instruments
from collection.acts.readings import BETWEEN, GivenReading, held_against, record_reading
from collection.acts.texts import refuse_texts_of
from collection.acts.work import Work, open_work
from collection.errors import Refused, fold
from collection.schema.custody import OCCASIONS
from collection.schema.measurement import GRADES
from collection.views.condition_checks import ConditionCheck, condition_checks
from collection.views.people import find_person
from collection.views.units import Unit, find_unit, refuse_gone, unit_on


@dataclass(frozen=True, slots=True)
class GivenCheck:
    """A condition check as a person told it; empty text stands for what was not said.

    occasion: one of OCCASIONS. condition: in words. grade: pass, marginal or fail. by: the name of who looked.
    instrument: with which readings were taken that name none themselves.
    """

    occasion: str
    condition: str
    grade: str = ""
    by: str = ""
    readings: tuple[GivenReading, ...] = ()
    instrument: str = ""
    new_instrument: bool = False
    photos: tuple[GivenPhoto, ...] = ()


def add_check(
    engine: Engine, tag: str, given: GivenCheck, *, on: str = "", today: date, now: datetime
) -> ConditionCheck:
    """Note a condition check of a unit. Raises Refused as `write_check`, and for a unit that is gone."""
    with open_work(engine, "condition add", today=today, now=now) as work:
        day = day_given(on, today)
        unit = unit_on(work.conn, find_unit(work.conn, tag).id, day)
        refuse_gone(unit)
        check_id = write_check(work, unit, day, given)
        made = check_made(work.conn, unit.id, check_id)
        work.commit(f"{unit.tag}: condition checked ({made.occasion})")
    return made


def write_check(work: Work, unit: Unit, day: date, given: GivenCheck, *, loan_item_id: int | None = None) -> int:
    """Write a condition check of a unit with its readings and pictures; returns its id.

    Raises Refused for an occasion or a grade that is none, no condition in words, an unknown person, and as
    `record_reading` and `attach` do.
    """
    refuse_texts_of(given)
    if not given.condition.strip():
        raise Refused(
            f"The condition of {unit.tag} is not said.", 'Type it as --condition "no scratches, door closes".'
        )
    check_id = work.append(
        "condition_check",
        unit_id=unit.id,
        checked_on=day.isoformat(),
        occasion=occasion_word(given.occasion),
        condition=given.condition.strip(),
        grade=_grade(given.grade),
        by_id=find_person(work.conn, given.by).id if given.by else work.who_id,
        loan_item_id=loan_item_id,
    )
    if given.readings:
        told = Instruments((given.instrument,) if given.instrument else (), given.new_instrument)
        held = held_against(work.conn, unit, told)
        for reading in given.readings:
            record_reading(work, held, reading, BETWEEN, day, check_id=check_id)
    for photo in given.photos:
        attach(work, unit.id, photo, day.isoformat(), check_id=check_id)
    return check_id


def check_made(conn: Connection, unit_id: int, check_id: int) -> ConditionCheck:
    """Return a condition check of a unit by its id."""
    return next(each for each in condition_checks(conn, unit_id) if each.id == check_id)


def occasion_word(text: str) -> str:
    """Return the occasion that a text spells. Raises Refused, naming all."""
    if fold(text) in OCCASIONS:
        return fold(text)
    raise Refused(f'Occasion "{text}" is not known.', f"Type one of: {', '.join(OCCASIONS)}.")


def _grade(text: str) -> str | None:
    if not text:
        return None
    if fold(text) not in GRADES:
        raise Refused(f'"{text}" is no grade of a condition.', "Type pass, marginal or fail.")
    return fold(text)
