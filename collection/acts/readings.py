"""Readings: the step that books one, and the acts that add one or set one aside."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import NamedTuple

from sqlalchemy.engine import Connection, Engine

from collection.acts.days import day_given
from collection.acts.instruments import Instruments, choose_instrument, failed_check
from collection.acts.texts import refuse_texts, refuse_texts_of
from collection.acts.work import Work, open_work
from collection.analysis.limits import OUT, verdict
from collection.analysis.measures import nominal_speed, plausible, to_measured
from collection.analysis.readiness import series_name
from collection.errors import Refused, fold, typed
from collection.quantity import parse_number, show_day
from collection.schema.measurement import GRADES
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.findings import in_words, show_range
from collection.views.fitness import fitness_of
from collection.views.limits import Limits
from collection.views.measuring import Instrument, Measurement, find_measurement, nominal_of, spell_point
from collection.views.reading_list import ReadingRow, readings_of
from collection.views.readings import last_readings
from collection.views.services import open_service_of, services_on
from collection.views.units import Unit, find_unit, unit_on

BETWEEN = "between"


@dataclass(frozen=True, slots=True)
class GivenReading:
    """A reading as a person typed it; empty text stands for what was not said."""

    measurement: str
    value: str
    point: str = ""
    measured_in: str = ""
    instrument: str = ""
    disk: str = ""
    supply_unit: str = ""
    warm_up_minutes: str = ""
    load: str = ""
    note: str = ""


class Recorded(NamedTuple):
    """A reading as booked, in the unit its measurement is kept in; doubts: what makes it doubtful."""

    id: int
    measurement: Measurement
    point: str
    value: float | None
    grade: str | None
    instrument: str
    doubts: tuple[str, ...]


@dataclass(slots=True)
class Held:
    """What readings of one unit are held against, read once: its limits and the mains of the book."""

    unit: Unit
    limits: Limits
    mains_hertz: int
    instruments: Instruments

    def nominal(self, measurement: Measurement, point: str, on: date) -> float | None:
        """Return the nominal of a series: of the limit that counts, else the speed of the unit's model."""
        limit = self.limits.on(on.isoformat(), self.unit.id, self.unit.model_id, measurement.id, point)
        if limit is not None and limit.nominal is not None:
            return limit.nominal
        return nominal_speed(nominal_of(self.unit, measurement), point)


def held_against(conn: Connection, unit: Unit, instruments: Instruments) -> Held:
    """Return what the readings of a unit are held against."""
    return Held(unit, Limits(conn), open_book(conn).settings.mains_hertz, instruments)


class Weighed(NamedTuple):
    """A reading as it would be booked; doubts: field, rule and the value shown beside it."""

    measurement: Measurement
    point: str
    value: float | None
    grade: str | None
    instrument: Instrument
    doubts: tuple[tuple[str, str, str], ...]


def weigh_reading(work: Work, held: Held, given: GivenReading, on: date) -> Weighed:
    """Return what a reading of a unit would be booked as: converted to the measurement's unit, with its doubts.

    Raises Refused for unknown names, a value of the wrong form, units that do not fit, and for an instrument or a
    disk that was retired before.
    """
    measurement = find_measurement(work.conn, given.measurement)
    point, odd_point = spell_point(work.conn, held.unit, measurement, given.point)
    nominal = held.nominal(measurement, point, on)
    value, grade = _result(measurement, given, nominal, held.mains_hertz)
    instrument = choose_instrument(work, measurement, given.instrument, held.instruments, on)
    disk = fitness_of(work.conn, "medium", given.disk, on)
    disk.refuse_gone("Name another with --disk; see: spindlebook medium list")
    odd_value = None if value is None else plausible(measurement.measured_in, value, nominal)
    doubts = (
        ("point", odd_point, point),
        ("value", odd_value, given.value),
        ("instrument", failed_check(work, instrument, on), instrument.name),
        ("disk", disk.doubt, given.disk),
    )
    said = tuple((field, rule, shown) for field, rule, shown in doubts if rule is not None)
    return Weighed(measurement, point, value, grade, instrument, said)


