"""The last reading of every series: in order, without what does not count, held against the limit of its day."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.store.engine import reading
from collection.views.findings import Judged, findings, judge, measurements, show_range, show_result
from collection.views.limits import Limits
from collection.views.readings import Last, last_readings
from collection.views.units import unit_list
from tests.support.shelf import Shelf, shelf
from tests.support.times import NOW, TODAY

SURFACE = "drive-surface look"


def last(engine: Engine) -> list[Last]:
    """Return the last reading of every series."""
    with reading(engine) as connection:
        return last_readings(connection)


def judged(engine: Engine) -> list[Judged]:
    """Return what every last reading says."""
    with reading(engine) as connection:
        model_of = {unit.id: unit.model_id for unit in unit_list(connection, TODAY)}
        return judge(last_readings(connection), Limits(connection), measurements(connection), model_of)


def graded(made: Shelf, unit: int) -> int:
    """Return a graded series of a unit."""
    made.named("measurement", SURFACE, measured_in="graded")
    return made.series(unit, SURFACE)


def limit(made: Shelf, measurement: str = "spindle speed", **values: object) -> None:
    """Give a limit of its own."""
    what = made.named("measurement", measurement, measured_in="r/min")
    made.work.insert("limit_range", **({"measurement_id": what, "point": ""} | values))


def test_a_book_without_readings_has_no_last_one(engine: Engine) -> None:
    """A series that was never read gives no row."""
    with shelf(engine) as made:
        made.series(made.unit("D1"))

    assert [] == last(engine)


def test_each_series_has_one_last_reading_by_day(engine: Engine) -> None:
    """The order of entry does not matter, the day does; points are series of their own."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        made.reading(made.series(d1), "2026-02-01", 301.0)
        made.reading(made.series(d1), "2025-02-01", 302.0)
        made.reading(made.series(d1, point="360 r/min"), "2024-02-01", 361.0)

    assert {("", 301.0), ("360 r/min", 361.0)} == {(row.point, row.value) for row in last(engine)}


def test_a_day_known_to_its_month_counts_from_its_first(engine: Engine) -> None:
    """2026-02 comes before 2026-02-02 and after 2026-01-31."""
    with shelf(engine) as made:
        series = made.series(made.unit("D1"))
        made.reading(series, "2026-02", 301.0)
        made.reading(series, "2026-01-31", 302.0)
    assert [301.0] == [row.value for row in last(engine)]

    with shelf(engine) as made:
        made.reading(series, "2026-02-02", 303.0)
    assert [303.0] == [row.value for row in last(engine)]


def test_as_left_comes_after_as_found_of_its_service_whichever_was_entered_first(engine: Engine) -> None:
    """A file may list the reading as left before the one as found."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        series, service = made.series(d1), made.service(d1, "2026-02-01")
        made.reading(series, "2026-02-01", 300.0, "as left", service)
        made.reading(series, "2026-02-01", 304.9, "as found", service)

    assert [300.0] == [row.value for row in last(engine)]


def test_a_found_reading_of_a_second_service_comes_after_the_first_service(engine: Engine) -> None:
    """Two services on one day: the second one's as found is later than the first one's as left."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        series = made.series(d1)
        first, second = made.service(d1, "2026-02-01"), made.service(d1, "2026-02-01")
        made.reading(series, "2026-02-01", 300.0, "as left", first)
        made.reading(series, "2026-02-01", 304.9, "as found", second)

    assert [304.9] == [row.value for row in last(engine)]


