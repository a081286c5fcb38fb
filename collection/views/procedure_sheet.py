"""The sheet of a procedure: all that it says, and what it takes of supplies."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.quantity import show_amount
from collection.store.engine import fetch
from collection.views.procedures import find_procedures

_SQL = """
SELECT id, name, revision, applies_to, every_months, every_hours, triggers, minutes, resets, retests, lubricates,
       cautions, steps, source
FROM procedure WHERE void = 0 ORDER BY id
"""
_AMOUNTS_SQL = """
SELECT s.name, a.steps, s.smallest_step, s.measured_in, a.chance FROM amount a JOIN supply s ON s.id = a.supply_id
WHERE a.procedure_id = :procedure AND a.void = 0 ORDER BY a.id
"""


class ProcedureSheet(NamedTuple):
    """A procedure; None for what it does not say. amounts: (supply, "2.5 ml", chance or None for always)."""

    procedure: str
    revision: int
    applies_to: str | None
    every_months: int | None
    every_hours: float | None
    triggers: str | None
    minutes: int | None
    resets: str | None
    retests: str | None
    lubricates: str | None
    cautions: str | None
    steps: str | None
    source: str | None
    amounts: tuple[tuple[str, str, float | None], ...] = ()


def procedure_sheets(conn: Connection) -> list[ProcedureSheet]:
    """Return every procedure without its amounts, in the order of work."""
    return [ProcedureSheet._make((*row[1:], ())) for row in fetch(conn, _SQL)]


def procedure_sheet(conn: Connection, name: str) -> ProcedureSheet:
    """Return one procedure with its amounts. Raises Refused, naming the nearest."""
    (found,) = find_procedures(conn, [name])
    row = next(row for row in fetch(conn, _SQL) if row[0] == found.id)
    amounts = tuple(
        (supply, show_amount(steps, Decimal(step), unit), chance)
        for supply, steps, step, unit, chance in fetch(conn, _AMOUNTS_SQL, procedure=found.id)
        if steps
    )
    return ProcedureSheet._make((*row[1:], amounts))