def out_of_limits(work: Work, held: Held, readings: Iterable[GivenReading], on: date) -> list[str]:
    """Return, in words, which series of a unit are outside their limits or fail by the readings of a day; writes none.

    Of several readings of a series the last one counts, as in the due list. Raises Refused as `weigh_reading`.
    """
    before = {
        (one.measurement_id, one.point): one.grade
        for one in last_readings(work.conn, held.unit.id)
        if one.taken_on <= on.isoformat()
    }
    found: dict[tuple[int, str], str] = {}
    for given in readings:
        measurement, point, value, grade = weigh_reading(work, held, given, on)[:4]
        limit = held.limits.on(on.isoformat(), held.unit.id, held.unit.model_id, measurement.id, point)
        says = verdict(grade or value or 0.0, limit, before.get((measurement.id, point)))
        before[measurement.id, point] = grade
        shown = in_words(value, grade, measurement.measured_in, limit, says)
        bounds = f", limit {show_range(limit)}" if value is not None else ""
        said = f"{series_name(measurement.name, point)} is {shown}{bounds}"
        found[measurement.id, point] = said if says in OUT else ""
    return [said for said in found.values() if said]


def record_reading(
    work: Work,
    held: Held,
    given: GivenReading,
    stage: str,
    on: date,
    service_id: int | None = None,
    *,
    check_id: int | None = None,
) -> Recorded:
    """Book one reading of a unit, the entered form kept; check_id: the condition check that it belongs to.

    A value that is not plausible is booked and marked as doubtful. Raises Refused as `weigh_reading`.
    """
    weighed = weigh_reading(work, held, given, on)
    return book_reading(work, held, given, weighed, stage, on, service_id, check_id=check_id)


def book_reading(
    work: Work,
    held: Held,
    given: GivenReading,
    weighed: Weighed,
    stage: str,
    on: date,
    service_id: int | None = None,
    *,
    check_id: int | None = None,
) -> Recorded:
    """Append a reading that was weighed, and mark what is doubtful about it."""
    measurement, point, value, grade, instrument, doubts = weighed
    reading_id = work.append(
        "reading",
        series_id=_series(work, held.unit.id, measurement.id, point),
        taken_on=on.isoformat(),
        value=value,
        grade=grade,
        instrument_id=instrument.id,
        stage=stage,
        service_id=service_id,
        entered=given.value,
        entered_in=given.measured_in or None,
        disk=given.disk or None,
        supply_unit_id=find_unit(work.conn, given.supply_unit).id if given.supply_unit else None,
        warm_up_minutes=_minutes(given.warm_up_minutes),
        load=given.load or None,
        note=given.note or None,
        check_id=check_id,
    )
    for column, rule, shown in doubts:
        work.doubt("reading", reading_id, column, shown, rule)
    said = tuple(rule for _, rule, _ in doubts)
    return Recorded(reading_id, measurement, point, value, grade, instrument.name, said)


def add_reading(
    engine: Engine,
    tag: str,
    given: GivenReading,
    *,
    stage: str = BETWEEN,
    on: str = "",
    new_instrument: bool = False,
    today: date,
    now: datetime,
) -> ReadingRow:
    """Book one reading of a unit on a day; as found and as left join the unit's service of that day."""
    refuse_texts_of(given)
    with open_work(engine, "reading add", today=today, now=now) as work:
        day = day_given(on, today)
        unit = unit_on(work.conn, find_unit(work.conn, tag).id, day)
        service_id = None if stage == BETWEEN else _service_on(work.conn, unit, stage, day)
        held = held_against(work.conn, unit, Instruments(new=new_instrument))
        made = record_reading(work, held, given, stage, day, service_id)
        row = next(each for each in readings_of(work.conn, unit) if each.id == made.id)
        work.commit(f"{unit.tag}: {row.measurement} {row.shown}")
    return row


