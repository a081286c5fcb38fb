"""Guided services that are open: at which question each stands, and what was kept last."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.guide import Place, read_place
from collection.errors import Refused, typed
from collection.quantity import show_day
from collection.store.engine import fetch
from collection.views.units import find_unit

_OPEN_SQL = """
SELECT s.id, s.unit_id, u.tag, s.opened_on, s.guide FROM service s JOIN unit u ON u.id = s.unit_id
WHERE s.void = 0 AND s.closed_on IS NULL AND s.guide IS NOT NULL ORDER BY s.opened_on, s.id
"""
_LAST_ACT_SQL = """
SELECT max(c.act_id) FROM change c JOIN act a ON a.id = c.act_id
WHERE c.table_name = 'service' AND c.row_id = :service AND c.kind = 'update' AND c.after LIKE '%"guide"%'
  AND a.undoes_id IS NULL AND a.id NOT IN (SELECT act_id FROM undone)
"""


class OpenGuide(NamedTuple):
    """A guided service that is not closed yet, and the question that comes next."""

    service_id: int
    unit_id: int
    tag: str
    opened_on: str
    place: Place

    def said(self, form: str) -> str:
        """Return it in words, days in a date form: "service open since 3 Oct 2025, next: supplies"."""
        return f"service open since {show_day(self.opened_on, form)}, next: {self.place.block}"


def open_guides(conn: Connection) -> list[OpenGuide]:
    """Return the guided services that are open, the first opened first."""
    return [OpenGuide(row[0], row[1], row[2], row[3], read_place(row[4])) for row in fetch(conn, _OPEN_SQL)]


def guide_of(conn: Connection, tag: str) -> OpenGuide:
    """Return the open guided service of a unit. Raises Refused where it has none."""
    unit = find_unit(conn, tag)
    for guide in open_guides(conn):
        if guide.unit_id == unit.id:
            return guide
    raise Refused(f"{unit.tag} has no guided service open.", f"Type: spindlebook service record {typed(unit.tag)}")


def place_of(conn: Connection, service_id: int) -> Place | None:
    """Return the next question of a service, or None where it is open no more."""
    for guide in open_guides(conn):
        if guide.service_id == service_id:
            return guide.place
    return None


def last_kept(conn: Connection, service_id: int) -> int | None:
    """Return the act that kept the last answer of a guided service and still counts, or None."""
    found = fetch(conn, _LAST_ACT_SQL, service=service_id)[0][0]
    return None if found is None else int(found)
