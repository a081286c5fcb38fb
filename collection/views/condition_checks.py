"""Condition checks of units: when, on what occasion, in what state, with the readings and pictures taken then."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.counts import counts

_CHECKS = f"""
SELECT c.id, c.unit_id, u.tag, c.checked_on, c.occasion, c.condition, c.grade, p.name, c.loan_item_id, l.name
FROM condition_check c JOIN unit u ON u.id = c.unit_id LEFT JOIN person p ON p.id = c.by_id
LEFT JOIN loan_item i ON i.id = c.loan_item_id LEFT JOIN loan l ON l.id = i.loan_id
WHERE {counts("c")}{{only}} ORDER BY c.checked_on, c.id
"""
_READINGS = f"""
SELECT r.check_id, m.name, s.point, r.value, r.grade, m.measured_in, i.name
FROM reading r JOIN series s ON s.id = r.series_id JOIN measurement m ON m.id = s.measurement_id
JOIN instrument i ON i.id = r.instrument_id
WHERE r.check_id IS NOT NULL AND {counts("r")}{{only}}
  AND NOT EXISTS (SELECT 1 FROM reading_aside a WHERE a.reading_id = r.id AND {counts("a")}) ORDER BY r.id
"""
# Numbers count void rows too, as in the list of pictures.
_PHOTOS = """
SELECT a.check_id, a.number, a.title FROM (
  SELECT n.*, row_number() OVER (PARTITION BY n.unit_id ORDER BY n.id) AS number FROM attachment n{only}
) a WHERE a.void = 0 AND a.check_id IS NOT NULL ORDER BY a.id
"""
_DOUBTS = f"""
SELECT u.tag, m.name, s.point, r.entered, d.rule
FROM doubt d JOIN reading r ON r.id = d.row_id JOIN series s ON s.id = r.series_id
JOIN measurement m ON m.id = s.measurement_id JOIN condition_check c ON c.id = r.check_id
JOIN unit u ON u.id = c.unit_id
WHERE d.table_name = 'reading' AND {counts("d")} AND {counts("r")}{{only}} ORDER BY d.id
"""

# A service that was closed on the day of the check came after it if its closing was entered after it.
_FAILED = f"""
SELECT c.unit_id, c.checked_on FROM condition_check c
WHERE c.grade = 'fail' AND c.checked_on <= :day AND {counts("c")}{{only}}
  AND NOT EXISTS (SELECT 1 FROM condition_check n WHERE n.unit_id = c.unit_id AND n.checked_on <= :day AND {counts("n")}
    AND (n.checked_on > c.checked_on OR (n.checked_on = c.checked_on AND n.id > c.id)))
  AND NOT EXISTS (SELECT 1 FROM service s WHERE s.unit_id = c.unit_id AND s.void = 0 AND s.closed_on <= :day
    AND (s.closed_on > c.checked_on OR (s.closed_on = c.checked_on AND EXISTS (
      SELECT 1 FROM change k WHERE k.table_name = 'service' AND k.row_id = s.id AND k.act_id > c.act_id
        AND k.after LIKE :closed AND {counts("k")}))))
"""


class DoubtfulReading(NamedTuple):
    """What makes a reading taken at a check doubtful; entered: its value as it was typed, point "" for none."""

    tag: str
    measurement: str
    point: str
    entered: str
    doubt: str


@dataclass(frozen=True, slots=True)
class CheckReading:
    """A reading taken at a check, in the unit of its measurement ("graded": grade says it); point "" for none."""

    measurement: str
    point: str
    value: float | None
    grade: str
    measured_in: str
    instrument: str


@dataclass(frozen=True, slots=True)
class ConditionCheck:
    """A condition check; grade, by and loan are "" where not told.

    photos: number and title of each picture, among those of the unit.
    """

    id: int
    unit_id: int
    tag: str
    checked_on: str
    occasion: str
    condition: str
    grade: str
    by: str
    loan_item_id: int | None
    loan: str
    readings: tuple[CheckReading, ...]
    photos: tuple[tuple[int, str], ...]


def condition_checks(conn: Connection, unit_id: int | None = None) -> list[ConditionCheck]:
    """Return the condition checks of a unit, or of all, by day."""
    given: dict[str, Any] = {} if unit_id is None else {"unit": unit_id}

    def rows(sql: str, only: str) -> list[tuple[Any, ...]]:
        return fetch(conn, sql.format(only="" if unit_id is None else only), **given)

    readings = _by_check(rows(_READINGS, " AND s.unit_id = :unit"))
    photos = _by_check(rows(_PHOTOS, " WHERE n.unit_id = :unit"))
    return [
        ConditionCheck(
            id=key,
            unit_id=unit,
            tag=tag,
            checked_on=checked_on,
            occasion=occasion,
            condition=condition,
            grade=grade or "",
            by=by or "",
            loan_item_id=item,
            loan=loan or "",
            readings=tuple(map(_reading, readings.get(key, ()))),
            photos=tuple((number, title) for number, title in photos.get(key, ())),
        )
        for key, unit, tag, checked_on, occasion, condition, grade, by, item, loan in rows(
            _CHECKS, " AND c.unit_id = :unit"
        )
    ]


def failed_conditions(conn: Connection, today: date, unit_id: int | None = None) -> dict[int, str]:
    """Return the units whose last condition check failed, each with its day; a service after it takes that away.

    All units, or one; by what was known of the day `today`. Inside a day the order of entry decides.
    """
    only, given = ("", {}) if unit_id is None else (" AND c.unit_id = :unit", {"unit": unit_id})
    closed = '%"closed_on":"%'
    return dict(fetch(conn, _FAILED.format(only=only), day=today.isoformat(), closed=closed, **given))


def doubts_at_check(conn: Connection, check_id: int) -> list[DoubtfulReading]:
    """Return what is doubtful about the readings of a check, in the order of entry."""
    return [DoubtfulReading(*row) for row in fetch(conn, _DOUBTS.format(only=" AND c.id = :check"), check=check_id)]


def doubts_at_loan(conn: Connection, item_id: int, occasion: str) -> list[DoubtfulReading]:
    """Return that of the readings of one unit of a loan on an occasion: loan out, loan back, entry or exit."""
    only = " AND c.loan_item_id = :item AND c.occasion = :occasion"
    return [DoubtfulReading(*row) for row in fetch(conn, _DOUBTS.format(only=only), item=item_id, occasion=occasion)]


def _reading(row: tuple[Any, ...]) -> CheckReading:
    measurement, point, value, grade, measured_in, instrument = row
    return CheckReading(measurement, point, value, grade or "", measured_in, instrument)


def _by_check(rows: Iterable[tuple[Any, ...]]) -> dict[int, list[tuple[Any, ...]]]:
    found: dict[int, list[tuple[Any, ...]]] = {}
    for check_id, *rest in rows:
        found.setdefault(check_id, []).append(tuple(rest))
    return found
