"""What a unit read when it went out on a loan, and what it read when it came back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy.engine import Connection

from collection.analysis.limits import OUT, Limit, Verdict, verdict
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.findings import in_words, show_range, show_value
from collection.views.limits import Limits
from collection.views.loans import LoanRow
from collection.views.readings import newest_first, reading_counts
from collection.views.units import unit_on

_BACK_SQL = f"""
SELECT s.id, m.id, m.name, m.measured_in, s.point, r.value, r.grade, r.taken_on
FROM reading r JOIN series s ON s.id = r.series_id JOIN measurement m ON m.id = s.measurement_id
JOIN condition_check c ON c.id = r.check_id
WHERE c.loan_item_id = :item AND c.occasion = :occasion AND {counts("c")} AND {reading_counts("r")} ORDER BY r.id
"""
# The reading taken when it went out, else the last one before.
_OUT_SQL = f"""
SELECT r.value, r.grade, r.taken_on FROM reading r LEFT JOIN condition_check c ON c.id = r.check_id
WHERE r.series_id = :series AND r.taken_on <= :day AND {reading_counts("r")}
  AND (c.loan_item_id IS NULL OR c.loan_item_id <> :item OR c.occasion <> :occasion)
ORDER BY CASE WHEN c.loan_item_id = :item THEN 0 ELSE 1 END, {newest_first("r")} LIMIT 1
"""
_RETURNS = {"out": "loan back", "in": "exit"}


@dataclass(frozen=True, slots=True)
class Compared:
    """One series of a unit at coming back beside going out; out, out_on "" where it was never read before.

    Values are as a person reads them. change: with its sign and unit, "" for grades. limit: of the day it came back,
    "" for none. says: how the reading at coming back stands to it.
    """

    tag: str
    measurement: str
    point: str
    out: str
    out_on: str
    back: str
    back_on: str
    change: str
    limit: str
    says: Verdict

    @property
    def out_of_limits(self) -> bool:
        """Say whether it came back outside its limit, or failed."""
        return self.says in OUT


def compared(conn: Connection, row: LoanRow) -> list[Compared]:
    """Return what one unit of a loan read at coming back, in the order of entry."""
    occasion = _RETURNS[row.direction]
    read = fetch(conn, _BACK_SQL, item=row.item_id, occasion=occasion)
    limits = Limits(conn) if read else None
    return [_compared(conn, row, limits, occasion, *each) for each in read] if limits else []


def _compared(
    conn: Connection,
    row: LoanRow,
    limits: Limits,
    occasion: str,
    series_id: int,
    measurement_id: int,
    name: str,
    measured_in: str,
    point: str,
    value: Any,
    grade: Any,
    day: str,
) -> Compared:
    unit = unit_on(conn, row.unit_id, parse_day(day).first)
    limit = limits.on(day, unit.id, unit.model_id, measurement_id, point)
    says = verdict(grade or value, limit)
    before = fetch(conn, _OUT_SQL, series=series_id, day=row.out_on, item=row.item_id, occasion=occasion)
    was, was_grade, was_on = before[0] if before else (None, None, "")
    return Compared(
        tag=row.tag,
        measurement=name,
        point=point,
        out=_shown(was, was_grade, measured_in, limit) if before else "",
        out_on=was_on,
        back=in_words(value, grade, measured_in, limit, says),
        back_on=day,
        change=_change(was, value, measured_in),
        limit=show_range(limit),
        says=says,
    )


def _shown(value: Any, grade: Any, measured_in: str, limit: Limit | None) -> str:
    return in_words(value, grade, measured_in, limit, verdict(grade or value, limit))


def _change(before: float | None, after: float | None, measured_in: str) -> str:
    if before is None or after is None:
        return ""
    change = show_value(round(after - before, 9))
    return f"{change if change.startswith('-') or change == '0' else f'+{change}'} {measured_in}"
