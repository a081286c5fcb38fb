"""The questions of a guided service that ask for readings, as found and as left."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from collection.acts.readings import GivenReading
from collection.acts.service_given import GivenService
from collection.cli.guide_ask import Question, ask_more
from collection.cli.guide_step import Bench, Block, Step
from collection.cli.service_words import parse_reading, split_value
from collection.errors import Refused, fold
from collection.quantity import parse_number, show_day
from collection.views.findings import show_range
from collection.views.measuring import find_instrument, unknown_instrument
from collection.views.service_guide_readings import AskedReading, instrument_in, readings_as_found, readings_as_left
from collection.views.service_guide_work import tasks_offered

if TYPE_CHECKING:
    from collection.views.service_report import ServiceReport

Stage = Literal["as found", "as left"]
_CAN = (
    'A number, in another unit too: "199.2 ms". With its instrument: "301.2 @bench counter". Of another series:'
    ' "rail voltage[+5 V]=5.02".'
)
_CAN_GRADE = 'pass, marginal or fail. Of another series: "rail voltage[+5 V]=5.02".'
_NEW = "new "


def as_found_block(bench: Bench) -> Block:
    """Return the questions for readings before the work."""
    with bench.face.view() as conn:
        due = [each.procedure for each in tasks_offered(conn, bench.unit, bench.face.today) if each.due]
        asked = readings_as_found(conn, bench.unit, bench.face.today, due)
    return Block([_step(bench, each, "as found") for each in asked])


def as_left_block(bench: Bench) -> Block:
    """Return the questions for readings after the work."""
    if bench.service_id is None:
        return Block(())
    with bench.face.view() as conn:
        asked = readings_as_left(conn, bench.unit, bench.service_id, bench.face.today)
    return Block([_step(bench, each, "as left") for each in asked])


def _step(bench: Bench, asked: AskedReading, stage: Stage) -> Step:
    """Return the question for one reading."""
    measurement = asked.measurement
    question = Question(_text(bench, asked), _CAN_GRADE if measurement.graded else _CAN)

    def given(text: str) -> GivenService:
        reading, new = _read(bench, asked, text)
        if stage == "as found":
            return GivenService(as_found=(reading,), new_instrument=new)
        return GivenService(as_left=(reading,), new_instrument=new)

    return Step(question, given, same=lambda report: _same(report, asked, stage))


def _text(bench: Bench, asked: AskedReading) -> str:
    """Return the question: "spindle speed (295.5 to 304.5 r/min; last 301.2, 3 Oct 2025)"."""
    name = f"{asked.measurement.name} {asked.point}".rstrip()
    kept_in = "pass, marginal, fail" if asked.measurement.graded else asked.measurement.measured_in
    told = f"{show_range(asked.limit)} {kept_in}".strip()
    if not asked.last:
        return f"{name} ({told})"
    is_today = asked.last_on == bench.face.today.isoformat()
    return f"{name} ({told}; last {asked.last}, {'today' if is_today else show_day(asked.last_on, bench.form)})"


def _read(bench: Bench, asked: AskedReading, text: str) -> tuple[GivenReading, bool]:
    """Return the reading that was typed, and whether its instrument is new to the book."""
    if "=" in text:
        reading = parse_reading(text)
    else:
        value, _, instrument = text.partition("@")
        number, unit = split_value(value)
        reading = GivenReading(asked.measurement.name, number, asked.point, unit, instrument.strip())
    named, new = _named(bench, reading)
    own = fold(named.measurement) == fold(asked.measurement.name) and not asked.measurement.graded
    if own:
        parse_number(named.value)
    if own and not named.instrument:
        instrument, new = _instrument(bench, asked)
        named = replace(named, instrument=instrument)
    if own and not new:
        bench.instruments[asked.measurement.id] = named.instrument
    return named, new


def _instrument(bench: Bench, asked: AskedReading) -> tuple[str, bool]:
    """Return the instrument of the measurement in this service, which is asked for once, and whether it is new."""
    known = bench.instruments.get(asked.measurement.id)
    if known:
        return known, False
    with bench.face.view() as conn:
        known = instrument_in(conn, bench.service_id, asked.measurement.id)
    if known:
        return known, False
    can = 'The name of an instrument; one that the book does not have: "new NAME".'
    name = ask_more(Question("  read with which instrument", can, asked.instrument))
    reading, new = _named(bench, GivenReading(asked.measurement.name, "", instrument=name))
    return reading.instrument, new


def _named(bench: Bench, reading: GivenReading) -> tuple[GivenReading, bool]:
    """Return a reading, and whether its instrument is new. Raises Refused for one that the book does not have."""
    if not reading.instrument:
        return reading, False
    with bench.face.view() as conn:
        if find_instrument(conn, reading.instrument) is not None:
            return reading, False
        refusal = unknown_instrument(conn, reading.instrument)
    if fold(reading.instrument).startswith(_NEW):
        return replace(reading, instrument=reading.instrument[len(_NEW) :].strip()), True
    near = refusal.hint.partition("If it is new")[0]
    raise Refused(refusal.what, f'{near}If it is new, type "new {reading.instrument}" for it.')


def _same(report: ServiceReport, asked: AskedReading, stage: Stage) -> str:
    """Return the grade of the last unit; a value is never taken from another unit."""
    if not asked.measurement.graded:
        raise Refused(f"A value is read on each unit, not taken from {report.unit.tag}; grades are.", "Type it.")
    for row in report.readings:
        if (row.measurement, row.point) == (asked.measurement.name, asked.point):
            result = row.found if stage == "as found" else row.left
            return (result and result.grade) or ""
    return ""
