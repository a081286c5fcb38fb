"""Services of a unit: which is open, which stood on a day."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.errors import Refused, fold, typed
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.units import Found


class Service(NamedTuple):
    """A service; closed_on is "" while it is open. Days are day texts."""

    id: int
    name: str
    opened_on: str
    closed_on: str


_SQL = "SELECT id, name, opened_on, coalesce(closed_on, '') FROM service WHERE void = 0 AND unit_id = :unit"


def open_service_of(conn: Connection, unit_id: int) -> Service | None:
    """Return the open service of a unit, the newest if there are several, or None."""
    rows = fetch(conn, f"{_SQL} AND closed_on IS NULL ORDER BY opened_on DESC, id DESC LIMIT 1", unit=unit_id)
    return Service(*rows[0]) if rows else None


def find_service(conn: Connection, unit: Found, name: str = "") -> Service:
    """Return the service of a unit by its name, or by its day alone; the newest where no name is told.

    Raises Refused, naming the last three.
    """
    known = [Service(*row) for row in fetch(conn, f"{_SQL} ORDER BY opened_on, id", unit=unit.id)]
    sought = fold(name)
    found = [each for each in known if sought in ("", fold(each.name), each.opened_on)]
    if len(found) == 1 or (found and not sought):
        return found[-1]
    if found:
        raise Refused(
            f"{unit.tag} has {len(found)} services of {name}.",
            f"Type its name: {', '.join(each.name for each in found)}.",
        )
    last = ", ".join(f'"{each.name}"' for each in known[-3:])
    hint = f"Its last: {last}." if last else f"Type: spindlebook service record {typed(unit.tag)}"
    raise Refused(f'{unit.tag} has no service "{name}".' if name else f"{unit.tag} has no service yet.", hint)


def services_on(conn: Connection, unit_id: int, day: date) -> list[Service]:
    """Return the closed services of a unit that may have stood on a day; a partial end counts as its last day."""
    sql = f"{_SQL} AND opened_on <= :day AND closed_on >= substr(:day, 1, length(closed_on)) ORDER BY id"
    return [Service(*row) for row in fetch(conn, sql, unit=unit_id, day=day.isoformat())]


def free_name(conn: Connection, tag: str, day: date) -> str:
    """Return the name of a new service: the unit and the day, with a number where the day has several."""
    name, number = f"{tag} {day.isoformat()}", 1
    sql = "SELECT name FROM service WHERE void = 0 AND substr(name, 1, :size) = :name"
    taken = {row[0] for row in fetch(conn, sql, name=name, size=len(name))}
    while name in taken:
        number += 1
        name = f"{tag} {day.isoformat()} ({number})"
    return name


def tasks_of(conn: Connection, service_id: int) -> list[int]:
    """Return the procedures done in a service, in the order of entry."""
    sql = f"SELECT t.procedure_id FROM task t WHERE t.service_id = :service AND {counts('t')} ORDER BY t.id"
    return list(dict.fromkeys(row[0] for row in fetch(conn, sql, service=service_id)))
