"""When a unit may be called ready: the rule by itself."""

from __future__ import annotations

import pytest

from collection.analysis.limits import Limit, Verdict, verdict
from collection.analysis.readiness import Left, Retest, obstacles, series_name


def _left(measurement: str, point: str = "", says: Verdict = "within", shown: str = "300 r/min") -> Left:
    return Left(measurement, point, shown, "304.5", says)


@pytest.mark.parametrize(
    ("value", "ready"), [(295.4999, False), (295.5, True), (304.4999, True), (304.5, True), (304.5001, False)]
)
def test_a_result_on_its_bound_is_no_obstacle_and_one_beyond_is(value: float, ready: bool) -> None:
    """Below, at and above both bounds of 300 r/min: only a value outside of them stands in the way."""
    says = verdict(value, Limit(300, 295.5, 304.5))

    against = obstacles([Retest("spindle speed")], [_left("spindle speed", says=says)], ())

    assert ready is not bool(against)


@pytest.mark.parametrize(
    ("grade", "previous", "ready"),
    [
        ("pass", None, True),
        ("marginal", None, True),
        ("marginal", "pass", True),
        ("marginal", "marginal", False),
        ("fail", None, False),
    ],
)
def test_a_marginal_grade_counts_as_within_unless_it_is_the_second_in_a_row(
    grade: str, previous: str | None, ready: bool
) -> None:
    """One marginal result is let pass, two in a row count as out, as in the due list."""
    says = verdict(grade, None, previous)

    against = obstacles([Retest("head condition")], [_left("head condition", says=says, shown=grade)], ())

    assert ready is not bool(against)


def test_every_point_that_is_wanted_must_have_been_measured() -> None:
    """One rail of two leaves the other missing, named as a person types it; blanks and case do not matter."""
    wanted = [Retest("rail voltage", ("+5 V", "+12 V"))]

    against = obstacles(wanted, [_left("Rail  Voltage", "+5 v")], ())

    assert ("rail voltage[+12 V]",) == against.missing


def test_a_measurement_without_wanted_points_is_met_by_any_point() -> None:
    """Where no point is asked for, a reading at any point will do, and none at all is missing."""
    assert not obstacles([Retest("azimuth")], [_left("azimuth", "head 0")], ())
    assert ("azimuth",) == obstacles([Retest("azimuth")], [], ()).missing


def test_a_result_that_no_procedure_asked_for_stands_in_the_way_as_well() -> None:
    """A rail measured out of its limits is no less out because no procedure wanted it."""
    against = obstacles([], [_left("rail voltage", "+5 V", "high", "5.3 V")], ())

    assert ["rail voltage[+5 V] as left is 5.3 V, limit 304.5"] == against.sentences


def test_an_open_fault_stands_in_the_way() -> None:
    """With nothing to measure again, an open fault alone is an obstacle; without one there is none."""
    assert ['fault "squeals" is open'] == obstacles([], [], ["squeals"]).sentences
    assert not obstacles([], [], [])


def test_a_result_without_a_limit_counts_as_measured() -> None:
    """Where no limit is known nothing can be outside of it."""
    assert not obstacles([Retest("read errors")], [_left("read errors", says="no limit")], ())


def test_a_series_is_named_as_it_is_typed() -> None:
    """The point stands in brackets, and a series without one has none."""
    assert ("rail voltage[+5 V]", "spindle speed") == (
        series_name("rail voltage", "+5 V"),
        series_name("spindle speed", ""),
    )
