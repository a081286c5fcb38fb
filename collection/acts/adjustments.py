"""Screws that were turned: which, which way and how far, on their own or in a service."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.days import day_given
from collection.acts.texts import refuse_texts_of
from collection.acts.work import Work, open_work
from collection.analysis.turns import parse_direction, parse_turns
from collection.errors import Refused
from collection.views.adjustments import Adjustment, Screw, adjustments_of, screws
from collection.views.measuring import find_measurement
from collection.views.services import open_service_of
from collection.views.units import find_unit


@dataclass(frozen=True, slots=True)
class GivenTurn:
    """A screw as told: its name, how far ("1/8", "45 deg"), which way, and the measurement it sets or ""."""

    screw: str
    amount: str
    direction: str
    measurement: str = ""
    note: str = ""


def turn_screw(
    engine: Engine, tag: str, given: GivenTurn, *, on: str = "", today: date, now: datetime
) -> tuple[Adjustment, Screw]:
    """Note that a screw of a unit was turned; it belongs to the open service, where that had begun by the day.

    Returns this turn, and where the screw stands after all its turns. Raises Refused as `note_turn` does, and for
    a day that has not come.
    """
    refuse_texts_of(given)
    with open_work(engine, "unit turn", today=today, now=now) as work:
        unit, day = find_unit(work.conn, tag), day_given(on, today)
        service = open_service_of(work.conn, unit.id)
        during = service if service and service.opened_on <= day.isoformat() else None
        row = note_turn(work, unit.id, given, day, during.id if during else None)
        listed = adjustments_of(work.conn, unit.id)
        made = next(each for each in listed if each.id == row)
        work.commit(f"{unit.tag}: turned {made.screw}")
    return made, next(each for each in screws(listed) if each.screw == made.screw)


def note_turn(work: Work, unit_id: int, given: GivenTurn, on: date, service_id: int | None) -> int:
    """Note one turn of a screw; a screw that was turned before keeps the spelling of its name. Returns the row.

    Raises Refused for no screw, an amount or a direction that is none, and an unknown measurement.
    """
    screw = " ".join(given.screw.split())
    if not screw:
        raise Refused("Which screw was turned is not said.", 'Name it as "speed trimmer".')
    turns, direction = parse_turns(given.amount), parse_direction(given.direction)
    spelt = {each.screw.casefold(): each.screw for each in adjustments_of(work.conn, unit_id)}
    return work.append(
        "adjustment",
        unit_id=unit_id,
        service_id=service_id,
        done_on=on.isoformat(),
        screw=spelt.get(screw.casefold(), screw),
        direction=direction,
        turns=float(turns),
        entered=" ".join(given.amount.split()),
        measurement_id=find_measurement(work.conn, given.measurement).id if given.measurement else None,
        note=given.note or None,
    )
