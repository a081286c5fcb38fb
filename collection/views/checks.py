"""Which instruments and disks are due for a check of their own, and which disks are worn."""

from __future__ import annotations

from datetime import date, timedelta
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.checks import check_due
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.fitness import What
from collection.views.instrument_list import last_checks
from collection.views.media import media_rows

_INSTRUMENTS_SQL = """
SELECT i.id, i.key, i.name, i.check_every_months,
       (SELECT max(t.from_date) FROM instrument_use t WHERE t.instrument_id = i.id AND t.void = 0)
FROM instrument i WHERE i.void = 0 AND i.retired_on IS NULL
"""
_MEDIA_SQL = "SELECT id, key, name, check_every_months, from_date FROM medium WHERE void = 0 AND retired_on IS NULL"


class CheckRow(NamedTuple):
    """A check of one thing: day, result, by whom, note."""

    checked_on: str
    result: str
    by: str
    note: str


class AlsoDue(NamedTuple):
    """A thing beside the units that wants a hand. due: of its check, None for a disk that is worn, used so often.

    key: of the instrument or the disk whose check is due.
    """

    name: str
    due: date | None
    failed: bool = False
    uses: int = 0
    most_uses: int | None = None
    key: str = ""


def checks_of(conn: Connection, what: What, row_id: int) -> list[CheckRow]:
    """Return the checks of an instrument or a disk, the newest first."""
    sql = (
        f"SELECT k.checked_on, k.result, p.name, k.note FROM inspection k LEFT JOIN person p ON p.id = k.by_id"
        f" WHERE k.{what}_id = :id AND {counts('k')} ORDER BY k.checked_on DESC, k.id DESC"
    )
    return [CheckRow(*(text or "" for text in row)) for row in fetch(conn, sql, id=row_id)]


def also_due(conn: Connection, today: date, within_days: int) -> list[AlsoDue]:
    """Return the checks that are due within so many days, the earliest first, then the disks that are worn."""
    until = today + timedelta(days=within_days)
    found: list[AlsoDue] = []
    for what, sql in (("instrument", _INSTRUMENTS_SQL), ("medium", _MEDIA_SQL)):
        last = last_checks(conn, what)
        for row_id, key, name, every, from_date in fetch(conn, sql):
            check = last.get(row_id)
            due = check_due(every, check, from_date or "", today)
            if due is not None and due <= until:
                found.append(AlsoDue(name, due, check is not None and check.result == "fail", key=str(key)))
    found.sort(key=lambda one: (one.due or today, one.name))
    return found + _worn(conn, today)


def _worn(conn: Connection, today: date) -> list[AlsoDue]:
    """Return the disks that are worn; uses are counted in the readings only where a disk has a most of them."""
    if not fetch(conn, "SELECT 1 FROM medium WHERE void = 0 AND retired_on IS NULL AND most_uses > 0 LIMIT 1"):
        return []
    return [
        AlsoDue(row.name, None, uses=row.uses, most_uses=row.most_uses)
        for row in media_rows(conn, today)
        if not row.retired_on and row.left == 0
    ]
