"""What the sheets of procedures say is used up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy.engine import Connection

from collection.analysis.needs import models_of, names_of_model
from collection.store.engine import fetch
from collection.views.procedures import Procedure
from collection.views.supplies import Supply, supply_of

_SQL = """
SELECT a.procedure_id, a.supply_id, a.steps, a.entered, a.entered_in, a.chance, s.fits FROM amount a
JOIN supply s ON s.id = a.supply_id WHERE a.void = 0 AND s.void = 0 ORDER BY a.id
"""

_MODEL_SQL = "SELECT m.maker, m.name FROM unit u JOIN model m ON m.id = u.model_id WHERE u.id = :unit"


@dataclass(frozen=True, slots=True)
class SheetAmount:
    """So many steps of a supply that one task uses; sometimes: only in a share of the tasks."""

    procedure: Procedure
    supply: Supply
    steps: int
    entered: tuple[str, str]
    sometimes: bool

    @property
    def shown(self) -> str:
        """The amount as a person reads it: "2 ml of isopropyl alcohol 99 %"."""
        return f"{self.supply.show(self.steps)} of {self.supply.name}"


def sheet_amounts(conn: Connection, procedures: Sequence[Procedure], unit_id: int) -> list[SheetAmount]:
    """Return what the sheets of these procedures say is used on a unit, in their order.

    Nothing of untracked supplies, nor of those that fit other models.
    """
    maker, model = fetch(conn, _MODEL_SQL, unit=unit_id)[0]
    names, found = names_of_model(maker, model), []
    for procedure in procedures:
        for row in fetch(conn, _SQL):
            fits = models_of(row[6])
            if row[0] != procedure.id or not row[2] or (fits and fits.isdisjoint(names)):
                continue
            supply = supply_of(conn, row[1])
            if supply.tracked == "count":
                entered = (row[3], row[4] or supply.measured_in)
                found.append(SheetAmount(procedure, supply, row[2], entered, row[5] is not None and row[5] < 1))
    return found
