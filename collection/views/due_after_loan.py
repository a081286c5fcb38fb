"""Units that came back from a loan: what came after the return, and whom no procedure looks at then."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache
from typing import Any

from sqlalchemy.engine import Connection

from collection.analysis.procedures import ProcedureRule
from collection.analysis.reasons import Notice, SinceBack, UnitFacts
from collection.store.engine import fetch
from collection.views.counts import counts

AFTER_LOAN = "loan"
CHECKED_SQL = f"""
SELECT s.unit_id, max(s.checked_on) FROM condition_check s
WHERE s.checked_on <= :day AND {counts("s")}{{only}} GROUP BY s.unit_id
"""
# The act that entered a return is in the journal alone: the row of a loan bears the act that lent.
_RETURNS_SQL = f"""
SELECT s.unit_id, s.back_on, max(c.act_id) FROM loan_item s JOIN loan l ON l.id = s.loan_id
JOIN change c ON c.row_id = s.id AND c.table_name = 'loan_item' AND c.after LIKE :entered
JOIN act a ON a.id = c.act_id
WHERE s.void = 0 AND l.void = 0 AND l.direction = 'out' AND l.out_on = s.back_on
  AND a.undoes_id IS NULL AND {counts("c")} AND s.unit_id IN ({{units}}) GROUP BY s.unit_id, s.back_on
"""
_DONE_SQL = f"""
SELECT s.unit_id, t.done_on, t.act_id, t.procedure_id FROM task t JOIN service s ON s.id = t.service_id
WHERE s.void = 0 AND {counts("t")} AND s.unit_id IN ({{units}})
UNION ALL SELECT b.unit_id, b.last_done, b.act_id, b.procedure_id FROM baseline b
WHERE {counts("b")} AND b.unit_id IN ({{units}})
"""
_LOOKED_SQL = f"""
SELECT k.unit_id, k.checked_on, k.act_id FROM condition_check k
WHERE k.occasion <> 'loan out' AND {counts("k")} AND k.unit_id IN ({{units}})
UNION ALL SELECT s.unit_id, coalesce(s.closed_on, s.opened_on), s.act_id FROM service s
WHERE s.void = 0 AND s.unit_id IN ({{units}})
"""
_WHOLE_DAY = 10  # characters; of a month or a year the order of entry tells nothing


def since_back(conn: Connection, back: Mapping[int, str]) -> dict[int, SinceBack]:
    """Return what came after the return of units that went out and came back on one day. back: that day, by unit.

    What the act of the return itself wrote counts as after it: in an import nothing tells in what order it came.
    """
    units = ", ".join(str(unit) for unit, day in back.items() if len(day) == _WHOLE_DAY)
    if not units:
        return {}

    def rows(sql: str, **bound: str) -> list[tuple[Any, ...]]:
        return [row for row in fetch(conn, sql.format(units=units), **bound) if row[1] == back[row[0]]]

    returned = {unit: act for unit, _, act in rows(_RETURNS_SQL, entered='%"back_on":"%')}
    done: dict[int, set[int]] = {unit: set() for unit in returned}
    for unit, _, act, procedure in rows(_DONE_SQL):
        if unit in returned and act >= returned[unit]:
            done[unit].add(procedure)
    looked = {unit for unit, _, act in rows(_LOOKED_SQL) if unit in returned and act >= returned[unit]}
    return {unit: SinceBack(frozenset(made), bool(made) or unit in looked) for unit, made in done.items()}


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
        last = max(day.get(unit.id, "") for day in days)
        before = unit.since_back is not None and not unit.since_back.looked
        if last < unit.loan_back_on or (before and last == unit.loan_back_on):
            yield unit, Notice(unit.loan_back_on, AFTER_LOAN, "back from loan")
