"""Moving units: from which day each stands where, and who brought it there. Earlier places stay in the book."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.days import past_day
from collection.acts.entries import Entered, enter_location
from collection.acts.sightings import each_once
from collection.acts.texts import refuse_texts
from collection.acts.work import open_work
from collection.errors import fold
from collection.quantity import parse_day
from collection.views.people import find_person
from collection.views.units import unit_on


def move_units(
    engine: Engine,
    tags: Sequence[str],
    *,
    to: str,
    by: str = "",
    on: str = "",
    note: str = "",
    new_location: bool = False,
    today: date,
    now: datetime,
) -> list[tuple[str, Entered]]:
    """Enter where units stand from a (partial) day on; returns tag and change of each that stood elsewhere.

    by: who moved them, who writes the act where nobody is named. Raises Refused for an unknown unit, location or person
    and a unit named twice.
    """
    refuse_texts(note=note)
    with open_work(engine, "unit move", today=today, now=now) as work:
        day = past_day(on, today, "--on")
        by_id = find_person(work.conn, by).id if by else None
        units = [unit_on(work.conn, each, min(today, parse_day(day).last)) for each in each_once(work, tags)]
        moved = []
        for unit in units:
            if fold(to) != fold(unit.location):
                after = enter_location(work, unit.id, to, day, note.strip(), new=new_location, by_id=by_id)
                now_at = unit_on(work.conn, unit.id, today).location
                moved.append((unit.tag, Entered("location", unit.location, after, now_at)))
        if moved:
            work.commit(f"{', '.join(tag for tag, _ in moved)}: moved to {moved[0][1].after} from {day}")
    return moved
