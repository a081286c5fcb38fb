"""Which acts the history of a unit lists."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.schema import EDITABLE, TABLES
from collection.store.engine import reading
from collection.views.history import (
    APPENDED_OF_PERSON,
    APPENDED_OF_UNIT,
    EDITED_OF_PERSON,
    EDITED_OF_UNIT,
    Act,
    acts,
    acts_on_unit,
    columns_of_acts,
)
from tests.support.books import scalar
from tests.support.shelf import Shelf, shelf
from tests.support.times import NOW, TODAY

TOUCHES: dict[str, Callable[[Shelf, int, int], object]] = {
    "its own record": lambda made, unit, _: made.work.update("unit", unit, rom="1"),
    "a reading": lambda made, unit, _: made.reading(made.series(unit), "2026-02-01", 300.0),
    "a reading set aside": lambda made, _, reading: made.set_aside(reading),
    "a standing": lambda made, unit, _: made.standing(unit, "away", "2026-02-01"),
    "a service": lambda made, unit, _: made.service(unit, "2026-02-01", "clean head"),
    "a loan": lambda made, unit, _: made.lend(unit, "2026-02-01", "2026-03-01"),
    "a pairing": lambda made, unit, _: made.work.insert(
        "pairing", drive_id=made.unit("D3"), supply_unit_id=unit, from_date="2026-02-01"
    ),
    "a part that it gave": lambda made, unit, _: made.work.insert(
        "fitted_part", unit_id=made.unit("D3"), part="board", fitted_on="2026-02-01", donor_id=unit
    ),
    "a limit of its own": lambda made, unit, _: made.work.insert(
        "limit_range", unit_id=unit, measurement_id=1, point="", upper=1.0
    ),
}


@pytest.mark.parametrize("what", sorted(TOUCHES))
def test_the_history_of_a_unit_has_every_act_that_touched_it(engine: Engine, what: str) -> None:
    """What is recorded about it or refers to it is found, and no act on another unit alone."""
    with shelf(engine, "first") as made:
        unit = made.unit("D1")
        read = made.reading(made.series(unit), "2026-01-01", 300.0)
    with shelf(engine, "other") as made:
        made.reading(made.series(made.unit("D2")), "2026-01-01", 300.0)
    with shelf(engine, "touched") as made:
        TOUCHES[what](made, unit, read)

    with reading(engine) as connection:
        assert ["touched", "first"] == [act.command for act in acts_on_unit(connection, unit)]


def test_the_history_of_a_unit_has_what_became_of_its_loan(engine: Engine) -> None:
    """A later day due, or a deposit that goes back, is written in the loan alone."""
    with shelf(engine, "loan out") as made:
        unit, other = made.unit("D1"), made.unit("D2")
        made.lend(unit, "2026-02-01", "2026-03-01")
    with shelf(engine, "loan extend") as made:
        made.work.update("loan", scalar(engine, "SELECT max(id) FROM loan"), due_on="2026-04-01")

    with reading(engine) as connection:
        assert ["loan extend", "loan out"] == [act.command for act in acts_on_unit(connection, unit)]
        assert ["loan out"] == [act.command for act in acts_on_unit(connection, other)]


@pytest.mark.parametrize("last", [None, 1, 2, 100])
def test_acts_are_the_same_as_rows_and_as_columns(engine: Engine, last: int | None) -> None:
    """Newest first, as many as are asked for, with what each took back."""
    for command in ("first", "second"):
        with shelf(engine, command) as made:
            made.unit(f"D{len(command)}")
    undo(engine, None, today=TODAY, now=NOW)

    with reading(engine) as connection:
        columns, rows = columns_of_acts(connection, last), acts(connection, last)
    assert rows == list(map(Act, *columns))
    assert ["undo", "second", "first"][:last] == [act.command for act in rows][:3]
    assert rows[0].undoes == rows[0].act - 1


def _references(table: str) -> set[tuple[str, str]]:
    return {
        (name, key.parent.name)
        for name, each in TABLES.items()
        for key in each.foreign_keys
        if key.column.table.name == table
    }


def test_no_reference_to_a_unit_is_forgotten() -> None:
    """A new table that tells of units is listed; readings are found through their series."""
    listed = {*APPENDED_OF_UNIT, *EDITED_OF_UNIT}

    assert _references("unit") == listed | {("series", "unit_id"), ("reading", "supply_unit_id")}
    assert {name for name, _ in EDITED_OF_UNIT} == {name for name, _ in listed} & EDITABLE


def test_no_reference_to_a_person_is_forgotten() -> None:
    """A new table that tells of people is listed; acts by them and their former states are found for themselves."""
    listed = {*APPENDED_OF_PERSON, *EDITED_OF_PERSON}

    assert _references("person") == listed | {("act", "who_id"), ("person", "former_of_id")}
    assert {name for name, _ in EDITED_OF_PERSON} == {name for name, _ in listed} & EDITABLE
