"""From the book to the fit: which readings are used, where services cut a series, what is compared with what."""

from __future__ import annotations

from typing import Any

import numpy as np
from sqlalchemy.engine import Engine

from collection.store.engine import reading
from collection.views.drift_fleet import ASIDE, COLD, NO_NUMBER, NOT_COMPARABLE, USED
from collection.views.drift_readings import Gathered, gather
from tests.support.shelf import Shelf, shelf
from tests.support.times import TODAY

SPEED = "spindle speed"


def read(made: Shelf, series: int, day: str, value: float, instrument: str = "counter", **more: Any) -> int:
    """Append a reading with an instrument."""
    named = made.named("instrument", instrument)
    more = {"stage": "between", "entered": str(value)} | more
    return made.work.append("reading", series_id=series, taken_on=day, value=value, instrument_id=named, **more)


def gathered(engine: Engine, name: str = SPEED) -> Gathered:
    """Return what is gathered of one measurement."""
    with reading(engine) as conn:
        return next(one for one in gather(conn, TODAY) if one.measured.name == name)


def values(one: Gathered) -> list[float]:
    """Return the fleet's readings in the measurement's own unit, nominal being 300."""
    back: list[float] = np.round(300 * np.exp(one.fleet.values / 100), 6).tolist()
    return back


def states(one: Gathered) -> list[tuple[float, int]]:
    """Return value and state of every reading, in order."""
    return list(zip(one.taken.value[one.cut.order].tolist(), one.use.state.tolist(), strict=True))


def test_a_service_that_sets_the_speed_lies_between_what_it_found_and_what_it_left(engine: Engine) -> None:
    """Also what was read that day before and after it, and whatever order the four were entered in."""
    with shelf(engine) as made:
        unit = made.unit("D1")
        series = made.series(unit)
        read(made, series, "2025-05-01", 301.0)
        service = made.service(made.unit("D9"), "2020-01-01")  # of another unit: it cuts nothing here
        made.task(service, "set spindle speed", "2025-04-01")
    with shelf(engine) as made:
        service = made.service(unit, "2025-05-01", "set spindle speed")
        read(made, series, "2025-05-01", 300.2, stage="as left", service_id=service)
        read(made, series, "2025-05-01", 300.7, service_id=service)
        read(made, series, "2025-05-01", 301.1, stage="as found", service_id=service)
        read(made, series, "2025-05-01", 300.3)

    one = gathered(engine)

    assert [301.0, 301.1, 300.2, 300.3] == values(one)
    assert [0, 0, 1, 1] == one.fleet.segment.tolist()
    assert [0, 0] == one.fleet.segment_run.tolist()
    assert (300.7, NOT_COMPARABLE) in states(one)


def test_a_new_belt_begins_a_new_slope_and_a_check_begins_nothing(engine: Engine) -> None:
    """By its procedure, or as a fitted part of which no procedure tells."""
    with shelf(engine) as made:
        unit = made.unit("D1")
        series = made.series(unit)
        for day, value in (("2022-01-01", 300.0), ("2023-01-01", 301.0), ("2024-01-01", 302.0), ("2025-01-01", 303.0)):
            read(made, series, day, value)
        made.service(unit, "2022-06-01", "check spindle speed")
        made.service(unit, "2023-06-01", "replace belt")
        made.work.insert("fitted_part", unit_id=unit, part="Belt", fitted_on="2023-06-01")  # the same belt
        made.work.insert("fitted_part", unit_id=unit, part="belt", fitted_on="2024-06")

    one = gathered(engine)

    assert [0, 0, 1, 2] == one.fleet.segment.tolist()
    assert [0, 1, 2] == one.fleet.segment_run.tolist()
    assert [0, 0, 0] == one.fleet.run_series.tolist()
    assert not one.sets.level_lost[0]


def test_what_was_reset_since_its_last_reading_has_no_level_any_more(engine: Engine) -> None:
    """After a setting the slope is known still; after a new belt it is not."""
    with shelf(engine) as made:
        for tag, work in (("D1", "set spindle speed"), ("D2", "replace belt"), ("D3", "check spindle speed")):
            unit = made.unit(tag)
            read(made, made.series(unit), "2025-01-01", 300.0)
            made.service(unit, "2025-06-01", work)

    sets = gathered(engine).sets

    assert [True, True, False] == sets.level_lost.tolist()
    assert [False, True, False] == sets.slope_lost.tolist()


def test_only_readings_that_count_and_can_be_compared_are_used(engine: Engine) -> None:
    """Set aside, of the wrong sign, infinite or of a cold unit: shown with the reason, and no part of the fleet."""
    with shelf(engine) as made:
        series = made.series(made.unit("D1"))
        read(made, series, "2025-01-01", 300.0)
        read(made, series, "2025-01-02", 300.5, warm_up_minutes=10.0)
        read(made, series, "2025-01-03", 290.0, warm_up_minutes=9.9)
        read(made, series, "2025-01-04", -300.0)
        read(made, series, "2025-01-05", float("inf"))
        made.set_aside(read(made, series, "2025-01-06", 350.0))

    one = gathered(engine)

    expected = [USED, USED, COLD, NO_NUMBER, NO_NUMBER, ASIDE]
    assert expected == [state for _, state in states(one)]
    assert [300.0, 300.5] == values(one)


