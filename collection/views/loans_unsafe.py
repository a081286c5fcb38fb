"""Units that are out although their electrical safety speaks against it, and nobody lent them all the same.

What a loan rested on may be gone since: the check was taken back, as it was of another unit; a later one failed; or it
is good no longer and the unit is still out.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from sqlalchemy.engine import Connection

from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.loans import LoanRow, loan_list
from collection.views.safety import safety_against_each

_MARKS_SQL = f"""
SELECT d.row_id, d.value, d.rule FROM doubt d WHERE d.table_name = 'loan' AND {counts("d")} AND d.row_id IN ({{loans}})
"""


def unsafe_out(conn: Connection, rows: Iterable[LoanRow], today: date) -> dict[int, str]:
    """Return, by the id of their item, what speaks against those units of loans that are still out.

    Each is asked for as when it is lent, until the day due or, where that is over, until today. What a loan was made
    with all the same is left out: somebody decided that.
    """
    out = [row for row in rows if row.direction == "out" and not row.back_on]
    until = {row.unit_id: max(today, parse_day(row.due_on).last) for row in out}
    against = safety_against_each(conn, until)
    found = [row for row in out if row.unit_id in against]
    known: list[tuple[int, str, str]] = []
    if found:
        loans = ", ".join(sorted({str(row.loan_id) for row in found}))
        known = [(loan, tag or "", rule) for loan, tag, rule in fetch(conn, _MARKS_SQL.format(loans=loans))]
    return {
        row.item_id: against[row.unit_id]
        for row in found
        if not any((loan, tag) == (row.loan_id, row.tag) and against[row.unit_id] in rule for loan, tag, rule in known)
    }


def all_unsafe_out(conn: Connection, today: date) -> list[tuple[LoanRow, str]]:
    """Return every unit that is out so, by the day it is due, with what speaks against it."""
    rows = loan_list(conn, today)
    against = unsafe_out(conn, rows, today)
    return [(row, against[row.item_id]) for row in rows if row.item_id in against]
