"""Faults of units, open and closed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.models import find_model
from collection.views.units import find_unit

_SQL = """
SELECT f.id, f.unit_id, u.tag, f.noticed_on, f.symptom, f.circumstances, f.cause, f.cure, f.no_fault_found,
       f.closed_on, v.name, p.name
FROM fault f JOIN unit u ON u.id = f.unit_id LEFT JOIN service v ON v.id = f.service_id
LEFT JOIN person p ON p.id = f.by_id
WHERE f.void = 0{only} ORDER BY f.noticed_on, f.id
"""


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault; closed_on is "" while it is open. number: its place among the faults of its unit, by day."""

    id: int
    number: int
    tag: str
    noticed_on: str
    symptom: str
    circumstances: str
    cause: str
    cure: str
    no_fault_found: bool
    closed_on: str
    service: str
    by: str


def fault_list(conn: Connection, unit_id: int | None = None) -> list[Fault]:
    """Return the faults of one unit, or of all in the order of tags; the oldest first."""
    if unit_id is None:
        rows = fetch(conn, _SQL.format(only=""))
    else:
        rows = fetch(conn, _SQL.format(only=" AND f.unit_id = :unit"), unit=unit_id)
    seen: dict[int, int] = {}
    made = []
    for fault_id, of_unit, *rest in rows:
        seen[of_unit] = seen.get(of_unit, 0) + 1
        known: list[Any] = ["" if value is None else value for value in rest]
        known[6] = bool(known[6])
        made.append(Fault(fault_id, seen[of_unit], *known))
    return sorted(made, key=lambda fault: (tag_order(fault.tag), fault.number))


def chosen_faults(conn: Connection, tag: str = "", model: str = "", symptom: str = "") -> list[Fault]:
    """Return the faults of one unit, of the units of a model, with words of a symptom, or of all that is told.

    Raises Refused for an unknown tag or model.
    """
    faults = fault_list(conn, find_unit(conn, tag).id if tag else None)
    if model:
        units = fetch(
            conn, "SELECT tag FROM unit WHERE model_id = :model AND void = 0", model=find_model(conn, model).id
        )
        tags = {row[0] for row in units}
        faults = [fault for fault in faults if fault.tag in tags]
    words = fold(symptom).split()
    return [fault for fault in faults if all(word in fold(f"{fault.symptom} {fault.circumstances}") for word in words)]


def open_faults_on(conn: Connection, unit_id: int, day: date) -> list[Fault]:
    """Return the faults of a unit that were noticed by a day and not closed on it."""
    text = day.isoformat()
    return [
        fault
        for fault in fault_list(conn, unit_id)
        if fault.noticed_on <= text and (not fault.closed_on or fault.closed_on > text)
    ]
