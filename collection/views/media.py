"""The disks of the book that units are read, cleaned and tried with: how often each was used, its checks, its wear.

A disk is used as often as somebody noted, and once more for every service, or day without one, in which a reading names
it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.checks import Check, check_due, uses_left
from collection.errors import Refused, fold, nearest, typed
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.instrument_list import last_checks

_SQL = """
SELECT m.id, m.version, m.name, m.role, m.size, u.tag, m.condition, m.from_date, m.most_uses, m.check_every_months,
       m.retired_on, m.retired_reason, m.note
FROM medium m LEFT JOIN unit u ON u.id = m.unit_id WHERE m.void = 0 ORDER BY m.name_folded
"""
_NOTED_SQL = f"""
SELECT t.medium_id, sum(t.times), max(t.used_on) FROM medium_use t WHERE {counts("t")} GROUP BY t.medium_id
"""
_NAMED_SQL = f"""
SELECT r.disk, r.service_id, CASE WHEN r.service_id IS NULL THEN r.taken_on ELSE '' END, max(r.taken_on)
FROM reading r WHERE r.disk IS NOT NULL AND {counts("r")}
GROUP BY r.disk, r.service_id, CASE WHEN r.service_id IS NULL THEN r.taken_on ELSE '' END
"""
_USES_SQL = f"""
SELECT t.used_on, t.times, u.tag, v.name, t.note FROM medium_use t LEFT JOIN unit u ON u.id = t.unit_id
LEFT JOIN service v ON v.id = t.service_id WHERE t.medium_id = :id AND {counts("t")} ORDER BY t.used_on DESC, t.id DESC
"""
_READ_WITH_SQL = f"""
SELECT DISTINCT r.disk, r.taken_on, u.tag, coalesce(v.name, '')
FROM reading r JOIN series s ON s.id = r.series_id JOIN unit u ON u.id = s.unit_id
LEFT JOIN service v ON v.id = r.service_id
WHERE r.disk IS NOT NULL AND {counts("r")}
"""


@dataclass(frozen=True, slots=True)
class MediumRow:
    """A disk; "" for what is not known. uses: times used so far. check_due: None where no check is asked for."""

    id: int
    version: int
    name: str
    role: str
    size: str
    unit: str
    condition: str
    from_date: str
    most_uses: int | None
    check_every_months: int | None
    retired_on: str
    retired_reason: str
    note: str
    uses: int
    last_used: str
    last: Check | None
    check_due: date | None

    @property
    def left(self) -> int | None:
        """How many uses are left before it is worn, None where no number is set."""
        return uses_left(self.uses, self.most_uses)


class UseRow(NamedTuple):
    """A use of a disk: day, how often, on which unit, in which service, and what was noted or that it was read with."""

    used_on: str
    times: int
    tag: str
    service: str
    note: str


def media_rows(conn: Connection, today: date) -> list[MediumRow]:
    """Return every disk, by name."""
    rows = fetch(conn, _SQL)
    if not rows:
        return []
    times, days = _uses(conn)
    checks = last_checks(conn, "medium")
    made = []
    for row in rows:
        known: list[Any] = ["" if value is None else value for value in row]
        known[8:10] = row[8:10]
        last = checks.get(row[0])
        due = None if row[10] else check_due(row[9], last, row[7] or "", today)
        noted, named = ("id", row[0]), ("name", fold(row[2]))
        used = max(days.get(noted, ""), days.get(named, ""))
        known += [times[noted] + times[named], used, last, due]
        made.append(MediumRow(*known))
    return made


def find_medium(conn: Connection, name: str, today: date) -> MediumRow:
    """Return the disk of this name. Raises Refused, naming the nearest."""
    rows = media_rows(conn, today)
    for row in rows:
        if fold(row.name) == fold(name):
            return row
    near = nearest(name, (row.name for row in rows))
    new = f"If it is new: spindlebook medium add {typed(name)} --role reference"
    hint = f"Nearest: {', '.join(near)}." if near else new
    raise Refused(f'There is no disk "{name}".', hint)


def uses_of(conn: Connection, medium: MediumRow) -> list[UseRow]:
    """Return when a disk was used, the newest first: what was noted, and what was read with it."""
    noted = [UseRow(row[0], row[1], *(text or "" for text in row[2:])) for row in fetch(conn, _USES_SQL, id=medium.id)]
    read = [
        UseRow(day, 1, tag, service, "read with it")
        for disk, day, tag, service in fetch(conn, _READ_WITH_SQL)
        if fold(disk) == fold(medium.name)
    ]
    return sorted([*noted, *read], key=lambda use: (use.used_on, use.tag), reverse=True)


def unknown_disks(conn: Connection) -> list[tuple[str, int]]:
    """Return the disks that readings name and the book does not have, with their times used, the most used first."""
    known = {fold(row[2]) for row in fetch(conn, _SQL)}
    spelt: dict[str, str] = {}
    times: Counter[str] = Counter()
    for disk, *_ in fetch(conn, _NAMED_SQL):
        if fold(disk) not in known:
            spelt.setdefault(fold(disk), disk)
            times[fold(disk)] += 1
    return [(spelt[name], number) for name, number in times.most_common()]


def _uses(conn: Connection) -> tuple[Counter[tuple[str, Any]], dict[tuple[str, Any], str]]:
    """Return times used and the last day, of noted uses by the id of the disk, of read ones by its folded name."""
    times: Counter[tuple[str, Any]] = Counter()
    days: dict[tuple[str, Any], str] = {}
    occasions: set[tuple[str, int | None, str]] = set()
    for medium_id, number, day in fetch(conn, _NOTED_SQL):
        times["id", medium_id], days["id", medium_id] = int(number), day
    for disk, service_id, day, last in fetch(conn, _NAMED_SQL):
        name = fold(disk)
        if (name, service_id, day) not in occasions:
            occasions.add((name, service_id, day))
            times["name", name] += 1
        days["name", name] = max(days.get(("name", name), ""), last)
    return times, days
