"""Drift of a fleet in a book: rows, one unit in full, instruments; and a sentence for every bad input."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date
from math import isfinite
from typing import Any

import pytest
from sqlalchemy.engine import Connection, Engine

from collection.errors import Refused
from collection.store.engine import reading
from collection.views.drift import fleet_drift, unit_drift
from collection.views.drift_offsets import instrument_drift
from collection.views.drift_rows import DriftRow
from collection.views.units import find_unit
from tests.support.shelf import Shelf, shelf
from tests.support.times import TODAY

SPEED = "spindle speed"
LIMITS = {"class_name": "300 r/min", "nominal": 300.0, "lower": 295.5, "upper": 304.5}


def read(made: Shelf, series: int, day: str, value: float, instrument: str = "counter", **more: Any) -> int:
    """Append a reading with an instrument."""
    named = made.named("instrument", instrument)
    more = {"stage": "between", "entered": str(value)} | more
    return made.work.append("reading", series_id=series, taken_on=day, value=value, instrument_id=named, **more)


def fleet(engine: Engine, left: float = 300.0) -> None:
    """Eight belt drives read twice a year on a counter, the reference, and a strobe that reads 1 % low.

    D1 gains 1.5 r/min a year, the others hold; D2 was set on the strobe in August 2025, which then read `left`.
    """
    with shelf(engine) as made:
        speed = made.named("measurement", SPEED)
        made.work.insert(
            "instrument_use", instrument_id=made.named("instrument", "counter"), measurement_id=speed, reference=1
        )
        for number in range(1, 9):
            unit = made.unit(f"D{number}")
            series = made.series(unit)
            for half in range(8):
                day = f"{2022 + half // 2}-{'02' if half % 2 == 0 else '08'}-01"
                wobble = 0.1 * ((number * 7 + half * 3) % 5 - 2)
                true = 299.5 + (0.75 * half if number == 1 else 0.0) + wobble
                read(made, series, day, true)
                read(made, series, day, 0.99 * true + 0.05, "strobe")
            if number == 2:
                service = made.service(unit, "2025-09-01", "set spindle speed")
                read(made, series, "2025-09-01", left, "strobe", stage="as left", service_id=service)


def everything(conn: Connection) -> str:
    """Return all that is told of drift as JSON, which has no place for NaN or infinity."""
    rows = fleet_drift(conn, TODAY)
    units = dict.fromkeys(row.unit_id for row in rows)
    told = [asdict(each) for unit in units for each in unit_drift(conn, unit, TODAY)]
    return json.dumps([*map(asdict, rows), *told, *map(asdict, instrument_drift(conn, TODAY))], allow_nan=False)


def row_of(rows: list[DriftRow], tag: str) -> DriftRow:
    """Return the one row of a unit."""
    (found,) = [row for row in rows if row.tag == tag]
    return found


def test_the_drifting_unit_stands_first_and_the_steady_ones_are_left_alone(engine: Engine) -> None:
    """With its slope, its level against the reference, the chance of leaving and a day that is asked for."""
    fleet(engine)
    with reading(engine) as conn:
        rows = fleet_drift(conn, TODAY, by=date(2027, 3, 1))

    worst = rows[0]
    assert ("D1", 16, 1, ("counter", "strobe")) == (worst.tag, worst.readings, worst.segments, worst.instruments)
    assert worst.slope_low is not None
    assert worst.slope_high is not None
    assert worst.slope_low < 1.5 < worst.slope_high
    assert worst.level == pytest.approx(299.5 + 1.5 * 4.08, abs=0.4)
    assert worst.corrected
    assert worst.by_date == "2027-03-01"
    assert worst.by_low is not None
    assert worst.by_low < 299.5 + 1.5 * 5.08 < (worst.by_high or 0)
    assert (worst.chance_12_months or 0) > 0.9
    assert all((row.chance_12_months or 0) < 0.1 for row in rows[1:])
    assert ["2022-02-01", "2025-08-01"] == [worst.first_read, worst.last_read]


def test_an_instrument_that_reads_low_is_found_with_the_unit_that_was_set_on_it(engine: Engine) -> None:
    """Its offset against the reference in per cent; and that unit runs as much too fast."""
    fleet(engine)
    with reading(engine) as conn:
        told = {row.instrument: row for row in instrument_drift(conn, TODAY)}
        set_too_fast = row_of(fleet_drift(conn, TODAY), "D2")

    strobe = told["strobe"]
    assert strobe.offset == pytest.approx(-0.98, abs=0.05)
    assert strobe.linked
    assert ("counter", True) == (strobe.against, told["counter"].reference)
    assert strobe.direct_pairs == 8
    (spoilt,) = strobe.set_off
    assert ("D2", "2025-09-01") == (spoilt.tag, spoilt.set_on)
    assert spoilt.off == pytest.approx(2.97, abs=0.15)
    assert set_too_fast.level == pytest.approx(302.97, abs=0.4)


def test_a_unit_set_by_an_instrument_whose_offset_was_allowed_for_is_not_named(engine: Engine) -> None:
    """As left it reads as much below nominal as the instrument reads low, so nothing is wrong with it."""
    fleet(engine, left=297.1)
    with reading(engine) as conn:
        assert all(row.set_off == () for row in instrument_drift(conn, TODAY))


def test_a_unit_in_full_shows_each_reading_what_cut_it_and_a_path_that_crosses_no_reset(engine: Engine) -> None:
    """Corrected values lie by one another, whichever instrument read them."""
    fleet(engine)
    with reading(engine) as conn:
        (told,) = unit_drift(conn, find_unit(conn, "D2").id, TODAY)

    assert [0] * 16 + [1] == [each.segment for each in told.readings]
    assert all(each.state == "" and each.corrected is not None for each in told.readings)
    assert all(298.8 < (each.corrected or 0) < 300.2 for each in told.readings[:16])
    assert ["", "set spindle speed"] == [each.reset_by for each in told.segments]
    assert ["2025-09-01", ""] == [each.until for each in told.segments]
    assert [0] * 8 + [1] == [point.segment for point in told.path if not point.ahead]
    assert {("2025-09-01", True)} == {("2025-09-01", point.day > "2025-09-01") for point in told.path if point.ahead}
    assert {0, 16} == {place for place, each in enumerate(told.readings) if each.z is None}
    assert all(point.low < point.middle < point.high for point in told.path)


def test_a_day_before_the_last_reading_is_asked_in_vain_and_a_far_one_is_answered(engine: Engine) -> None:
    """Null values and a sentence; on the day of the last reading itself the range is given."""
    fleet(engine)
    with reading(engine) as conn:
        before, on_it, far = (
            row_of(fleet_drift(conn, TODAY, by=day), "D3")
            for day in (date(2025, 7, 31), date(2025, 8, 1), date(9999, 1, 1))
        )

    assert (None, None, None, None) == (before.by_value, before.by_low, before.by_high, before.chance_outside)
    assert "before its last reading" in before.sentence
    assert before.level is not None
    assert on_it.by_value is not None
    assert far.chance_outside is not None


def test_a_reset_since_the_last_reading_leaves_no_level_and_says_so(engine: Engine) -> None:
    """The slope stays after a setting; a new belt leaves what its class does."""
    fleet(engine)
    with shelf(engine) as made:
        for tag, work in (("D3", "set spindle speed"), ("D4", "replace belt")):
            made.service(find_unit(made.work.conn, tag).id, "2026-01-01", work)
    with reading(engine) as conn:
        rows = fleet_drift(conn, TODAY)
    was_set, new_belt = row_of(rows, "D3"), row_of(rows, "D4")
    for row in (was_set, new_belt):
        assert (None, None, None) == (row.level, row.by_low, row.chance_12_months)
        assert "not known" in row.sentence
        assert row.missing
    assert was_set.slope_low is not None
    assert new_belt.slope_low is not None
    assert (new_belt.slope_high or 0) - new_belt.slope_low > 2 * ((was_set.slope_high or 0) - was_set.slope_low)


def test_a_unit_that_is_gone_stands_last_and_is_asked_for_no_recheck(engine: Engine) -> None:
    """However fast it drifted: it is fitted with the others, since what it did tells of its class."""
    fleet(engine)
    with shelf(engine) as made:
        made.standing(find_unit(made.work.conn, "D1").id, "gone", "2026-01-01")
    with reading(engine) as conn:
        *others, last = fleet_drift(conn, TODAY)

    assert ("D1", "gone", None, "") == (last.tag, last.standing, last.recheck_by, last.recheck_rule)
    assert (last.chance_12_months or 0) > 0.9
    assert all(row.recheck_by and row.recheck_rule for row in others)


def test_every_bad_input_gets_a_sentence_and_no_number_that_is_none(engine: Engine) -> None:
    """One reading, one day, equal values, set aside, no limits, wrong sign, infinity, a lone instrument or class."""
    with shelf(engine) as made:
        made.model("LONE", drive_type="AC motor")
        made.model("MUTE", kind="test gear", drive_type=None, nominal_speeds=None)
        one, day, equal, aside, wrong, far = (made.series(made.unit(f"B{n}", "LONE")) for n in range(6))
        read(made, one, "2025-01-01", 300.0)
        for value in (299.0, 300.0, 301.0):
            read(made, day, "2025-01-01", value, f"instrument {value}")
        for year in (2022, 2023, 2024):
            read(made, equal, f"{year}-01-01", 300.0)
            made.set_aside(read(made, aside, f"{year}-01-01", 300.0))
            read(made, wrong, f"{year}-01-01", -300.0)
            read(made, far, f"{year}", 300.0 + year)
        read(made, far, "2025-01-01", float("inf"))
        mute = made.unit("B6", "MUTE")
        for measurement in ("read errors", SPEED):
            for year in (2023, 2024):
                read(made, made.series(mute, measurement), f"{year}-01-01", 0.0, "never linked")
    with reading(engine) as conn:
        rows = fleet_drift(conn, TODAY)
        told = everything(conn)

    assert 8 == len(rows)
    assert all(row.sentence for row in rows)
    assert "NaN" not in told
    assert row_of(rows, "B3").level is None
    assert "set aside" in row_of(rows, "B3").sentence
    assert row_of(rows, "B4").readings == 0
    assert row_of(rows, "B2").level == pytest.approx(300.0, abs=0.2)
    assert isfinite(row_of(rows, "B0").slope_high or float("nan"))


def test_an_empty_book_has_no_drift_and_an_unknown_measurement_is_refused(engine: Engine) -> None:
    """As is a graded one, and a risk that nobody can accept."""
    with reading(engine) as conn:
        assert [] == fleet_drift(conn, TODAY)
        assert [] == instrument_drift(conn, TODAY)
        for asked in ({"measurement": "spindle sped"}, {"measurement": "azimuth"}, {"risk": 0.0}, {"risk": 0.51}):
            with pytest.raises(Refused):
                fleet_drift(conn, TODAY, **asked)


def test_ranks_stand_beside_the_fit_where_one_instrument_read_one_segment_eight_times(engine: Engine) -> None:
    """Not with seven readings, not with two instruments, not across a reset; and equal readings are no crash."""
    with shelf(engine) as made:
        units = {name: made.unit(name) for name in ("eight", "seven", "two", "set", "equal")}
        for name, unit in units.items():
            series = made.series(unit)
            for place in range(7 if name == "seven" else 8):
                value = 300.0 if name == "equal" else 300.0 + place + 0.1 * (place % 2)
                read(made, series, f"{2010 + place}-01-01", value, "strobe" if name == "two" and place else "counter")
            if name == "set":
                made.service(unit, "2013-06-01", "set spindle speed")

    with reading(engine) as conn:
        said = {name: unit_drift(conn, unit, TODAY)[0].ranks for name, unit in units.items()}
    assert said["eight"].startswith("1.0")
    assert said["eight"].endswith("Z = 3.3")
    assert said["equal"] == "0.0 r/min a year (0.0 to 0.0), Z = 0.0"
    assert ["", "", ""] == [said[name] for name in ("seven", "two", "set")]


def test_a_jump_in_a_quiet_fleet_without_limits_is_no_drift(engine: Engine) -> None:
    """One unit of eight jumps by 2 r/min and stays there: its readings are not stray, and it does not drift."""
    with shelf(engine) as made:
        made.model("plain", nominal_speeds=None)
        for number in range(8):
            series = made.series(made.unit(f"D{number}", model="plain"))
            for place in range(12):
                wobble = 0.04 * ((number * 7 + place * 5) % 5 - 2)
                value = 300.0 + wobble + (2.0 if number == 3 and place > 6 else 0.0)
                read(made, series, f"{2022 + place // 3}-{place % 3 * 4 + 1:02}-01", round(value, 2))

    with reading(engine) as conn:
        row = row_of(fleet_drift(conn, TODAY), "D3")
    assert (row.lower, row.upper, row.stray) == (None, None, 0)
    assert row.level == pytest.approx(302.0, abs=0.2)
    assert row.slope_low is not None
    assert row.slope_high is not None
    assert row.slope_low < 0 < row.slope_high
