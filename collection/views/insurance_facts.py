"""What the book knows of each thing on the insurance schedule beside what `views.units` and `views.worth` tell."""

from __future__ import annotations

from datetime import date
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.errors import fold
from collection.quantity import Money, parse_day
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.units import Loan, Unit

_NO_THINGS = ("eye", "program")  # kinds of instruments that nobody can lose apart from an eye or a computer


class Details(NamedTuple):
    """What the record of a unit and that of its model say; "" for what is not told."""

    serial_state: str
    marks: str
    jumpers: str
    rom: str
    modifications: str
    accessories: str
    condition: str
    box: str
    note: str
    model_note: str
    media: str
    bought_from: str
    price: Money | None
    supply_inside: bool


class Bare(NamedTuple):
    """A disk or an instrument that is no unit of the book, so that nobody could value it."""

    name: str
    kind: str
    described: str


_DETAILS = """
SELECT u.id, u.serial_state, u.marks, u.jumpers, u.rom, u.modifications, u.accessories, u.condition, u.box, u.note,
       m.note, m.media, p.name, u.price_minor, u.currency, m.supply_inside
FROM unit u JOIN model m ON m.id = u.model_id LEFT JOIN person p ON p.id = u.acquired_from_id WHERE u.void = 0
"""
_BORROWED = """
SELECT i.unit_id, l.name, p.name, l.out_on, l.due_on
FROM loan_item i JOIN loan l ON l.id = i.loan_id JOIN person p ON p.id = l.person_id
WHERE i.void = 0 AND l.void = 0 AND l.direction = 'in' AND l.out_on <= :day
  AND (i.back_on IS NULL OR i.back_on > :day)
ORDER BY l.out_on, i.id
"""
_TESTED = f"""
SELECT s.unit_id, max(r.taken_on) FROM reading r JOIN series s ON s.id = r.series_id
WHERE {counts("r")} AND r.taken_on <= :day
  AND NOT EXISTS (SELECT 1 FROM reading_aside a WHERE a.reading_id = r.id AND {counts("a")})
GROUP BY s.unit_id
"""
_FITTED = """
SELECT part_unit_id, unit_id FROM fitted_part
WHERE void = 0 AND part_unit_id IS NOT NULL AND fitted_on <= :day AND (removed_on IS NULL OR removed_on > :day)
ORDER BY fitted_on, id
"""
_PAIRED = """
SELECT supply_unit_id, drive_id FROM pairing
WHERE void = 0 AND from_date <= :day AND (to_date IS NULL OR to_date > :day) ORDER BY from_date, id
"""
_PHOTOS = """
SELECT unit_id, count(*) FROM attachment
WHERE void = 0 AND unit_id IS NOT NULL AND media_type LIKE 'image/%' GROUP BY unit_id
"""
_FIRST = f"""
SELECT e.unit_id, min(e.from_date) FROM unit_entry e WHERE {counts("e")} GROUP BY e.unit_id
"""
_DISKS = """
SELECT name, role, size, condition FROM medium
WHERE void = 0 AND unit_id IS NULL AND (from_date IS NULL OR from_date <= :day)
  AND (retired_on IS NULL OR retired_on > :day)
ORDER BY name_folded
"""
_INSTRUMENTS = """
SELECT i.name, i.kind FROM instrument i
WHERE i.void = 0 AND i.unit_id IS NULL AND (i.retired_on IS NULL OR i.retired_on > :day)
  AND coalesce((SELECT min(t.from_date) FROM instrument_use t WHERE t.instrument_id = i.id AND t.void = 0), '') <= :day
ORDER BY i.name_folded
"""


def details(conn: Connection) -> dict[int, Details]:
    """Return what is told of every unit."""
    return {row[0]: _details(row[1:]) for row in fetch(conn, _DETAILS)}


def _details(row: tuple[Any, ...]) -> Details:
    texts: list[Any] = ["" if value is None else value for value in row[:12]]
    price = None if row[12] is None or row[13] is None else Money(row[12], row[13])
    return Details._make([*texts, price, bool(row[14])])


def borrowed(conn: Connection, day: date) -> dict[int, Loan]:
    """Return the loan in that is open on a day for each unit that is here on one; person: who lent it."""
    return {row[0]: Loan(*row[1:]) for row in fetch(conn, _BORROWED, day=day.isoformat())}


def tested(conn: Connection, day: date) -> dict[int, str]:
    """Return the last (partial) day up to `day` on which anything was measured of a unit."""
    return {unit: taken_on for unit, taken_on in fetch(conn, _TESTED, day=day.isoformat())}  # noqa: C416  rows of two


def inside(conn: Connection, day: date, own: dict[int, Details]) -> dict[int, int]:
    """Return which unit stands inside which other: fitted in it as a part, or its own supply unit inside its case."""
    found = {part: host for part, host in fetch(conn, _FITTED, day=day.isoformat()) if part != host}
    for supply, drive in fetch(conn, _PAIRED, day=day.isoformat()):
        if drive in own and own[drive].supply_inside:
            found.setdefault(supply, drive)
    return found


def photos(conn: Connection) -> dict[int, int]:
    """Return how many pictures each unit has that has one."""
    return {unit: count for unit, count in fetch(conn, _PHOTOS)}  # noqa: C416  rows of two


def not_yet(conn: Connection, day: date, units: list[Unit]) -> set[int]:
    """Return the units that came after a day: by the day they were acquired, else by what was first entered of them."""
    first = {unit: entered for unit, entered in fetch(conn, _FIRST)}  # noqa: C416  rows of two
    came = {unit.id: unit.acquired_on or first.get(unit.id, "") for unit in units}
    return {unit for unit, text in came.items() if text and parse_day(text).first > day}


def bare_things(conn: Connection, day: date) -> list[Bare]:
    """Return the disks and instruments in use on a day that are no units of their own; programs are none."""
    disks = fetch(conn, _DISKS, day=day.isoformat())
    made = [
        Bare(name, "medium", ", ".join(filter(None, (f"{role} disk", size, state))))
        for name, role, size, state in disks
    ]
    others = fetch(conn, _INSTRUMENTS, day=day.isoformat())
    made += [Bare(name, "test gear", kind or "") for name, kind in others if fold(kind or "") not in _NO_THINGS]
    return made
