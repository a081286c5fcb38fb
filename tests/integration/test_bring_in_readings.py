"""Readings of the folder: their unit of measure, their service, what is doubtful, what is set aside."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from tests.support.folders import SMALL, bring, findings, plan, refusals, rows

HEAD = "tag,measurement,point,taken_on,instrument,value,stage,service,measured_in,set_aside\n"
VALUES = "SELECT value, grade, entered, entered_in, stage FROM reading ORDER BY id"


def _speed(value: str, stage: str = "between", day: str = "2025-05-01", **more: str) -> str:
    cells = {"tag": "D1", "point": "", "service": "", "measured_in": "", "set_aside": ""} | more
    return (
        f"{cells['tag']},spindle speed,{cells['point']},{day},counter,{value},{stage},{cells['service']},"
        f"{cells['measured_in']},{cells['set_aside']}\n"
    )


@pytest.fixture
def small(engine: Engine) -> Engine:
    """Return a book with two units, a service of one of them, and three instruments."""
    services = "service,tag,opened_on,closed_on\nS,D1,2025-05-01,2025-05-03\n"
    bring(engine, {**SMALL, "services": services})
    return engine


@pytest.mark.parametrize(
    ("typed", "unit", "value"),
    [
        ("299.5", "", 299.5),
        ("299.50", "r/min", 299.5),
        ("200", "ms", 300.0),
        ("2", "bars/min", 300.1),
        ("-4", "bars/min", 299.8),
    ],
)
def test_a_reading_is_converted_and_keeps_what_was_typed(small: Engine, typed: str, unit: str, value: float) -> None:
    """A turn of T ms is 60000 / T r/min; at 50 Hz 120 f / N = 20 bars stand still, and speed is off by bars / 20."""
    bring(small, {"readings": HEAD + _speed(typed, measured_in=unit)})

    ((found, grade, entered, entered_in, _stage),) = rows(small, VALUES)
    assert found == pytest.approx(value)
    assert (grade, entered) == (None, typed)
    assert entered_in == (None if unit in ("", "r/min") else unit)
    assert plan(small, {"readings": HEAD + _speed(typed, measured_in=unit)}).changes_nothing


def test_a_number_that_means_the_same_is_the_same_reading(small: Engine) -> None:
    """4.75 and 4.750 are equal; 4.75 V and 4.75 of another unit are not."""
    head = "tag,measurement,point,taken_on,instrument,value,stage,measured_in\n"
    row = "D1,rail voltage,+5 V,2025-05-01,meter,{},between,{}\n"
    bring(small, {"readings": head + row.format("4.75", "")})

    same = plan(small, {"readings": head + row.format("4.750", "V")})
    other = plan(small, {"readings": head + row.format("4.75", "mV")})

    assert same.changes_nothing
    assert other.totals["same"] == 0


def test_grades_are_words_and_other_measurements_take_numbers(small: Engine) -> None:
    """pass, marginal and fail belong to graded measurements only."""
    row = "D1,{},,2025-05-01,{},{},between,,,\n"
    bring(small, {"readings": HEAD + row.format("head condition", "loupe", "Pass")})

    assert rows(small, VALUES) == [(None, "pass", "pass", None, "between")]
    wrong = HEAD + row.format("head condition", "loupe", "3") + row.format("spindle speed", "counter", "fail")
    assert refusals(plan(small, {"readings": wrong})) == [
        ("readings.csv", 2, "value", "head condition is graded: write pass, marginal or fail"),
        ("readings.csv", 3, "value", "spindle speed takes a number"),
    ]


@pytest.mark.parametrize(
    ("day", "joins"),
    [("2025-04-30", False), ("2025-05-01", True), ("2025-05-03", True), ("2025-05-04", False), ("2025-05", True)],
)
def test_a_reading_of_a_service_joins_the_service_of_its_day(small: Engine, day: str, joins: bool) -> None:
    """From the day a service is opened to the day it is closed; where there is none the row is refused."""
    made = plan(small, {"readings": HEAD + _speed("300", "as found", day)})

    if joins:
        bring(small, {"readings": HEAD + _speed("300", "as found", day)})
        assert rows(small, "SELECT s.name FROM reading r JOIN service s ON s.id = r.service_id") == [("S",)]
    else:
        ((file, row, column, rule),) = refusals(made)
        assert (file, row, column) == ("readings.csv", 2, "stage")
        assert "no service on this day" in str(rule)


def test_an_open_service_is_joined_on_its_first_day_only(small: Engine) -> None:
    """Nobody said how long it lasted."""
    open_one = {"services": "service,tag,opened_on\nT,D2,2025-06-01\n"}

    assert plan(small, {**open_one, "readings": HEAD + _speed("300", "as left", "2025-06-01", tag="D2")}).writable
    later = plan(small, {**open_one, "readings": HEAD + _speed("300", "as left", "2025-06-02", tag="D2")})
    assert not later.writable


def test_a_reading_between_services_stands_outside_of_one(small: Engine) -> None:
    """Even on a day of a service; and to name one is a contradiction."""
    bring(small, {"readings": HEAD + _speed("300", "between", "2025-05-02")})

    assert rows(small, "SELECT service_id FROM reading") == [(None,)]
    named = plan(small, {"readings": HEAD + _speed("300", "between", "2025-05-02", service="S")})
    assert [each[:3] for each in refusals(named)] == [("readings.csv", 2, "service")]


@pytest.mark.parametrize(
    ("value", "rule"),
    [("3000", "ten times nominal; typed wrong?"), ("360", "360 class?"), ("30", "a tenth of nominal")],
)
def test_an_absurd_value_is_written_with_a_mark(small: Engine, value: str, rule: str) -> None:
    """Doubtful, never refused; the next time it is known and no doubt any more."""
    text = HEAD + _speed(value)
    made = bring(small, {"readings": text})

    (doubt,) = findings(made, "doubtful")
    assert (doubt.record, doubt.column, doubt.value) == ("reading D1 spindle speed 2025-05-01", "value", value)
    assert rule in str(doubt.rule)
    assert len(rows(small, "SELECT d.id FROM doubt d JOIN reading r ON r.id = d.row_id")) == 1
    assert plan(small, {"readings": text}).totals["doubtful"] == 0


def test_the_limit_that_counts_tells_the_nominal(small: Engine) -> None:
    """A unit's own limit, brought in with the reading, goes before its model's nominal speed."""
    limits = "tag,measurement,nominal,lower,upper\nD1,spindle speed,360,354,366\n"

    made = plan(small, {"limits": limits, "readings": HEAD + _speed("360") + _speed("360", tag="D2")})

    assert [each.row for each in findings(made, "doubtful")] == [3]


def test_a_point_is_spelt_as_the_measurement_spells_it(small: Engine) -> None:
    """A blank or a capital makes no other series; a point the measurement does not list is doubtful."""
    row = "D1,rail voltage,{},2025-05-01,meter,5.0,between,,,\n"
    made = bring(small, {"readings": HEAD + row.format("+5v") + row.format("+5 V") + row.format("+7 V")})

    assert rows(small, "SELECT point FROM series ORDER BY id") == [("+5 V",), ("+7 V",)]
    assert [(each.row, each.column) for each in findings(made, "doubtful")] == [(4, "point")]


def test_a_reading_may_come_set_aside_and_be_set_aside_later(small: Engine) -> None:
    """A reason counts it out; told later it is a change, and never told it stays aside."""
    bring(small, {"readings": HEAD + _speed("299") + _speed("301", set_aside="belt slipped")})
    assert rows(small, "SELECT reason FROM reading_aside") == [("belt slipped",)]

    made = bring(small, {"readings": HEAD + _speed("299", set_aside="cold") + _speed("301")})

    (changed,) = findings(made, "changed")
    assert (changed.row, changed.column, changed.value, changed.rule) == (2, "set_aside", "cold", "was empty")
    assert rows(small, "SELECT count(*) FROM reading") == [(2,)]
    assert plan(small, {"readings": HEAD + _speed("299") + _speed("301")}).changes_nothing


def test_of_two_equal_readings_the_one_set_aside_is_kept_apart(small: Engine) -> None:
    """Rows that differ in being set aside find each its own reading, whatever their order."""
    bring(small, {"readings": HEAD + _speed("299") + _speed("299", set_aside="cold")})

    assert plan(small, {"readings": HEAD + _speed("299", set_aside="cold") + _speed("299")}).changes_nothing
    assert plan(small, {"readings": HEAD + _speed("299") * 3}).totals["new"] == 1


def test_readings_keep_the_order_of_their_rows(small: Engine) -> None:
    """Inside a day the order of the file is the order of the book."""
    bring(small, {"readings": HEAD + "".join(_speed(value) for value in ("301", "299", "300"))})

    assert [row[0] for row in rows(small, VALUES)] == [301.0, 299.0, 300.0]


def test_bars_need_the_mains_and_a_nominal_speed(small: Engine) -> None:
    """360 r/min on 50 Hz has no whole ring of bars: refused with its row."""
    models = "model,maker,nominal_speed\nVK 3,Velkari,360\n"
    units = "tag,model\nD3,VK 3\n"

    made = plan(
        small, {"models": models, "units": units, "readings": HEAD + _speed("1", tag="D3", measured_in="bars/min")}
    )

    ((_file, row, column, rule),) = refusals(made)
    assert (row, column) == (2, "measured_in")
    assert "No ring of bars stands still at 360 r/min under 50 Hz" in str(rule)
