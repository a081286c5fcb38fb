"""One loan whole: its terms, its units out and back, what was read and looked at, what was damaged or lost."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.condition_checks import ConditionCheck, condition_checks
from collection.views.counts import counts
from collection.views.damage import Damage, damage_list
from collection.views.loan_compare import Compared, compared
from collection.views.loans import LoanRow, find_loan, items_of
from collection.views.loans_unsafe import unsafe_out

_MARKS_SQL = f"""
SELECT d.value, d.rule FROM doubt d WHERE d.table_name = 'loan' AND d.row_id = :loan AND {counts("d")} ORDER BY d.id
"""
_MODELS_SQL = """
SELECT i.unit_id, m.maker, m.name, m.kind FROM loan_item i JOIN unit u ON u.id = i.unit_id
JOIN model m ON m.id = u.model_id WHERE i.void = 0 AND i.loan_id = :loan
"""


@dataclass(frozen=True, slots=True)
class LoanShown:
    """A loan with all that belongs to it. units: by tag, at least one.

    models: of each unit, by its id. marks: of each unit, what stood against lending it and why it was lent all the
    same. unsafe: of each unit that is still out, what its electrical safety has against that since. checks: on going
    out and coming back, by day.
    """

    units: tuple[LoanRow, ...]
    models: dict[int, str]
    marks: tuple[tuple[str, str], ...]
    unsafe: tuple[tuple[str, str], ...]
    compared: tuple[Compared, ...]
    checks: tuple[ConditionCheck, ...]
    damages: tuple[Damage, ...]

    @property
    def terms(self) -> LoanRow:
        """The row that tells of the loan as a whole."""
        return self.units[0]


def loan_shown(conn: Connection, name: str, today: date) -> LoanShown:
    """Return the loan of this name, else the one a unit is on. Raises Refused as `find_loan` does."""
    loan_id, _ = find_loan(conn, name)
    units = items_of(conn, loan_id, today)
    items = {row.item_id for row in units}
    checks = [check for row in units for check in condition_checks(conn, row.unit_id) if check.loan_item_id in items]
    unsafe = unsafe_out(conn, units, today)
    damages = [each for row in units for each in damage_list(conn, row.unit_id) if each.loan_item_id in items]
    return LoanShown(
        units=tuple(units),
        models={
            unit_id: " ".join(f"{maker} {model}, {kind}".split())
            for unit_id, maker, model, kind in fetch(conn, _MODELS_SQL, loan=loan_id)
        },
        marks=tuple(marks_of(conn, loan_id)),
        unsafe=tuple((row.tag, unsafe[row.item_id]) for row in units if row.item_id in unsafe),
        compared=tuple(each for row in units for each in compared(conn, row)),
        checks=tuple(sorted(checks, key=lambda check: (check.checked_on, check.id))),
        damages=tuple(sorted(damages, key=lambda each: each.id)),
    )


def marks_of(conn: Connection, loan_id: int) -> list[tuple[str, str]]:
    """Return, of each unit that was lent although something stood against it, its tag and what that was."""
    return [(tag or "", rule) for tag, rule in fetch(conn, _MARKS_SQL, loan=loan_id)]
