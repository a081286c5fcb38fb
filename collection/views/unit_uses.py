"""What units were used for: the spans in which they stood in use, and their loans out."""

from __future__ import annotations

from collections import defaultdict
from itertools import groupby
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.store.engine import fetch
from collection.views.counts import counts

IN_USE, ON_LOAN = "in use", "on loan"
_STANDINGS = f"""
SELECT e.unit_id, u.tag, e.from_date, e.standing, e.note, p.name
FROM unit_entry e JOIN unit u ON u.id = e.unit_id LEFT JOIN person p ON p.id = e.by_id
WHERE e.what = 'standing' AND u.void = 0 AND {counts("e")}{{only}} ORDER BY e.unit_id, e.from_date, e.id
"""
_LOANS = """
SELECT i.unit_id, u.tag, l.out_on, i.back_on, p.name, l.purpose, i.condition_back, l.id
FROM loan_item i JOIN loan l ON l.id = i.loan_id JOIN unit u ON u.id = i.unit_id JOIN person p ON p.id = l.person_id
WHERE i.void = 0 AND l.void = 0 AND l.direction = 'out'{only} ORDER BY l.out_on, i.id
"""
_FAULTS = "SELECT unit_id, noticed_on, symptom, loan_id FROM fault WHERE void = 0 ORDER BY noticed_on, id"


class Use(NamedTuple):
    """One span of use; "" for what is not told, until "" while it lasts. Days may be partial.

    how: in use or on loan. by: who used it. came_of_it: how it came back, faults noticed meanwhile, how it stood after.
    """

    tag: str
    how: str
    from_date: str
    until: str
    by: str
    purpose: str
    came_of_it: str


class _Noticed(NamedTuple):
    day: str
    symptom: str
    loan_id: int | None


def uses(conn: Connection, unit_id: int | None = None) -> list[Use]:
    """Return the uses of a unit, or of all, the latest first."""
    told: dict[str, Any] = {} if unit_id is None else {"unit": unit_id}
    standings = fetch(conn, _STANDINGS.format(only="" if unit_id is None else " AND e.unit_id = :unit"), **told)
    loans = fetch(conn, _LOANS.format(only="" if unit_id is None else " AND i.unit_id = :unit"), **told)
    noticed: dict[int, list[_Noticed]] = defaultdict(list)
    for unit, *fault in fetch(conn, _FAULTS):
        noticed[unit].append(_Noticed(*fault))
    by_unit = groupby(standings, key=lambda row: row[0])
    found = [use for unit, rows in by_unit for use in _in_use(list(rows), noticed[unit])]
    found += [_on_loan(row, noticed[row[0]]) for row in loans]
    found.sort(key=lambda use: tag_order(use.tag))
    return sorted(found, key=lambda use: use.from_date, reverse=True)


def _in_use(rows: list[tuple[Any, ...]], noticed: list[_Noticed]) -> list[Use]:
    """Return the spans of one unit between an entry "in use" and its next other standing; entries are by day."""
    found: list[Use] = []
    for at, (_, tag, day, standing, note, by) in enumerate(rows):
        if standing != IN_USE:
            continue
        until, after = (rows[at + 1][2], rows[at + 1][3]) if at + 1 < len(rows) else ("", "")
        faults = [each.symptom for each in noticed if _within(each.day, day, until)]
        came = "; ".join(filter(None, (*faults, after if after != IN_USE else "")))
        found.append(Use(tag, IN_USE, day, until, by or "", note or "", came))
    return found


def _within(noticed: str, day: str, until: str) -> bool:
    return noticed >= day and (not until or noticed <= until)


def _on_loan(row: tuple[Any, ...], noticed: list[_Noticed]) -> Use:
    _, tag, out_on, back_on, person, purpose, condition, loan = row
    faults = [each.symptom for each in noticed if each.loan_id == loan]
    came = "; ".join(filter(None, (condition, *faults)))
    return Use(tag, ON_LOAN, out_on, back_on or "", person, purpose or "", came)