def test_repeats_of_one_day_and_instrument_count_once(engine: Engine) -> None:
    """The mean of two, the median of three or more; another instrument or day, or one that slipped, stands apart."""
    with shelf(engine) as made:
        series = made.series(made.unit("D1"))
        for value in (300.0, 302.0, 301.0):
            read(made, series, "2025-01-01", value)
        read(made, series, "2025-01-01", 302.0, "strobe")
        for value in (303.0, 303.0):
            read(made, series, "2025-01-02", value)
        for value in (300.0, 309.0):
            read(made, series, "2025-01-03", value)

    one = gathered(engine)

    assert [301.0, 302.0, 303.0, 300.0, 309.0] == values(one)
    assert [0, 0, 0, 1, 2, 2, 3, 4] == one.use.in_fleet.tolist()


def test_a_partial_day_counts_from_its_middle(engine: Engine) -> None:
    """A month from its 16th, a year from July; so readings stand in the order of time."""
    with shelf(engine) as made:
        series = made.series(made.unit("D1"))
        for day, value in (("2024", 4.0), ("2024-03", 2.0), ("2024-03-10", 1.0), ("2024-03-20", 3.0)):
            read(made, series, day, 300.0 + value)

    one = gathered(engine)

    assert [301.0, 302.0, 303.0, 304.0] == values(one)
    assert [6, 4] == np.round(np.diff(one.fleet.years)[:2] * 365.25).tolist()


def test_an_instrument_is_another_one_after_its_own_repair(engine: Engine) -> None:
    """From the first day of the period that its use names, with its own word on being a reference."""
    with shelf(engine) as made:
        series = made.series(made.unit("D1"))
        counter = made.named("instrument", "counter")
        speed = made.named("measurement", SPEED)
        for since, reference in ((None, 1), ("2025-02-01", 0)):
            made.work.insert(
                "instrument_use",
                instrument_id=counter,
                measurement_id=speed,
                reference=reference,
                from_date=since,
                uncertainty=0.3,
            )
        for day in ("2025-01-31", "2025-02-01"):
            read(made, series, day, 300.0)
        read(made, series, "2025-03-01", 300.0, "strobe")

    one = gathered(engine)

    assert [("counter", ""), ("counter", "2025-02-01"), ("strobe", "")] == [each[:2] for each in one.instruments]
    assert [True, False, False] == one.fleet.reference.tolist()
    assert [0.1, 0.1, 0.0] == np.round(one.fleet.uncertainty, 9).tolist()  # per cent of 300 r/min
    assert [0, 1, 2] == one.fleet.instrument.tolist()


def test_the_readings_of_a_mechanism_go_where_it_goes(engine: Engine) -> None:
    """A swap resets nothing: the speed read in the donor goes on in the drive, that of the drive's own stands apart."""
    with shelf(engine) as made:
        drive, donor = made.unit("D1"), made.unit("X1", standing="donor")
        for unit, value in ((drive, 299.0), (donor, 301.0)):
            read(made, made.series(unit), "2025-01-01", value)
        made.work.insert("fitted_part", unit_id=drive, part="mechanism", fitted_on="2025-02-01", donor_id=donor)
        read(made, made.series(drive), "2025-03-01", 302.0)

    one = gathered(engine)

    assert [[299.0], [301.0, 302.0]] == [
        [value for value, place in zip(values(one), one.fleet.segment, strict=True) if place == number]
        for number in (0, 1)
    ]
    home = [one.units[place].tag if place >= 0 else "" for place in one.sets.unit.tolist()]
    assert ["", "D1"] == home


def test_each_class_has_its_own_usual_slope_and_each_rail_is_a_class(engine: Engine) -> None:
    """A crystal hardly drifts, a belt may; a rail's nominal is in its name where no limit tells one."""
    with shelf(engine) as made:
        for tag, drive_type in (("D1", "belt"), ("D2", "direct crystal"), ("D3", None)):
            made.model(f"M-{tag}", drive_type=drive_type)
            read(made, made.series(made.unit(tag, f"M-{tag}")), "2025-01-01", 300.0)
        made.model("PX-1", kind="test gear", drive_type=None, nominal_speeds=None)
        supply = made.unit("P1", "PX-1")
        for point, value in (("+5 V", 5.0), ("-12 V", -12.0)):
            read(made, made.series(supply, "rail voltage", point), "2025-01-01", value)

    speed, rails = gathered(engine), gathered(engine, "rail voltage")

    assert ("belt", "direct crystal", "drive") == speed.held.classes
    assert [0.25, 0.015, 0.08] == np.round(speed.fleet.usual_slope / speed.fleet.half_width, 9).tolist()
    assert ("test gear, +5 V", "test gear, -12 V") == rails.held.classes
    assert [5.0, -12.0] == rails.held.nominal.tolist()
    assert [0.0, 0.0] == rails.fleet.values.tolist()
