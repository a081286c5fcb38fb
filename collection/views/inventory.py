"""The inventory: every unit with where it is, whose it is, and when it was last seen, by what evidence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.unit_list import Wanted, unit_filter
from collection.views.units import unit_list

# Unit, day and person of all that tells that somebody had a unit before them. Of two on one day the earlier here tells.
_SOURCES = (
    ("shelf-check", "sighting", f"s.seen = 1 AND s.shelf_check_id IS NOT NULL AND {counts('s')}", "seen_on", "by_id"),
    ("sighting", "sighting", f"s.seen = 1 AND s.shelf_check_id IS NULL AND {counts('s')}", "seen_on", "by_id"),
    ("condition check", "condition_check", counts("s"), "checked_on", "by_id"),
    ("safety check", "safety_check", counts("s"), "checked_on", "by_id"),
    ("service", "service", "s.void = 0", "coalesce(s.closed_on, s.opened_on)", "by_id"),
    ("arrival", "arrival", "s.void = 0", "arrived_on", ""),
    ("moved", "unit_entry", f"s.what = 'location' AND {counts('s')}", "from_date", "by_id"),
    ("damage", "damage", "s.kind = 'damage' AND s.void = 0", "found_on", "by_id"),
    ("fault", "fault", "s.void = 0", "noticed_on", "by_id"),
    ("picture", "attachment", "s.taken_on IS NOT NULL AND s.unit_id IS NOT NULL AND s.void = 0", "taken_on", ""),
    ("hour reading", "hour_reading", counts("s"), "read_on", ""),
    ("acquired", "unit", "s.acquired_on IS NOT NULL AND s.void = 0", "acquired_on", ""),
)
_SOURCE = "SELECT s.{unit}, {day}, {by} FROM {table} s WHERE {counts}{only}"
# What is lost on a loan ends it on the day from which it stands missing, and nobody saw it then.
_LOANS = f"""
SELECT s.unit_id, l.out_on, CASE WHEN EXISTS (
    SELECT 1 FROM unit_entry e WHERE e.unit_id = s.unit_id AND e.what = 'standing' AND e.standing = 'missing'
      AND e.from_date = s.back_on AND {counts("e")}
  ) THEN NULL ELSE s.back_on END, l.direction
FROM loan_item s JOIN loan l ON l.id = s.loan_id
WHERE s.void = 0 AND l.void = 0{{only}}
"""
_READINGS = f"""
SELECT s.unit_id, (SELECT r.taken_on FROM reading r WHERE r.series_id = s.id AND {counts("r")}
                   ORDER BY r.taken_on DESC LIMIT 1) FROM series s WHERE 1 = 1{{only}}
"""
_NOT_FOUND = f"SELECT unit_id, max(seen_on) FROM sighting s WHERE seen = 0 AND {counts('s')} GROUP BY unit_id"
_ABOUT = """
SELECT u.id, u.serial, u.marks, (SELECT count(*) FROM attachment a WHERE a.unit_id = u.id AND a.void = 0)
FROM unit u WHERE u.void = 0
"""


class Evidence(NamedTuple):
    """That somebody had a unit before them: the (partial) day, what tells it, who it was (id, or None)."""

    day: str
    what: str
    by_id: int | None


class Listed(NamedTuple):
    """A unit of the inventory; "" for what is not known. name: maker and model. pieces: how many things this tag is on.

    last_seen: the (partial) day; evidence: what tells it; by: who saw it. not_found_on: the day on which it was looked
    for in vain, where that came later. photos: how many pictures and papers are attached.
    """

    tag: str
    name: str
    kind: str
    pieces: int
    serial: str
    marks: str
    photos: int
    location: str
    owner: str
    standing: str
    last_seen: str
    evidence: str
    by: str
    not_found_on: str


def inventory(
    conn: Connection, today: date, wanted: Wanted, *, not_seen_since: date | None = None, gone_too: bool = False
) -> list[Listed]:
    """Return the wanted units by tag, or those that nobody saw since a day, that day included, the longest ago first.

    Raises Refused for a name that no unit, location or person has.
    """
    seen, lost = last_seen(conn, today), dict(fetch(conn, _NOT_FOUND))
    people = dict(fetch(conn, "SELECT id, name FROM person WHERE void = 0"))
    about = {row[0]: row[1:] for row in fetch(conn, _ABOUT)}
    units = unit_list(conn, today)
    passes = unit_filter(conn, wanted, units)
    rows = []
    for unit in units:
        if not passes(unit) or (unit.standing == "gone" and not (gone_too or wanted.standing)):
            continue
        last = seen.get(unit.id, Evidence("", "", None))
        if not_seen_since is not None and last.day >= not_seen_since.isoformat():
            continue
        serial, marks, photos = about[unit.id]
        rows.append(
            Listed(
                unit.tag,
                f"{unit.maker} {unit.model}".strip(),
                unit.kind,
                1,
                serial or "",
                marks or "",
                photos,
                unit.location,
                unit.owner,
                unit.standing,
                last.day,
                last.what,
                people.get(last.by_id, ""),
                lost[unit.id] if lost.get(unit.id, "") > last.day else "",
            )
        )
    return rows if not_seen_since is None else sorted(rows, key=lambda row: row.last_seen)


def usual_owner(rows: Sequence[Listed]) -> str:
    """Return who owns most of these units, "" where nobody is known to own one; of equal ones the first by name."""
    owners = Counter(sorted(row.owner for row in rows if row.owner))
    return owners.most_common(1)[0][0] if owners else ""


def last_seen(conn: Connection, today: date, unit_id: int | None = None) -> dict[int, Evidence]:
    """Return, by unit, the last evidence up to today that somebody had it before them; of all units or of one."""
    found: dict[int, Evidence] = {}
    day = today.isoformat()
    for unit, evidence in _evidence(conn, unit_id):
        if evidence.day <= day and (unit not in found or evidence.day > found[unit].day):
            found[unit] = evidence
    return found


def _evidence(conn: Connection, unit_id: int | None) -> Iterator[tuple[int, Evidence]]:
    """Yield what tells of units; of one day, what tells best comes first."""
    only, given = ("", {}) if unit_id is None else (" AND s.{} = :unit", {"unit": unit_id})
    for what, table, counting, day, by in _SOURCES:
        unit = "id" if table == "unit" else "unit_id"
        person = f"s.{by}" if by else "NULL"
        sql = _SOURCE.format(unit=unit, day=day, by=person, table=table, counts=counting, only=only.format(unit))
        yield from ((row[0], Evidence(row[1], what, row[2])) for row in fetch(conn, sql, **given))
    for key, on in fetch(conn, _READINGS.format(only=only.format("unit_id")), **given):
        if on is not None:
            yield key, Evidence(on, "reading", None)
    for key, out_on, back_on, direction in fetch(conn, _LOANS.format(only=only.format("unit_id")), **given):
        begins, ends = ("loan out", "loan back") if direction == "out" else ("loan in", "given back")
        yield key, Evidence(out_on, begins, None)
        if back_on is not None:
            yield key, Evidence(back_on, ends, None)
