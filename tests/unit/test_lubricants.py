"""Lubricants as they are typed, and what stands against putting one over another."""

from __future__ import annotations

import pytest

from collection.analysis.lubricants import Point, Put, mixing, parse_points, parse_put
from collection.errors import Refused

LITHIUM = Put(1, "white grease", "lithium")


def test_a_lubricant_is_typed_with_its_point_and_whether_the_old_was_cleaned_off() -> None:
    """A comma in the name of a supply is its own."""
    assert ("lead screw", "rail grease, lithium NLGI 2", True) == parse_put(
        " lead  screw = rail grease, lithium NLGI 2,  Cleaned off first"
    )
    assert ("rails", "rail grease, lithium NLGI 2", False) == parse_put("rails=rail grease, lithium NLGI 2")
    for text in ("rails", "=grease", "rails=", "rails=, cleaned off first"):
        with pytest.raises(Refused, match="is no lubricant on a point"):
            parse_put(text)


def test_a_procedure_names_its_points_and_whether_it_cleans_them() -> None:
    """Several by semicolon."""
    assert [Point("rails", True), Point("lead screw", False)] == parse_points("rails, cleaned off first; lead screw;")


@pytest.mark.parametrize(
    ("new", "says"),
    [
        (LITHIUM, ""),
        (Put(2, "blue grease", "polyurea"), "of another thickener; mixed, greases may turn soft and run"),
        (Put(2, "soft grease", "Lithium"), "another lubricant; whether the two agree is not known"),
        (Put(2, "clock oil", ""), "another lubricant; whether the two agree is not known"),
    ],
)
def test_another_kind_over_the_old_is_warned_of(new: Put, says: str) -> None:
    """Lithium and polyurea do not agree (FIST 2-4, 11/1990, table 2); an unlike thickener is the stronger case."""
    against = mixing("rails", LITHIUM, "2026-01-03", new)

    assert against.endswith(says)
    assert (new == LITHIUM) == (against == "")
    assert "" == mixing("rails", None, "", new)
