"""Values and limits as a person reads them."""

from __future__ import annotations

import pytest

from collection.analysis.limits import Limit
from collection.views.findings import Judged, Measurement, findings, show_range, show_value
from collection.views.readings import Last


@pytest.mark.parametrize(
    ("value", "beside", "shown"),
    [
        (300.0, (), "300"),
        (302.2670025, (), "302.267"),
        (-12.0, (), "-12"),
        (0.0004, (), "0"),
        (304.5, (295.5, 304.5), "304.5"),
        (304.5004, (295.5, 304.5), "304.5004"),
        (304.50004, (295.5, 304.5), "304.50004"),
        (304.4996, (295.5, 304.5), "304.4996"),
        (304.4, (295.5, None), "304.4"),
    ],
)
def test_a_value_has_three_decimals_or_as_many_as_tell_it_from_its_limits(
    value: float, beside: tuple[float | None, ...], shown: str
) -> None:
    """What lies outside a limit never looks as if it lay on it."""
    assert shown == show_value(value, beside)


@pytest.mark.parametrize(
    ("lower", "upper", "shown"),
    [
        (295.5, 304.5, "295.5 to 304.5"),
        (None, 100.0, "at most 100"),
        (None, 0.0, "at most 0"),
        (4.75, None, "at least 4.75"),
        (None, None, ""),
    ],
)
def test_a_limit_shows_the_bounds_it_has(lower: float | None, upper: float | None, shown: str) -> None:
    """One bound, two, or none."""
    assert shown == show_range(Limit(None, lower, upper))


def test_no_limit_shows_nothing() -> None:
    """A series that has no limit has an empty cell."""
    assert "" == show_range(None)


def test_readings_out_of_their_limits_stand_by_measurement_and_point() -> None:
    """Not in the order in which a database happens to find them; what is within is left out."""
    places = [("ripple", "+5 V"), ("rail voltage", "+5 V"), ("rail voltage", "+12 V"), ("rail voltage", "-5 V")]
    judged = [
        Judged(
            Last(1, 1, point, "2026-02-01", 9.0, None, None, "between", "bench meter"),
            Measurement(name, "V"),
            Limit(None, None, 8.0),
            "within" if point == "-5 V" else "high",
        )
        for name, point in places
    ]

    assert [("rail voltage", "+12 V"), ("rail voltage", "+5 V"), ("ripple", "+5 V")] == [
        (finding.measurement, finding.point) for finding in findings(judged)[1]
    ]
