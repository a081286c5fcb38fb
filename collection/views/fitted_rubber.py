"""Belts and rollers in units: through which day each is given, counted from the day it was fitted."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.fitted_age import fitted_through, fitted_word
from collection.analysis.schedule import tag_order
from collection.analysis.shelf_life import SupplyFacts, UsableThrough
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.supplies import own_lives

_OUT = ("missing", "gone", "donor")  # what is in these, nobody runs


class FittedRubber(NamedTuple):
    """A part of rubber that is in a unit; part_id: its row, supply_id: what it came out of, None from a donor."""

    part_id: int
    tag: str
    part: str
    fitted_on: str
    supply_id: int | None
    standing: str
    given: UsableThrough

    @property
    def runs(self) -> bool:
        """Say whether anybody may run the unit it is in."""
        return self.standing not in _OUT


_SQL = f"""
SELECT f.id, u.tag, f.part, f.fitted_on, f.supply_id, s.kind, s.polymer, s.thickener, s.size, s.shelf_life_months,
       s.open_life_months, (
    SELECT e.standing FROM unit_entry e
    WHERE e.unit_id = f.unit_id AND e.what = 'standing' AND e.from_date <= :day AND {counts("e")}
    ORDER BY e.from_date DESC, e.id DESC LIMIT 1)
FROM fitted_part f JOIN unit u ON u.id = f.unit_id LEFT JOIN supply s ON s.id = f.supply_id
WHERE f.void = 0 AND u.void = 0 AND f.fitted_on <= :day AND (f.removed_on IS NULL OR f.removed_on > :day)"""


def ages_of_parts(conn: Connection, unit_id: int, day: date) -> dict[int, tuple[date | None, str]]:
    """Return, by the row of a fitted part of a unit, through which day it is given and what is to be said of it."""
    found = fitted_rubber(conn, day, unit_id)
    return {each.part_id: (each.given.through, fitted_word(each.given, day)) for each in found}


def fitted_rubber(conn: Connection, day: date, unit_id: int | None = None) -> list[FittedRubber]:
    """Return the parts of rubber that are in one unit on a day, or in all by tag, with what each is given."""
    only, bound = ("", {}) if unit_id is None else (" AND f.unit_id = :unit", {"unit": unit_id})
    lives, found = own_lives(conn), []
    for row in fetch(conn, f"{_SQL}{only} ORDER BY f.id", day=day.isoformat(), **bound):
        part_id, tag, part, fitted_on, supply_id, *ageing, standing = row
        supply = None if supply_id is None else SupplyFacts(*ageing)
        given = fitted_through(part, fitted_on, supply, lives)
        if given is not None:
            found.append(FittedRubber(part_id, tag, part, fitted_on, supply_id, standing or "", given))
    return sorted(found, key=lambda each: tag_order(each.tag))