@pytest.mark.parametrize("before", [True, False])
def test_a_reading_between_stands_where_it_was_entered(engine: Engine, before: bool) -> None:
    """On the day of a service, one entered before it is earlier, one entered after it later."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        series, service = made.series(d1), made.service(d1, "2026-02-01")
        if before:
            made.reading(series, "2026-02-01", 299.0)
        made.reading(series, "2026-02-01", 304.9, "as found", service)
        made.reading(series, "2026-02-01", 300.0, "as left", service)
        if not before:
            made.reading(series, "2026-02-01", 299.0)

    assert [300.0 if before else 299.0] == [row.value for row in last(engine)]


def test_a_reading_corrected_later_keeps_its_place_in_the_service(engine: Engine) -> None:
    """An as found entered anew after the as left does not become the last one."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        series, service = made.series(d1), made.service(d1, "2026-02-01")
        wrong = made.reading(series, "2026-02-01", 3049.0, "as found", service)
        made.reading(series, "2026-02-01", 300.0, "as left", service)
    with shelf(engine) as made:
        made.set_aside(wrong, "typed wrong")
        made.reading(series, "2026-02-01", 304.9, "as found", service)

    assert [300.0] == [row.value for row in last(engine)]


def test_a_reading_set_aside_does_not_count_until_that_is_undone(engine: Engine) -> None:
    """The one before it is the last; undoing the act lets it count again."""
    with shelf(engine) as made:
        series = made.series(made.unit("D1"))
        made.reading(series, "2026-01-01", 300.0)
        stray = made.reading(series, "2026-02-01", 310.0)
    with shelf(engine) as made:
        made.set_aside(stray)

    assert [300.0] == [row.value for row in last(engine)]
    undo(engine, None, today=TODAY, now=NOW)
    assert [310.0] == [row.value for row in last(engine)]


def test_a_reading_of_an_undone_act_does_not_count_and_its_series_stays_in_use(engine: Engine) -> None:
    """The act that first used a series is undone; a later reading of the series counts all the same."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
    with shelf(engine) as made:
        series = made.series(d1)
        made.reading(series, "2026-02-01", 310.0)
    undo(engine, None, today=TODAY, now=NOW)
    assert [] == last(engine)

    with shelf(engine) as made:
        made.reading(made.series(d1), "2026-01-01", 300.0)
    assert [(300.0, series)] == [(row.value, series) for row in last(engine)]


def test_the_readings_of_one_unit_can_be_asked_for(engine: Engine) -> None:
    """Other units are left out."""
    with shelf(engine) as made:
        d1, d2 = made.unit("D1"), made.unit("D2")
        made.reading(made.series(d1), "2026-02-01", 300.0)
        made.reading(made.series(d2), "2026-02-01", 301.0)

    with reading(engine) as connection:
        assert [301.0] == [row.value for row in last_readings(connection, d2)]


@pytest.mark.parametrize(
    ("value", "says", "shown"),
    [
        (295.4, "low", "295.4 r/min"),
        (295.5, "within", "295.5 r/min"),
        (304.5, "within", "304.5 r/min"),
        (304.50004, "high", "304.50004 r/min"),
        (304.9, "high", "304.9 r/min"),
    ],
)
def test_a_reading_is_held_against_its_limit(engine: Engine, value: float, says: str, shown: str) -> None:
    """Drives of 300 r/min stay within 295.5 to 304.5 (a 1984 drive specification, clause 4.2: 1.5 %)."""
    with shelf(engine) as made:
        made.reading(made.series(made.unit("D1")), "2026-02-01", value)

    (one,) = judged(engine)

    assert (says, shown) == (one.verdict, show_result(one))
    assert "295.5 to 304.5" == show_range(one.limit)
    assert (says != "within") == bool(findings([one]))


def test_the_nearest_limit_of_the_day_counts(engine: Engine) -> None:
    """The unit's own limit counts from its day on; before it the model's; other units have the class's."""
    with shelf(engine) as made:
        d1, d2, d3 = made.unit("D1"), made.unit("D2"), made.unit("D3", "VX-6")
        limit(made, unit_id=d1, lower=299.0, upper=301.0, from_date="2026-01")
        limit(made, model_id=made.model("VX-5"), lower=290.0, upper=310.0)
        for unit, day in ((d1, "2026-01-01"), (d2, "2026-01-01"), (d3, "2026-01-01")):
            made.reading(made.series(unit), day, 303.0)
        made.reading(made.series(d1, point="300"), "2025-12-31", 303.0)

    says = {(one.last.unit_id, one.last.point): (one.verdict, show_range(one.limit)) for one in judged(engine)}

    assert ("high", "299 to 301") == says[d1, ""]
    assert ("within", "290 to 310") == says[d1, "300"]
    assert ("within", "290 to 310") == says[d2, ""]
    assert ("within", "295.5 to 304.5") == says[d3, ""]


