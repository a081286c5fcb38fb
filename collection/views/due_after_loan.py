"""Units that came back from a loan and that no procedure looks at then: what a check of their condition settles."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache

from collection.analysis.procedures import ProcedureRule
from collection.analysis.reasons import Notice, UnitFacts
from collection.views.counts import counts

AFTER_LOAN = "loan"
CHECKED_SQL = f"""
SELECT s.unit_id, max(s.checked_on) FROM condition_check s
WHERE s.checked_on <= :day AND {counts("s")}{{only}} GROUP BY s.unit_id
"""


def unlooked_at(
    units: Iterable[UnitFacts], rules: Sequence[ProcedureRule], looked: Callable[[], Iterable[Mapping[int, str]]]
) -> Iterator[tuple[UnitFacts, Notice]]:
    """Yield the units that are to be looked at since they came back from a loan, each with its notice.

    Where no procedure of the book is for units that come back, nobody wants to be told. looked: returns the last days
    on which units were looked at, by id; it is asked only where a unit may be among them.
    """
    asking = [rule for rule in rules if AFTER_LOAN in rule.after]

    @cache
    def is_asked_for(kind: str, drive_type: str, maker: str, model: str) -> bool:
        return any(rule.applies(kind, drive_type, maker, model) for rule in asking)

    back = [
        unit
        for unit in units
        if unit.loan_back_on and not is_asked_for(unit.kind, unit.drive_type, unit.maker, unit.model)
    ]
    if not asking or not back:
        return
    days = list(looked())
    for unit in back:
        if max(day.get(unit.id, "") for day in days) < unit.loan_back_on:
            yield unit, Notice(unit.loan_back_on, AFTER_LOAN, "back from loan")
