"""Readings added and set aside, on both databases."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.instruments import EYE
from collection.acts.readings import GivenReading, add_reading, set_aside
from collection.acts.undo import undo
from collection.errors import Refused
from collection.store.engine import fetch, reading
from collection.views.reading_list import ReadingRow, readings_of
from collection.views.readings import last_readings
from collection.views.services import services_on
from collection.views.units import find_unit, unit_on
from tests.support.books import act, digest, scalar
from tests.support.times import NOW, TODAY

SPEED = "spindle speed"


def _add(engine: Engine, tag: str, measurement: str, value: str, **more: Any) -> ReadingRow:
    acts = {key: more.pop(key) for key in ("stage", "on", "new_instrument") if key in more}
    return add_reading(engine, tag, GivenReading(measurement, value, **more), **acts, today=TODAY, now=NOW)


def _speed(engine: Engine, value: str, **more: Any) -> ReadingRow:
    return _add(engine, "D1", SPEED, value, instrument="bench counter", **more)


def _rows(engine: Engine, tag: str) -> list[ReadingRow]:
    with reading(engine) as conn:
        return readings_of(conn, unit_on(conn, find_unit(conn, tag).id, TODAY))


def test_a_reading_keeps_its_conditions(bench: Engine) -> None:
    """Disk, supply unit, warm-up, load and note are kept beside value and instrument."""
    _speed(bench, "300.4", on="2026-02-01", disk="R-1", supply_unit="p1", warm_up_minutes="30", note="cold room")

    (row,) = _rows(bench, "D1")
    assert ("2026-02-01", 300.4, "bench counter", "between", "within") == (
        row.taken_on,
        row.value,
        row.instrument,
        row.stage,
        row.says,
    )
    assert ("R-1", "P1", 30.0, "cold room") == (row.disk, row.supply_unit, row.warm_up_minutes, row.note)


@pytest.mark.parametrize(
    ("value", "unit", "kept"),
    [("200", "ms", 300.0), ("0.2", "s", 300.0), ("-10", "bars/min", 299.5), ("300", "rpm", 300.0)],
)
def test_a_speed_in_another_unit_is_kept_in_turns_a_minute(bench: Engine, value: str, unit: str, kept: float) -> None:
    """N = 60000 / T; bars a minute over 120 x 50 Hz / 300 = 20 bars (arithmetic of strobe discs)."""
    assert kept == _speed(bench, value, measured_in=unit).value


def test_a_value_just_past_its_limit_does_not_look_as_if_it_lay_on_it(bench: Engine) -> None:
    """As many digits as tell it from the limit of its day, in the list as everywhere else."""
    assert ("304.5 r/min", "within") == (_speed(bench, "304.5").shown, _rows(bench, "D1")[-1].says)
    assert ("304.5004 r/min", "high") == (_speed(bench, "304.5004").shown, _rows(bench, "D1")[-1].says)


@pytest.mark.parametrize(("closed_on", "found"), [("2026-02", True), ("2026", True), ("2026-01", False)])
def test_a_service_that_ended_in_a_month_may_have_stood_on_each_of_its_days(
    bench: Engine, closed_on: str, found: bool
) -> None:
    """An imported service may have a partial day; a reading of it can still be added."""
    with act(bench) as work:
        unit = find_unit(work.conn, "D1").id
        work.insert("service", name="S old", unit_id=unit, opened_on="2026", closed_on=closed_on)
        work.commit("a service with partial days")

    with reading(bench) as conn:
        assert found == bool(services_on(conn, unit, date(2026, 2, 14)))


def test_a_point_is_spelled_as_the_book_spells_it(bench: Engine) -> None:
    """So "+5v" is the usual "+5 V", and "360" the speed setting; a rail that is not usual is marked, once."""
    points = [_add(bench, "P1", "rail voltage", "5", point=point).point for point in ("+5v", "+ 5 V")]
    setting = _speed(bench, "360.2", point="360")
    odd = [_add(bench, "P1", "rail voltage", "3.3", point="+3.3 V").doubts for _ in range(2)]

    assert ["+5 V", "+5 V"] == points
    assert ("360 r/min", (), "within") == (setting.point, setting.doubts, setting.says)
    assert [("not a usual point of rail voltage (+5 V, +12 V, -5 V, -12 V)",), ()] == odd


def test_the_first_speed_setting_is_no_point_of_its_own_where_none_was_named_so_far(bench: Engine) -> None:
    """A series read without a point goes on as one series."""
    _speed(bench, "300.1")

    assert "" == _speed(bench, "300.2", point="300").point


def test_a_lone_instrument_need_not_be_named(bench: Engine) -> None:
    """Rails are read with the only meter the book uses for them; a speed has two and wants one named."""
    assert "bench meter" == _add(bench, "P1", "rail voltage", "5.02", point="+5 V").instrument
    with pytest.raises(Refused, match="several are used for it: bench counter, hand strobe"):
        _add(bench, "D1", SPEED, "300")


def test_what_nothing_measures_is_graded_by_eye_and_not_read_without_an_instrument(bench: Engine) -> None:
    """A grade needs no instrument; a number of a measurement nobody uses one for does."""
    assert EYE == _add(bench, "D1", "belt condition", "Pass").instrument
    with pytest.raises(Refused, match="the book knows none for it"):
        _add(bench, "D1", "surface temperature", "41")


def test_a_new_instrument_is_added_only_when_that_is_said(bench: Engine) -> None:
    """A mistyped name is refused with the nearest; a new one is there for the next reading."""
    with pytest.raises(Refused, match='no instrument "bench countr"'):
        _add(bench, "D1", SPEED, "300", instrument="bench countr")

    _add(bench, "D1", "surface temperature", "41", instrument="contact probe", new_instrument=True)

    assert "contact probe" == _add(bench, "D1", "surface temperature", "42").instrument


def test_a_reading_set_aside_stays_and_counts_no_more(bench: Engine) -> None:
    """The last reading is then the one before; the reason is shown; undo lets it count again."""
    _speed(bench, "300.1", on="2026-02-01")
    _speed(bench, "309", on="2026-02-02")

    row = set_aside(bench, "D1", measurement=SPEED, on="2026-02-02", reason="belt slipped", today=TODAY, now=NOW)

    assert "belt slipped" == row.set_aside
    assert 300.1 == _last(bench)
    assert ["", "belt slipped"] == [each.set_aside for each in _rows(bench, "D1")]
    undo(bench, None, today=TODAY, now=NOW)
    assert 309.0 == _last(bench)


def test_a_reading_is_named_by_number_where_several_are_meant(bench: Engine) -> None:
    """Two readings of one day: the refusal gives their numbers, and a number names one."""
    _speed(bench, "300.1")
    _speed(bench, "309")
    with pytest.raises(Refused, match=r"D1 has 2 counting readings of spindle speed.* by its number \(1, 2\)"):
        set_aside(bench, "D1", measurement=SPEED, reason="slipped", today=TODAY, now=NOW)

    set_aside(bench, "D1", number=2, reason="slipped", today=TODAY, now=NOW)

    assert 300.1 == _last(bench)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"number": 2, "reason": "slipped"}, "D1 has no reading 2; it has 1."),
        ({"measurement": "ripple", "reason": "slipped"}, "D1 has no counting reading of ripple."),
        ({"reason": "slipped"}, "Which reading is set aside is not said."),
        ({"number": 1, "reason": " "}, "A reading is set aside for a reason."),
    ],
)
def test_a_reading_that_is_not_there_is_not_set_aside(bench: Engine, given: dict[str, Any], says: str) -> None:
    """The refusal says what is wrong and changes nothing."""
    _speed(bench, "300.1")
    before = digest(bench)

    with pytest.raises(Refused) as refused:
        set_aside(bench, "D1", **given, today=TODAY, now=NOW)

    assert says in str(refused.value)
    assert before == digest(bench)


def test_a_reading_is_set_aside_once(bench: Engine) -> None:
    """The second time the first reason is shown."""
    _speed(bench, "300.1")
    set_aside(bench, "D1", number=1, reason="slipped", today=TODAY, now=NOW)

    with pytest.raises(Refused, match="Reading 1 of D1 is set aside already: slipped"):
        set_aside(bench, "D1", number=1, reason="again", today=TODAY, now=NOW)


def test_a_series_outlives_the_act_that_first_used_it(bench: Engine) -> None:
    """After an undo the same series takes new readings, and they are the last ones."""
    _speed(bench, "309")
    undo(bench, None, today=TODAY, now=NOW)

    _speed(bench, "300.1")

    assert (1, 300.1) == (scalar(bench, "SELECT count(*) FROM series"), _last(bench))


def _last(engine: Engine) -> float | None:
    with reading(engine) as conn:
        (last,) = last_readings(conn, find_unit(conn, "D1").id)
        assert [(last.measurement_id,)] == fetch(conn, "SELECT id FROM measurement WHERE name = :name", name=SPEED)
    return last.value
