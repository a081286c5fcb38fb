"""What a donor has left: the parts of its kind without what was taken."""

from __future__ import annotations

import pytest

from collection.analysis.donor_parts import (
    IN_PLACE,
    LOOSE,
    Move,
    gone_after,
    gone_by,
    left_of,
    own_part,
    parts_of_kind,
)

DRIVE = parts_of_kind("Drive", "belt", supply_inside=False)


def test_a_belt_and_a_supply_are_looked_for_only_where_the_model_has_them() -> None:
    """Of a kind that nobody described nothing is known to be left."""
    assert "belt" in DRIVE
    assert not {"belt", "supply"} & set(parts_of_kind("drive", "direct crystal", supply_inside=False))
    assert "supply" in parts_of_kind("drive", "belt", supply_inside=True)
    assert () == parts_of_kind("medium", "belt", supply_inside=False)


def test_what_was_taken_is_not_left_and_says_where_it_went() -> None:
    """From the day it went, not the day before; a motor is the spindle motor."""
    moves = [Move("2026-01-03", "taken", 1, "Motor", "D1")]

    assert [True, False, False] == [
        "spindle motor" in left_of(moves, DRIVE, day) for day in ("2026-01-02", "2026-01-03", "2026-01-04")
    ]
    assert "went to D1 on 2026-01-03" == str(gone_by(moves, "spindle motor", "2026-02-01"))
    assert gone_by(moves, "stepper motor", "2026-02-01") is None


def test_what_sits_on_a_mechanism_goes_with_it() -> None:
    """The board stays; another mechanism brings heads and motors again."""
    moves = [Move("2026-01-03", "taken", 1, "mechanism", "D1")]

    assert ["board", "front"] == left_of(moves, DRIVE, "2026-02-01")
    assert "went to D1 with the mechanism on 2026-01-03" == str(gone_by(moves, "head", "2026-02-01"))
    moves.append(Move("2026-02-01", "fitted", 2, "mechanism"))
    assert list(DRIVE) == left_of(moves, DRIVE, "2026-02-01")


def test_a_part_that_goes_later_cannot_be_taken_before_unless_another_came_between() -> None:
    """What is entered late is held against what happened after it."""
    moves = [Move("2026-02-01", "taken", 1, "board", "D1")]
    assert "went to D1 on 2026-02-01" == str(gone_after(moves, "board", "2026-01-01"))
    moves.append(Move("2026-01-15", "fitted", 2, "board"))

    assert gone_after(moves, "board", "2026-01-01") is None


def test_a_removal_ends_only_the_fitting_it_is_of() -> None:
    """A belt that made room for another leaves that one in its place."""
    moves = [
        Move("2025-01-01", "fitted", 1, "belt"),
        Move("2026-01-01", "removed", 1, "belt"),
        Move("2026-01-01", "fitted", 2, "belt"),
    ]
    assert gone_by(moves, "belt", "2026-02-01") is None
    moves.append(Move("2026-01-20", "removed", 2, "belt"))

    assert "was removed on 2026-01-20" == str(gone_by(moves, "belt", "2026-02-01"))


@pytest.mark.parametrize(
    ("moves", "where"),
    [
        ([], IN_PLACE),
        ([Move("2026-01-01", "fitted", 1, "board")], LOOSE),
        ([Move("2026-01-01", "taken", 1, "board", "D1")], "D1"),
        ([Move("2026-01-01", "fitted", 1, "board"), Move("2026-01-02", "taken", 2, "board", "D1")], LOOSE),
        ([Move("2026-01-01", "fitted", 1, "board"), Move("2026-01-02", "taken", 2, "board", "D1", own=True)], "D1"),
        (
            [
                Move("2026-01-01", "fitted", 1, "board"),
                Move("2026-01-02", "taken", 2, "board", "D1", own=True),
                Move("2026-01-03", "removed", 2, "board"),
            ],
            LOOSE,
        ),
        ([Move("2026-01-01", "fitted", 1, "board"), Move("2026-01-02", "fitted", 2, "board", own=True)], IN_PLACE),
    ],
)
def test_the_own_part_of_a_unit_is_in_place_loose_or_in_another(moves: list[Move], where: str) -> None:
    """Taking what sits in a unit does not take its own part that lay loose."""
    assert where == own_part(moves, "board", "2026-02-01")
