"""Which units are to be looked at since they came back from a loan, though no procedure asks for it."""

from __future__ import annotations

import pytest

from collection.analysis.procedures import ProcedureRule, parse_procedure
from collection.analysis.reasons import UnitFacts
from collection.views.due_after_loan import unlooked_at

AFTER = parse_procedure(1, "clean head", applies_to="drive", triggers="after loan")
OTHER = parse_procedure(2, "dust out", every_months=12)


def _unit(kind: str, back_on: str = "2026-02-10") -> UnitFacts:
    return UnitFacts(
        id=1, tag="C1", kind=kind, drive_type="", maker="", model="BX-1", standing="ready", loan_back_on=back_on
    )


@pytest.mark.parametrize(
    ("unit", "rules", "checked", "told"),
    [
        (_unit("computer"), [AFTER, OTHER], "2026-02-09", ["2026-02-10"]),
        (_unit("computer"), [AFTER, OTHER], "2026-02-10", []),
        (_unit("computer"), [AFTER, OTHER], "2026-02-11", []),
        (_unit("computer"), [OTHER], "", []),
        (_unit("computer", ""), [AFTER], "", []),
        (_unit("drive"), [AFTER], "", []),
    ],
)
def test_a_unit_that_no_procedure_looks_at_after_a_loan_is_due_until_its_condition_is_checked(
    unit: UnitFacts, rules: list[ProcedureRule], checked: str, told: list[str]
) -> None:
    """The check of the day it came back will do; a book in which nothing is due after loans is told of none."""
    found = unlooked_at([unit], rules, lambda: [{1: checked}, {}])

    assert told == [notice.day for _, notice in found]
