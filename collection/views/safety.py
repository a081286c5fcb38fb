"""Electrical safety checks: what was found of which unit, and what stands against lending a mains unit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.mains import fed_from_mains
from collection.analysis.months import add_months
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.readings import reading_counts
from collection.views.units import Unit, unit_list, unit_on

_CHECKS = f"""
SELECT c.id, c.unit_id, u.tag, c.checked_on, c.result, p.name, c.rule, c.good_through, c.note, c.act_id
FROM safety_check c JOIN unit u ON u.id = c.unit_id JOIN person p ON p.id = c.by_id
WHERE {counts("c")}{{only}} ORDER BY c.checked_on DESC, c.id DESC
"""
_MODELS = """
SELECT u.id, m.kind, m.drive_type, m.supply_inside FROM unit u JOIN model m ON m.id = u.model_id WHERE u.void = 0{only}
"""
# What a service graded; who checked by which rule is not told with it, so that a pass of it replaces no check.
_GRADED = f"""
SELECT s.unit_id, r.taken_on, r.grade, r.act_id FROM reading r JOIN series s ON s.id = r.series_id
JOIN measurement m ON m.id = s.measurement_id
WHERE m.seed_key = 'measurement-electrical-safety' AND {reading_counts("r")}{{only}}
ORDER BY r.taken_on, CASE r.stage WHEN 'as left' THEN 1 ELSE 0 END, r.id
"""
_SETTINGS = "SELECT unit_id, mains_setting FROM arrival WHERE void = 0 AND mains_setting IS NOT NULL{only}"


class SafetyCheck(NamedTuple):
    """One electrical safety check; checked_on may be a month or a year. rule, good_through, note: "" where not told.

    act_id: the act that wrote it, by which what is of one day comes in order.
    """

    id: int
    unit_id: int
    tag: str
    checked_on: str
    result: str
    by: str
    rule: str
    good_through: str
    note: str
    act_id: int

    @property
    def failed(self) -> bool:
        """Whether the unit did not pass."""
        return self.result == "fail"


class FailedGrade(NamedTuple):
    """That a service graded the electrical safety of a unit as failed: the day, and the act that wrote it."""

    day: str
    act_id: int


def safety_checks(conn: Connection, unit_id: int | None = None) -> list[SafetyCheck]:
    """Return the checks of a unit, or of all: of each unit the one that holds, then the others, the last first."""
    return _checks(conn, _one(unit_id))


def _checks(conn: Connection, only: str) -> list[SafetyCheck]:
    of_unit: dict[int, list[SafetyCheck]] = {}
    for row in fetch(conn, _CHECKS.format(only=only.format("c.unit_id"))):
        check = SafetyCheck._make("" if value is None else value for value in row)
        of_unit.setdefault(check.unit_id, []).append(check)
    return [check for checks in of_unit.values() for check in _holding_first(checks)]


def _holding_first(checks: list[SafetyCheck]) -> list[SafetyCheck]:
    """Put first the check that holds: of those that may have been the last, the one that was entered last.

    One of which only the month is known may have been made after another of that month.
    """
    if len(checks) < 2:
        return checks
    newest = max(parse_day(each.checked_on).first for each in checks)
    holds = max((each for each in checks if parse_day(each.checked_on).last >= newest), key=lambda each: each.id)
    return [holds, *(each for each in checks if each is not holds)]


def _one(unit_id: int | None) -> str:
    """Return the SQL for one unit, in the place of whose column {} stands; "" for all units."""
    return "" if unit_id is None else f" AND {{}} = {unit_id:d}"


def mains_units(conn: Connection, unit_id: int | None = None) -> set[int]:
    """Return which units are fed from the mains, of all or of one, as far as the book can tell."""
    return _mains(conn, _one(unit_id))


def _mains(conn: Connection, only: str) -> set[int]:
    settings: dict[int, list[str]] = {}
    for unit, setting in fetch(conn, _SETTINGS.format(only=only.format("unit_id"))):
        settings.setdefault(unit, []).append(setting)
    return {
        unit
        for unit, kind, drive_type, inside in fetch(conn, _MODELS.format(only=only.format("u.id")))
        if fed_from_mains(kind, drive_type or "", None if inside is None else bool(inside), settings.get(unit, ()))
    }


def safety_against(conn: Connection, unit_id: int, until: date, on: date | None = None) -> str:
    """Return what speaks against handing a unit out until a day, "" for nothing.

    on: the day it goes out; later checks say nothing of it. Something is against it where its last check failed or a
    service graded it so since, and for a unit fed from the mains where there is no check, or its last is good for less
    than that.
    """
    last, graded = _last(conn, unit_id, on), failed_by_grade(conn, unit_id, on).get(unit_id)
    mains = unit_id in mains_units(conn, unit_id)
    return against(last, graded, mains=mains, until=until, months=safety_months(conn)).sentence


def safety_against_each(conn: Connection, until: Mapping[int, date]) -> dict[int, str]:
    """Return, by unit, what speaks against its being out until a day, as `safety_against` by all that is known now."""
    if not until:
        return {}
    only = f" AND {{}} IN ({', '.join(map(str, until))})"
    last: dict[int, SafetyCheck] = {}
    for check in _checks(conn, only):
        last.setdefault(check.unit_id, check)
    mains, graded, months = _mains(conn, only), _failed(conn, only), safety_months(conn)
    found = {
        unit: against(last.get(unit), graded.get(unit), mains=unit in mains, until=day, months=months).sentence
        for unit, day in until.items()
    }
    return {unit: sentence for unit, sentence in found.items() if sentence}


class Against(NamedTuple):
    """What is against handing a unit out, in a word and in a sentence; both "" for nothing."""

    word: str = ""
    sentence: str = ""


def against(
    last: SafetyCheck | None, graded: FailedGrade | None, *, mains: bool, until: date, months: int | None
) -> Against:
    """Return what the last check of a unit has against handing it out until a day; as `safety_against`.

    graded: where a service graded it last, and as failed. mains: whether the unit is fed from the mains. months: as in
    `good_through`.
    """
    if last is not None and last.failed:
        return Against("failed", f"its electrical safety check of {last.checked_on} failed")
    if graded is not None and _is_newer(graded, last):
        return Against(f"graded fail {graded.day}", f"its electrical safety was graded fail on {graded.day}")
    if not mains:
        return Against()
    if last is None:
        return Against("no check", "it is fed from the mains and has no electrical safety check")
    through = good_through(last, months)
    if through is not None and through < until:
        says = f"its electrical safety check of {last.checked_on} is good through {through.isoformat()} only"
        return Against("lapsed", says)
    return Against()


def safety_failed(conn: Connection, unit_id: int, on: date | None = None) -> bool:
    """Say whether the last electrical safety check of a unit failed, or a grade since; no reason overrides that."""
    last, graded = _last(conn, unit_id, on), failed_by_grade(conn, unit_id, on).get(unit_id)
    return (last is not None and last.failed) or (graded is not None and _is_newer(graded, last))


def failed_by_grade(conn: Connection, unit_id: int | None = None, on: date | None = None) -> dict[int, FailedGrade]:
    """Return, by unit, when its electrical safety was graded last, where that was a fail."""
    return _failed(conn, _one(unit_id), on)


def _failed(conn: Connection, only: str, on: date | None = None) -> dict[int, FailedGrade]:
    day = "9999" if on is None else on.isoformat()
    rows = fetch(conn, _GRADED.format(only=only.format("s.unit_id")))
    last = {unit: (FailedGrade(taken_on, act), grade) for unit, taken_on, grade, act in rows if taken_on <= day}
    return {unit: graded for unit, (graded, grade) in last.items() if grade == "fail"}


def _is_newer(graded: FailedGrade, last: SafetyCheck | None) -> bool:
    """Say whether no check has passed since a grade that failed; of one day, what was written last holds."""
    return last is None or graded > (last.checked_on, last.act_id)


def good_through(check: SafetyCheck, months: int | None) -> date | None:
    """Return the last day for which a passed check is good: as told with it, else by the book's own rule.

    months: of that rule; None for no rule, and then a check lapses on no day (None).
    """
    if check.good_through:
        return date.fromisoformat(check.good_through)
    return None if months is None else add_months(parse_day(check.checked_on).first, months)


def safety_months(conn: Connection) -> int | None:
    """Return for how many months a safety check is good by the book's own rule, None where none is set."""
    months = fetch(conn, "SELECT safety_months FROM book")[0][0]
    return None if months is None else int(months)


