"""What came in: under which entry number, from whom, why, and until when it may stay."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.errors import Refused, fold, typed
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.people import Person
from collection.views.units import Unit, find_unit, unit_list

_AWAY = ("gone", "away")
_SQL = """
SELECT a.key, a.entry_number, a.unit_id, a.arrived_on, a.reason, a.return_by, a.receipt_on, a.contents, a.damage,
       u.marks, a.from_id, p.name, p.role, p.email, p.phone, p.address, p.note
FROM arrival a JOIN unit u ON u.id = a.unit_id LEFT JOIN person p ON p.id = a.from_id
WHERE a.void = 0 ORDER BY a.arrived_on, a.id
"""


class Entry(NamedTuple):
    """One unit that came once; "" or None for what is not told. key: that of its row, the same for ever.

    unit: as of today. days_over: above zero for days past the day by which it goes back, zero or below before; None
    where it stays, has gone back, or came again since.
    """

    key: str
    entry_number: str
    unit: Unit
    arrived_on: str
    reason: str
    return_by: str
    receipt_on: str
    contents: str
    damage: str
    marks: str
    sender: Person | None
    days_over: int | None

    @property
    def tag(self) -> str:
        """The tag of the unit."""
        return self.unit.tag


def entry_list(conn: Connection, today: date) -> list[Entry]:
    """Return every arrival, the last first."""
    units = {unit.id: unit for unit in unit_list(conn, today)}
    found = fetch(conn, _SQL)
    last = {row[2]: at for at, row in enumerate(found)}
    rows = [_entry(row, units, today, is_last=last[row[2]] == at) for at, row in enumerate(found)]
    rows.sort(key=lambda row: tag_order(row.tag))
    return sorted(rows, key=lambda row: row.arrived_on, reverse=True)


def entries_named(conn: Connection, names: Iterable[str], today: date) -> list[Entry]:
    """Return the arrivals of entries by their numbers, and the last ones of units by their tags.

    What shares the number of a unit's last arrival comes along. Raises Refused for what is neither a number nor a tag,
    for a unit that never arrived, and for several people.
    """
    listed = entry_list(conn, today)
    chosen = list(dict.fromkeys(row for name in names for row in _named(conn, listed, name)))
    people = {row.sender.id if row.sender else None for row in chosen}
    if len(people) > 1:
        raise Refused("These came from several people, and a receipt is for one.", "Name those of one entry.")
    return chosen


def _named(conn: Connection, listed: list[Entry], name: str) -> list[Entry]:
    numbered = [row for row in listed if fold(row.entry_number) == fold(name)]
    if numbered:
        return numbered
    try:
        unit = find_unit(conn, name)
    except Refused as refusal:
        raise Refused(refusal.what, "Name an entry number or a tag of: spindlebook unit arrivals") from None
    last = next((row for row in listed if row.unit.id == unit.id), None)
    if last is None:
        raise Refused(f"{unit.tag} has no arrival in the book.", f"Note one: spindlebook arrival {typed(unit.tag)}")
    return [row for row in listed if row.entry_number == last.entry_number] if last.entry_number else [last]


def _entry(row: tuple[Any, ...], units: dict[int, Unit], today: date, *, is_last: bool) -> Entry:
    """Return an arrival; only what came last can wait to go back, since before that the unit had left again."""
    known: list[Any] = ["" if value is None else value for value in row]
    key, number, unit_id, arrived_on, *texts = known
    reason, return_by, receipt_on, contents, damage, marks, *person = texts
    unit = units[unit_id]
    waits = is_last and return_by and unit.standing not in _AWAY
    return Entry(
        key,
        number,
        unit,
        arrived_on,
        reason,
        return_by,
        receipt_on,
        contents,
        damage,
        marks,
        Person(*person) if person[0] else None,
        (today - parse_day(return_by).last).days if waits else None,
    )