def set_aside(
    engine: Engine,
    tag: str,
    *,
    reason: str,
    number: int | None = None,
    measurement: str = "",
    point: str | None = None,
    on: str = "",
    today: date,
    now: datetime,
) -> ReadingRow:
    """Set one reading aside: it stays in the book and counts no more.

    It is named by its number in the unit's list, or by measurement, point and day where these name one reading
    only. Raises Refused where no reading or several are meant, and where it is set aside already.
    """
    if not reason.strip():
        raise Refused("A reading is set aside for a reason.", 'Add --reason "belt slipped".')
    refuse_texts(reason=reason)
    with open_work(engine, "reading set-aside", today=today, now=now, reason=reason) as work:
        unit = unit_on(work.conn, find_unit(work.conn, tag).id, today)
        rows = readings_of(work.conn, unit)
        row = (
            _numbered(unit.tag, rows, number)
            if number is not None
            else _described(unit.tag, rows, measurement, point, on)
        )
        if row.set_aside:
            raise Refused(
                f"Reading {row.number} of {unit.tag} is set aside already: {row.set_aside}.",
                "Undo that act to let it count again: spindlebook history",
            )
        work.append("reading_aside", reading_id=row.id, reason=reason)
        row = next(each for each in readings_of(work.conn, unit) if each.id == row.id)
        work.commit(f"{unit.tag}: set aside {row.measurement} of {row.taken_on}")
    return row


def _result(
    measurement: Measurement, given: GivenReading, nominal: float | None, mains_hertz: int
) -> tuple[float | None, str | None]:
    """Return the value or the grade that was typed, whichever the measurement has."""
    if measurement.graded:
        return None, _grade(measurement, given)
    if fold(given.value) in GRADES:
        raise Refused(
            f'"{measurement.name}" is measured in {measurement.measured_in}, and "{given.value}" is a grade.',
            "Type a number.",
        )
    value: Decimal = parse_number(given.value)
    return to_measured(value, given.measured_in, measurement.measured_in, nominal, mains_hertz), None


def _grade(measurement: Measurement, given: GivenReading) -> str:
    typed = f"{given.value} {given.measured_in}".strip()
    if fold(typed) not in GRADES:
        raise Refused(f'"{measurement.name}" is graded, and "{typed}" is no grade.', "Type pass, marginal or fail.")
    return fold(typed)


def _minutes(text: str) -> float | None:
    if not text:
        return None
    minutes = parse_number(text)
    if minutes < 0:
        raise Refused(f"Warm-up of {text} minutes is below zero.", "Type minutes, as 30.")
    return float(minutes)


def _series(work: Work, unit_id: int, measurement_id: int, point: str) -> int:
    sql = "SELECT id FROM series WHERE unit_id = :unit AND measurement_id = :measurement AND point = :point"
    rows = fetch(work.conn, sql, unit=unit_id, measurement=measurement_id, point=point)
    if rows:
        return int(rows[0][0])
    return work.append("series", unit_id=unit_id, measurement_id=measurement_id, point=point)


def _service_on(conn: Connection, unit: Unit, stage: str, day: date) -> int:
    """Return the service that an as found or as left reading of a day belongs to."""
    current = open_service_of(conn, unit.id)
    if current is not None and current.opened_on <= day.isoformat():
        return current.id
    found = services_on(conn, unit.id, day)
    if len(found) == 1:
        return found[0].id
    count = "no service" if not found else f"{len(found)} services"
    raise Refused(
        f'"{stage}" belongs to a service, and {unit.tag} has {count} on {show_day(day.isoformat())}.',
        f"Type: spindlebook service open {typed(unit.tag)}; or leave --stage away for a reading between services.",
    )


def _numbered(tag: str, rows: list[ReadingRow], number: int) -> ReadingRow:
    for row in rows:
        if row.number == number:
            return row
    raise Refused(f"{tag} has no reading {number}; it has {len(rows)}.", f"Type: spindlebook reading list {typed(tag)}")


def _described(tag: str, rows: list[ReadingRow], measurement: str, point: str | None, on: str) -> ReadingRow:
    if not measurement:
        raise Refused("Which reading is set aside is not said.", f"See: spindlebook reading list {typed(tag)}")
    found = [
        row
        for row in rows
        if fold(row.measurement) == fold(measurement)
        and (point is None or fold(row.point) == fold(point))
        and (not on or row.taken_on == on)
        and not row.set_aside
    ]
    if len(found) == 1:
        return found[0]
    what = f"{measurement}{f' of {on}' if on else ''}"
    if not found:
        raise Refused(f"{tag} has no counting reading of {what}.", f"See: spindlebook reading list {typed(tag)}")
    numbers = ", ".join(str(row.number) for row in found[-5:])
    raise Refused(
        f"{tag} has {len(found)} counting readings of {what}.",
        f"Name one by its number ({numbers}), as --number {found[-1].number};"
        f" see: spindlebook reading list {typed(tag)}",
    )
