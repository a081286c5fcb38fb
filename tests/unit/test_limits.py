"""Which limit counts, and what a reading says against it.

Rails: desktop power supply design guide, document 336521, table 4-2. Ripple: ATX12V power supply design guide
version 1.1, clause 3.2.6, table 11. Speed: 1984 engineering specification of a belt-driven drive, clause 4.2.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.analysis.limits import OUT, Limit, classes_of, crossed, nearest_limit, verdict
from collection.analysis.measures import to_measured

FIVE = Limit(5.0, 4.75, 5.25)
TWELVE = Limit(12.0, 11.20, 12.60)  # as the table prints it; 12 x 0.93 would be 11.16
MINUS_TWELVE = Limit(-12.0, -13.20, -10.80)
SPEED = Limit(300.0, 295.5, 304.5)


@pytest.mark.parametrize(
    ("typed", "limit", "said"),
    [
        ("4.74", FIVE, "low"),
        ("4.75", FIVE, "within"),
        ("5.25", FIVE, "within"),
        ("5.26", FIVE, "high"),
        ("11.19", TWELVE, "low"),
        ("11.20", TWELVE, "within"),
        ("12.60", TWELVE, "within"),
        ("12.61", TWELVE, "high"),
        ("-10.79", MINUS_TWELVE, "low"),
        ("-10.80", MINUS_TWELVE, "within"),
        ("-13.20", MINUS_TWELVE, "within"),
        ("-13.21", MINUS_TWELVE, "high"),
    ],
)
def test_rails_against_document_336521_table_4_2(typed: str, limit: Limit, said: str) -> None:
    """A rail on a printed limit passes, a hundredth outside fails; -10.79 V is low in size."""
    assert said == verdict(to_measured(Decimal(typed), "V", "V", None, 50), limit)


@pytest.mark.parametrize(
    ("typed", "upper", "said"),
    [("50", 50.0, "within"), ("51", 50.0, "high"), ("120", 120.0, "within"), ("121", 120.0, "high")],
)
def test_ripple_against_the_atx12v_guide_table_11(typed: str, upper: float, said: str) -> None:
    """50 mVpp on +5 V and 120 mVpp on +12 V pass, one more fails; there is no lower limit."""
    assert said == verdict(float(typed), Limit(None, None, upper))


@pytest.mark.parametrize(
    ("period", "said"), [("198.5", "within"), ("203.0", "within"), ("197.0", "high"), ("203.1", "low")]
)
def test_speeds_against_the_long_term_tolerance_of_a_drive_specification(period: str, said: str) -> None:
    """At 300 r/min and 1.5 %, 198.5 and 203.0 ms are within; 197.0 ms is 1.523 % fast and out."""
    assert said == verdict(to_measured(Decimal(period), "ms", "r/min", 300.0, 50), SPEED)


def test_a_speed_inside_1_5_per_cent_may_be_outside_half_a_per_cent() -> None:
    """198.5 ms is 0.756 % fast: within the wide limit, out of the narrow one."""
    speed = to_measured(Decimal("198.5"), "ms", "r/min", 300.0, 50)

    assert ("within", "high") == (verdict(speed, SPEED), verdict(speed, Limit(300.0, 298.5, 301.5)))


@given(st.decimals(min_value=-1000, max_value=1000, places=3))
def test_a_typed_value_passes_the_limit_that_was_typed_alike(typed: Decimal) -> None:
    """Values and limits go the same way into the book, through another unit too: equal texts are equal."""
    bound = float(str(typed))
    limit = Limit(None, bound, bound)

    assert "within" == verdict(to_measured(typed, "V", "V", None, 50), limit)
    assert "within" == verdict(to_measured(typed * 1000, "mV", "V", None, 50), limit)


@pytest.mark.parametrize("limit", [None, Limit(5.0, None, None)])
def test_a_value_without_bounds_says_nothing(limit: Limit | None) -> None:
    """A nominal alone is no limit."""
    assert "no limit" == verdict(5.0, limit)


def test_bounds_typed_in_the_wrong_order_are_sorted() -> None:
    """-10.80 to -13.20, as tables print a negative rail, is the same range."""
    swapped = Limit(-12.0, -10.80, -13.20)

    assert ["low", "within", "high"] == [verdict(value, swapped) for value in (-10.7, -12.0, -13.3)]


def test_low_and_high_keep_their_sense_where_a_range_reaches_zero() -> None:
    """An error of -60 µm against -50 to +50 µm is low; only wholly negative ranges speak of size."""
    alignment = Limit(0.0, -50.0, 50.0)

    assert ["low", "within", "within", "high"] == [verdict(value, alignment) for value in (-60.0, -50.0, 50.0, 60.0)]
    assert "low" == verdict(-13.0, Limit(-12.0, -12.5, 0.0))


@pytest.mark.parametrize(
    ("value", "bound"), [(304.9, 304.5), (304.5, None), (300.0, None), (295.5, None), (295.4, 295.5)]
)
def test_the_bound_that_was_crossed_is_named(value: float, bound: float | None) -> None:
    """A finding can say "304.9 r/min, limit 304.5"."""
    assert bound == crossed(value, SPEED)


@pytest.mark.parametrize(
    ("grade", "previous", "said"),
    [
        ("pass", None, "within"),
        ("pass", "marginal", "within"),
        ("marginal", None, "marginal"),
        ("marginal", "pass", "marginal"),
        ("marginal", "fail", "marginal"),
        ("marginal", "marginal", "fail"),
        ("fail", None, "fail"),
        ("fail", "pass", "fail"),
    ],
)
def test_two_marginal_grades_in_a_row_count_as_out(grade: str, previous: str | None, said: str) -> None:
    """One marginal result is a warning, the second in a row a fail."""
    assert said == verdict(grade, None, previous)


def test_low_high_and_fail_are_out_and_the_rest_is_not() -> None:
    """A marginal reading, or one without limit, does not by itself call for work."""
    assert {"low", "high", "fail"} == OUT


def test_classes_of_a_belt_drive_come_nearest_first() -> None:
    """Nominal speed, drive type, kind, what a drive asks of its supply, and the logic family behind all."""
    assert ("300 r/min", "belt", "drive", "drive supply", "TTL") == classes_of("drive", "belt", (300.0,), "")


@pytest.mark.parametrize(("point", "first"), [("360 r/min", "360 r/min"), ("360", "360 r/min"), ("", "300 r/min")])
def test_of_several_nominal_speeds_the_point_picks_the_class(point: str, first: str) -> None:
    """A dual-speed drive is held to the limits of the speed it was set to."""
    assert first == classes_of("drive", "direct crystal", (300.0, 360.0), point)[0]


@pytest.mark.parametrize(
    ("kind", "classes"),
    [
        ("supply unit", ("supply unit", "drive supply", "TTL")),
        ("PC supply", ("PC supply", "TTL")),
        ("computer", ("computer", "TTL")),
    ],
)
def test_only_drives_and_their_supply_units_are_held_to_a_drives_rails(kind: str, classes: tuple[str, ...]) -> None:
    """A PC supply has tables of its own, and everything else only the logic family."""
    assert classes == classes_of(kind, "", (), "+5 V")


def limit(scope: str = "class", *, point: str = "", from_date: str = "", rank: int = 0) -> Limit:
    """Return a limit that its source tells apart."""
    assert scope in ("unit", "model", "class")
    source = f"{scope} {point} {from_date} {rank}"
    return Limit(5.0, 4.0, 6.0, source, from_date, scope, rank, point)  # type: ignore[arg-type]


def test_the_limit_of_the_unit_comes_before_its_models_and_its_classes() -> None:
    """The nearest scope counts, whatever order the limits come in and however old they are."""
    unit, model = limit("unit", from_date="2020"), limit("model", from_date="2024", point="+5 V")
    near, far = limit(rank=1), limit(rank=4, point="+5 V", from_date="2025")

    assert unit is nearest_limit([far, near, model, unit], "2026-01-01")
    assert model is nearest_limit([far, near, model], "2026-01-01")
    assert near is nearest_limit([far, near], "2026-01-01")


def test_a_limit_for_the_very_point_comes_before_one_for_every_point() -> None:
    """Inside one scope the point is nearer than the date."""
    every, point = limit("model", from_date="2025"), limit("model", point="+5 V", from_date="2020")

    assert point is nearest_limit([every, point], "2026-01-01")


@pytest.mark.parametrize(
    ("on", "source_date"),
    [
        ("2023-12-31", ""),
        ("2024-01-01", "2024"),
        ("2025-06-14", "2024"),
        ("2025-06-15", "2025-06-15"),
        ("2026", "2025-06-15"),
    ],
)
def test_the_latest_limit_not_after_the_day_counts(on: str, source_date: str) -> None:
    """A limit counts from its day on; a partial day is its first, an empty one has always counted."""
    candidates = [limit(from_date=text) for text in ("2025-06-15", "", "2024")]
    found = nearest_limit(candidates, on)

    assert found is not None
    assert source_date == found.from_date


def test_a_reading_known_to_the_year_counts_from_its_first_day() -> None:
    """In "2025" a limit from 1 January counts and one from the second does not."""
    assert limit(from_date="2025-01") == nearest_limit([limit(from_date="2025-01")], "2025")
    assert nearest_limit([limit(from_date="2025-01-02")], "2025") is None


def test_a_date_serves_as_well_as_its_text() -> None:
    """Today may be handed in as it is."""
    assert limit(from_date="2025") == nearest_limit([limit(from_date="2025")], date(2025, 1, 1))


def test_without_a_limit_there_is_none() -> None:
    """No candidate, or none yet, is no limit."""
    assert nearest_limit([], "2026-01-01") is None
    assert nearest_limit([limit(from_date="2027")], "2026-01-01") is None


@given(st.permutations([limit("unit"), limit("model"), limit(rank=0), limit(rank=1), limit("model", point="side 0")]))
def test_the_order_of_the_candidates_does_not_matter(candidates: list[Limit]) -> None:
    """The same limit is found however the rows come from the book."""
    assert "unit" == (found.scope if (found := nearest_limit(candidates, "2026")) else "")
