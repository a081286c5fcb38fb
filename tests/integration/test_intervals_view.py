"""How units came in as found, from the book to a proposal about an interval."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sqlalchemy.engine import Engine

from collection.store.engine import reading
from collection.views.intervals import IntervalRow, intervals, lines_to_type
from tests.support.shelf import Shelf, shelf
from tests.support.times import TODAY

CHECK = "look at the speed"


def visit(made: Shelf, unit: int, day: str, value: float, did: str = CHECK) -> int:
    """Add a service that reads the speed as found; return the reading."""
    service = made.service(unit, day, did)
    return made.reading(made.series(unit), day, value, "as found", service)


def row_of(engine: Engine, class_name: str = "belt") -> IntervalRow:
    """Return what is said of the check on the units of a class."""
    with reading(engine) as connection:
        found = intervals(connection, TODAY, 0.1, CHECK)
    return next(row for row in found.rows if row.class_name == class_name)


@pytest.fixture
def yearly(engine: Engine) -> Engine:
    """Return a book with two belt drives looked at every year, one of them outside its limits (295.5 to 304.5) twice.

    D2 had its speed set half a year before its last visit; what was set aside, and the first visits, tell nothing.
    """
    with shelf(engine) as made:
        made.no_procedures()
        made.procedure(CHECK, every_months=12, retests="spindle speed")
        made.procedure("set spindle speed", resets="spindle speed: level")
        first, second = made.unit("D1"), made.unit("D2")
        for year, value in ((2022, 320.0), (2023, 304.6), (2024, 304.5), (2025, 295.4)):
            visit(made, first, f"{year}-02-01", value)
        visit(made, second, "2024-01-10", 300.0)
        made.service(second, "2024-07-10", "set spindle speed")
        visit(made, second, "2025-01-10", 300.0)
        made.set_aside(visit(made, second, "2026-01-10", 320.0))
    return engine


def test_visits_count_from_the_last_doing_or_setting_and_are_held_against_their_limits(yearly: Engine) -> None:
    """A value on its limit is within, one beyond is outside; a first visit has no time before it."""
    row = row_of(yearly)

    assert (row.within, row.came, row.units, row.proposal, row.months) == (2, 4, 2, "shorter", 6)
    assert [(each.tag, each.day, round(each.months), each.within) for each in row.visits] == [
        ("D1", "2025-02-01", 12, False),
        ("D2", "2025-01-10", 6, True),
        ("D1", "2024-02-01", 12, True),
        ("D1", "2023-02-01", 12, False),
    ]


def test_the_line_to_type_is_for_all_classes_and_a_longer_one_needs_them_all(yearly: Engine) -> None:
    """Nothing is changed by asking."""
    with shelf(yearly) as made:
        made.model("KR-2", drive_type="direct crystal")
        made.unit("K1", "KR-2")
    with reading(yearly) as connection:
        rows = intervals(connection, TODAY, 0.1).rows
        assert rows == intervals(connection, TODAY, 0.1).rows

    assert [(row.class_name, row.proposal) for row in rows] == [("belt", "shorter"), ("direct crystal", "too little")]
    assert lines_to_type(rows) == [
        f'spindlebook procedure edit "{CHECK}" --every-months 6 --reason "2 of 4 within limits as found"'
    ]
    longer = [replace(row, proposal="longer", months=months) for row, months in zip(rows, (18, 15), strict=True)]
    assert ["--every-months 15" in line for line in lines_to_type(longer)] == [True]
    (said,) = lines_to_type([longer[0], rows[1]])
    assert said.startswith(f"{CHECK}: longer for belt alone takes a procedure of its own: spindlebook procedure add")
    assert lines_to_type([rows[1]]) == []
