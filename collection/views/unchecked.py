"""Units whose condition nobody has checked for a time."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.views.condition_checks import condition_checks
from collection.views.unit_list import Wanted, unit_filter
from collection.views.units import LOST, unit_list


class Unchecked(NamedTuple):
    """A unit that is here, by its maker and model, with its last condition check; "" where there is none."""

    tag: str
    name: str
    location: str
    standing: str
    checked_on: str
    condition: str
    by: str


def unchecked(conn: Connection, today: date, since: date, wanted: Wanted) -> list[Unchecked]:
    """Return the units that had no condition check since a day, that day included, the longest ago first.

    Units that are gone or missing cannot be looked at and are left out. Raises Refused for a name that nothing has.
    """
    last = {check.unit_id: check for check in condition_checks(conn)}
    units = unit_list(conn, today)
    passes = unit_filter(conn, wanted, units)
    rows = []
    for unit in units:
        check = last.get(unit.id)
        if unit.standing in LOST or not passes(unit) or (check and check.checked_on >= since.isoformat()):
            continue
        told = (check.checked_on, check.condition, check.by) if check else ("", "", "")
        rows.append(Unchecked(unit.tag, f"{unit.maker} {unit.model}".strip(), unit.location, unit.standing, *told))
    return sorted(rows, key=lambda row: row.checked_on)
