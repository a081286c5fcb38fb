"""What a label says of a unit: what it is, when it was serviced last and what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.analysis.schedule import DueItem, due_list
from collection.store.engine import fetch
from collection.views.due import Facts, Rechecks, due_facts
from collection.views.unit_list import Wanted, unit_filter
from collection.views.units import Unit, find_unit

_ALL_AHEAD = 36500  # days
_SERVICED_SQL = """
SELECT unit_id, max(closed_on) FROM service WHERE void = 0 AND closed_on IS NOT NULL AND closed_on <= :day
GROUP BY unit_id
"""


@dataclass(frozen=True, slots=True)
class Labelled:
    """A unit that gets a label. serviced_on: the (partial) day of its last closed service, "" without one.

    due: the day of its next work, None where nothing lies ahead; procedures: those that are due on that day.
    """

    unit: Unit
    serviced_on: str
    due: date | None
    procedures: tuple[str, ...]


def labelled(
    conn: Connection, today: date, tags: Sequence[str], wanted: Wanted, rechecks: Rechecks | None = None
) -> list[Labelled]:
    """Return the units with these tags or aliases in the order told, each once; without tags the wanted ones, by tag.

    Nothing is due on a unit that is missing, gone or a donor. rechecks: by unit, of `views.recheck`; without them none
    is due. Raises Refused for a tag or a name that nothing has, naming the nearest.
    """
    chosen = dict.fromkeys(find_unit(conn, tag).id for tag in tags)
    facts = due_facts(conn, today, rechecks=rechecks)
    if not tags:
        passes = unit_filter(conn, wanted, facts.units.values())
        chosen = dict.fromkeys(key for key, unit in facts.units.items() if passes(unit))
    serviced = {row[0]: row[1] for row in fetch(conn, _SERVICED_SQL, day=today.isoformat())}
    ahead = _ahead(facts, today, chosen)
    return [Labelled(facts.units[key], serviced.get(key, ""), *ahead.get(key, (None, ()))) for key in chosen]


def _ahead(facts: Facts, today: date, chosen: dict[int, None]) -> dict[int, tuple[date, tuple[str, ...]]]:
    """Return by unit the day of its next work and what it is."""
    units = [about for about in facts.of_units if about.id in chosen]
    rows = due_list(units, facts.rules, today, _ALL_AHEAD).rows
    return {row.unit_id: (row.due, tuple(_first(row.items, row.due))) for row in rows}


def _first(items: Sequence[DueItem], day: date) -> list[str]:
    return [item.procedure for item in items if item.due == day]