def test_dated_limits_of_a_class_follow_the_day_of_each_reading(engine: Engine) -> None:
    """Two units of one model, read before and after a class limit changed."""
    with shelf(engine) as made:
        limit(made, class_name="300 r/min", lower=299.5, upper=300.5, from_date="2026-01-01")
        d1, d2 = made.unit("D1"), made.unit("D2")
        made.reading(made.series(d1), "2025-12-31", 301.0)
        made.reading(made.series(d2), "2026-01-01", 301.0)

    assert {d1: "within", d2: "high"} == {one.last.unit_id: one.verdict for one in judged(engine)}


def test_a_limit_for_the_very_point_counts_before_one_for_every_point(engine: Engine) -> None:
    """The point is compared however it is spelt; other points have the general limit."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        limit(made, unit_id=d1, lower=0.0, upper=1.0, point="High")
        limit(made, unit_id=d1, lower=0.0, upper=400.0)
        made.reading(made.series(d1, point="high"), "2026-01-01", 300.0)
        made.reading(made.series(d1, point="low"), "2026-01-01", 300.0)

    assert {"high": "high", "low": "within"} == {one.last.point: one.verdict for one in judged(engine)}


@pytest.mark.parametrize(
    ("grades", "says", "shown"),
    [
        (["pass"], "within", "pass"),
        (["marginal"], "marginal", "marginal"),
        (["fail"], "fail", "fail"),
        (["marginal", "marginal"], "fail", "marginal twice in a row"),
        (["fail", "marginal"], "marginal", "marginal"),
        (["marginal", "pass", "marginal"], "marginal", "marginal"),
        (["marginal", "marginal", "pass"], "within", "pass"),
    ],
)
def test_two_marginal_results_in_a_row_count_as_out(engine: Engine, grades: list[str], says: str, shown: str) -> None:
    """One marginal result is a warning; a second one right after it is as good as a fail."""
    with shelf(engine) as made:
        series = graded(made, made.unit("D1"))
        for month, grade in enumerate(grades, start=1):
            made.reading(series, f"2025-{month:02}-01", grade)

    (one,) = judged(engine)

    assert (says, shown) == (one.verdict, show_result(one))
    assert (says == "fail") == bool(findings([one]))


def test_a_marginal_result_set_aside_does_not_make_the_next_one_the_second(engine: Engine) -> None:
    """Only results that count stand in a row."""
    with shelf(engine) as made:
        series = graded(made, made.unit("D1"))
        made.set_aside(made.reading(series, "2025-01-01", "marginal"))
        made.reading(series, "2025-02-01", "marginal")

    assert ["marginal"] == [one.verdict for one in judged(engine)]


def test_a_measurement_without_a_limit_is_no_finding(engine: Engine) -> None:
    """It is shown, and says that there is no limit."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        made.named("measurement", "door force", measured_in="r/min")
        made.reading(made.series(d1, "door force"), "2026-01-01", 7.123456)

    (one,) = judged(engine)

    assert ("no limit", "7.123 r/min", "") == (one.verdict, show_result(one), show_range(one.limit))
    assert {} == findings([one])


def test_readings_of_a_unit_that_is_no_more_are_left_out(engine: Engine) -> None:
    """They stay in the book, but nobody has to look after them."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
    with shelf(engine) as made:
        made.reading(made.series(d1), "2026-01-01", 310.0)
    with shelf(engine) as made:
        made.work.set_void("unit", [d1], void=True)

    assert ([], 1) == (judged(engine), len(last(engine)))