def _last(conn: Connection, unit_id: int, on: date | None) -> SafetyCheck | None:
    day = "9999" if on is None else on.isoformat()
    made = _holding_first([each for each in safety_checks(conn, unit_id) if each.checked_on <= day])
    return made[0] if made else None


class SafetyRow(NamedTuple):
    """A check, or that there is none, of a unit; "" for what is not known.

    good_through: as told, or by the book's own rule. says: in a word, what is against handing the unit out today; only
    beside the last check of a unit.
    """

    tag: str
    checked_on: str
    result: str
    by: str
    rule: str
    good_through: str
    note: str
    says: str


def safety_rows(conn: Connection, today: date, unit_id: int | None = None) -> list[SafetyRow]:
    """Return all checks of one unit, the last first; or the last of each unit fed from the mains or checked, by tag.

    A unit that wants a check and has none has a row that says so. Units that are gone are left out of the list of all.
    """
    if unit_id is not None:
        newest = safety_row(conn, unit_on(conn, unit_id, today), today)
        months, earlier = safety_months(conn), safety_checks(conn, unit_id)[1:]
        return [] if newest is None else [newest, *(_row(check, months, "") for check in earlier)]
    return [rows[0] for unit, rows in _rows_by_unit(conn, today) if unit.standing != "gone"]


