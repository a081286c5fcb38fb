"""The list of units: filtered, by tag, each with the day of its next work."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.schedule import due_list, tag_order
from collection.errors import Refused, fold, nearest
from collection.store.engine import fetch
from collection.views.due import Rechecks, due_facts
from collection.views.units import Unit

_ALL_AHEAD = 36500  # days


class Listed(NamedTuple):
    """A unit and the day of its next due work, None where nothing lies ahead."""

    unit: Unit
    due: date | None


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which units are wanted; an empty text lets all pass. A location takes in what stands inside it."""

    standing: str = ""
    location: str = ""
    owner: str = ""
    kind: str = ""
    model: str = ""


def listed_units(conn: Connection, today: date, wanted: Wanted, rechecks: Rechecks | None = None) -> list[Listed]:
    """Return the wanted units as of `today`, by tag.

    rechecks: by unit, of `views.recheck`; without them none is due. Raises Refused for a name that no unit, location
    or person has, naming the nearest.
    """
    facts = due_facts(conn, today, rechecks=rechecks)
    passes = unit_filter(conn, wanted, facts.units.values())
    chosen = [about for about in facts.of_units if passes(facts.units[about.id])]
    due = {row.unit_id: row.due for row in due_list(chosen, facts.rules, today, _ALL_AHEAD).rows}
    rows = [Listed(facts.units[about.id], due.get(about.id)) for about in chosen]
    return sorted(rows, key=lambda row: tag_order(row.unit.tag))


def unit_filter(conn: Connection, wanted: Wanted, units: Iterable[Unit]) -> Callable[[Unit], bool]:
    """Return what lets only the wanted units pass. Raises Refused for a name that nothing has."""
    kinds, models = set[str](), set[str]()
    for unit in units:
        kinds.add(unit.kind)
        models.add(unit.model)
    _check("kind", wanted.kind, kinds)
    _check("model", wanted.model, models)
    if wanted.standing:
        from collection.schema.equipment import STANDINGS  # costs a start-up of its own

        _check("standing", wanted.standing, STANDINGS)
    people = "SELECT name FROM person WHERE void = 0"
    _check("person", wanted.owner, (row[0] for row in fetch(conn, people)) if wanted.owner else ())
    places = _within(conn, wanted.location) if wanted.location else frozenset()

    def passes(unit: Unit) -> bool:
        same = (
            (wanted.standing, unit.standing),
            (wanted.owner, unit.owner),
            (wanted.kind, unit.kind),
            (wanted.model, unit.model),
        )
        return all(not want or fold(want) == fold(has) for want, has in same) and (
            not wanted.location or fold(unit.location) in places
        )

    return passes


def _check(what: str, name: str, known: Iterable[str]) -> None:
    """Refuse a name that is not known: an empty list would look as if there were none of a known one."""
    names = sorted(known)
    if not name or fold(name) in map(fold, names):
        return
    near = nearest(name, names)
    hint = f"Nearest: {', '.join(near)}." if near else "Type: spindlebook unit list"
    raise Refused(f'There is no {what} "{name}".', hint)


def _within(conn: Connection, location: str) -> frozenset[str]:
    """Return the folded names of a location and of all that stand inside it, however deep."""
    rows = fetch(conn, "SELECT id, name, name_folded, inside_id FROM location WHERE void = 0")
    _check("location", location, (row[1] for row in rows))
    found = {row[0]: row[2] for row in rows if row[2] == fold(location)}
    grown = 0
    while grown < len(found):
        grown = len(found)
        found |= {row[0]: row[2] for row in rows if row[3] in found}
    return frozenset(found.values())
