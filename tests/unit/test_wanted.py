"""Which wanted parts are there."""

from __future__ import annotations

from collection.analysis.wanted import Want, served


def test_who_wanted_first_is_served_first() -> None:
    """With one belt in the drawer, the drive that waits longer gets it, whatever was written first."""
    later, earlier = Want(1, 7, 1, "2026-02-02"), Want(2, 7, 1, "2026-02-01")

    assert set() == served([later, earlier], {7: 0})
    assert {2} == served([later, earlier], {7: 1})
    assert {1, 2} == served([later, earlier], {7: 2})


def test_what_serves_a_want_in_part_is_left_for_the_next() -> None:
    """Two pieces wanted and one there serve nobody, or whoever wants one."""
    two, one = Want(1, 7, 2, "2026-02-01"), Want(2, 7, 1, "2026-02-02")

    assert {2} == served([two, one], {7: 1})
    assert {1} == served([two, one], {7: 2})


def test_a_part_that_is_no_supply_is_never_there() -> None:
    """Nobody counts it; somebody says when it came."""
    assert set() == served([Want(1, None, 1, "2026-02-01")], {})