def all_safety_rows(conn: Connection, today: date) -> list[SafetyRow]:
    """Return all checks of every unit, by tag, the last first; as `safety_rows` does of one unit."""
    return [row for _, rows in _rows_by_unit(conn, today) for row in rows]


def _rows_by_unit(conn: Connection, today: date) -> Iterator[tuple[Unit, list[SafetyRow]]]:
    """Yield the rows of each unit that is fed from the mains, or was checked, by tag."""
    months, graded, mains = safety_months(conn), failed_by_grade(conn), mains_units(conn)
    checks: dict[int, list[SafetyCheck]] = {}
    for check in safety_checks(conn):
        checks.setdefault(check.unit_id, []).append(check)
    for unit in unit_list(conn, today):
        made = checks.get(unit.id, [])
        if made or unit.id in mains or unit.id in graded:
            last = made[0] if made else None
            newest = _last_row(unit.tag, last, graded.get(unit.id), months, mains=unit.id in mains, today=today)
            yield unit, [newest, *(_row(check, months, "") for check in made[1:])]


def safety_row(conn: Connection, unit: Unit, today: date) -> SafetyRow | None:
    """Return the last check of one unit, or that one fed from the mains has none; None for a unit that needs none."""
    checks, mains = safety_checks(conn, unit.id), unit.id in mains_units(conn, unit.id)
    graded = failed_by_grade(conn, unit.id).get(unit.id)
    if not (checks or mains or graded):
        return None
    return _last_row(unit.tag, checks[0] if checks else None, graded, safety_months(conn), mains=mains, today=today)


def _last_row(
    tag: str, last: SafetyCheck | None, graded: FailedGrade | None, months: int | None, *, mains: bool, today: date
) -> SafetyRow:
    says = against(last, graded, mains=mains, until=today, months=months).word
    return SafetyRow(tag, "", "", "", "", "", "", says) if last is None else _row(last, months, says)


def _row(check: SafetyCheck, months: int | None, says: str) -> SafetyRow:
    through = None if check.failed else good_through(check, months)
    shown = "" if through is None else through.isoformat()
    return SafetyRow(check.tag, check.checked_on, check.result, check.by, check.rule, shown, check.note, says)
