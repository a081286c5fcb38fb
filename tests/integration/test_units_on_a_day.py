"""What a unit is, whose, where and how it stands, as of a day; and a unit by its tag."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.errors import Refused, fold
from collection.store.engine import reading
from collection.views.units import Unit, find_unit, unit_ids, unit_list, unit_on
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY


def stands(engine: Engine, day: date = TODAY) -> dict[str, str]:
    """Return the standing of every unit on a day."""
    with reading(engine) as connection:
        return {unit.tag: unit.standing for unit in unit_list(connection, day)}


def on(engine: Engine, day: date = TODAY) -> Unit:
    """Return the unit D1 on a day."""
    with reading(engine) as connection:
        return unit_on(connection, find_unit(connection, "D1").id, day)


def test_an_empty_book_has_no_units(engine: Engine) -> None:
    """A fresh book lists nothing and breaks on nothing."""
    assert {} == stands(engine)


def test_each_unit_comes_with_its_model_owner_and_place_in_the_order_of_tags(engine: Engine) -> None:
    """D2 stands before D10; what is not known is an empty text."""
    with shelf(engine) as made:
        made.unit("D10")
        d2 = made.unit("D2", serial="4711")
        made.owner(d2, "Anna Lerk")
        made.location(d2, "Drawer 3")

    with reading(engine) as connection:
        first, second = unit_list(connection, TODAY)

    assert ("D2", "D10") == (first.tag, second.tag)
    assert ("drive", "Varnhall", "VX-5", "belt", "300", "4711") == (
        first.kind,
        first.maker,
        first.model,
        first.drive_type,
        first.nominal_speeds,
        first.serial,
    )
    assert ("Anna Lerk", "Drawer 3", "ready", "2020-01-01") == (
        first.owner,
        first.location,
        first.standing,
        first.standing_from,
    )
    assert ("", "", "", None) == (second.owner, second.location, second.serial, second.loan)


@pytest.mark.parametrize(
    ("day", "standing"),
    [
        (date(2024, 5, 9), "ready"),
        (date(2024, 5, 10), "on the bench"),
        (date(2024, 5, 31), "on the bench"),
        (date(2024, 6, 1), "awaiting parts"),
    ],
)
def test_an_entry_holds_from_its_own_day_on(engine: Engine, day: date, standing: str) -> None:
    """The day before it the earlier entry holds; an entry known to its month holds from the first of it."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        made.standing(d1, "awaiting parts", "2024-06")
        made.standing(d1, "on the bench", "2024-05-10")

    assert standing == on(engine, day).standing


def test_of_two_entries_of_one_day_the_later_one_holds(engine: Engine) -> None:
    """Inside a day the order of entry decides."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        made.standing(d1, "on the bench", "2026-02-01")
        made.standing(d1, "in use", "2026-02-01")

    assert "in use" == on(engine).standing


def test_an_entry_of_an_undone_act_does_not_hold(engine: Engine) -> None:
    """Undo brings the earlier standing back, undoing the undo the later one."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
    with shelf(engine) as made:
        made.standing(d1, "gone", "2026-01-01")
    undone = undo(engine, None, today=TODAY, now=NOW)

    assert "ready" == on(engine).standing
    undo(engine, undone.by_id, today=TODAY, now=NOW)
    assert "gone" == on(engine).standing


@pytest.mark.parametrize(
    ("day", "standing"),
    [
        (date(2026, 1, 4), "ready"),
        (date(2026, 1, 5), "on loan"),
        (date(2026, 2, 9), "on loan"),
        (date(2026, 2, 10), "ready"),
    ],
)
def test_an_open_loan_makes_the_standing_on_loan(engine: Engine, day: date, standing: str) -> None:
    """From the day it went out until the day before it came back."""
    with shelf(engine) as made:
        made.lend(made.unit("D1"), "2026-01-05", "2026-03-05", back_on="2026-02-10")

    unit = on(engine, day)

    assert (standing, standing == "on loan") == (unit.standing, unit.loan is not None)


def test_a_loan_tells_who_has_the_unit_and_until_when(engine: Engine) -> None:
    """The borrower and the day due come with the unit."""
    with shelf(engine) as made:
        made.lend(made.unit("D1"), "2026-01-05", "2026-03-05")

    loan = on(engine).loan

    assert loan is not None
    assert ("Ilva", "2026-01-05", "2026-03-05") == (loan.person, loan.out_on, loan.due_on)


@pytest.mark.parametrize(
    ("entered_on", "standing"), [("2026-01-04", "on loan"), ("2026-01-05", "missing"), ("2026-02-01", "missing")]
)
def test_a_unit_lost_while_on_loan_is_missing(engine: Engine, entered_on: str, standing: str) -> None:
    """An entry since the day it went out wins over the loan; one from before does not."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        made.lend(d1, "2026-01-05", "2026-03-05")
        made.standing(d1, "missing", entered_on)

    assert standing == on(engine).standing


def test_a_loan_in_leaves_the_standing_alone(engine: Engine) -> None:
    """What we borrowed is here."""
    with shelf(engine) as made:
        made.lend(made.unit("D1"), "2026-01-05", "2026-03-05", direction="in")

    assert "ready" == on(engine).standing


@pytest.mark.parametrize("typed", ["D1", "d1", " D1 ", "old 7", "OLD  7", "Ｄ１"])
def test_a_unit_is_found_by_tag_or_alias_however_it_is_typed(engine: Engine, typed: str) -> None:
    """Case, blanks and full-width forms do not matter."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        made.unit("D11")
        made.work.insert("unit_alias", unit_id=d1, alias="Old 7", alias_folded=fold("Old 7"))

    with reading(engine) as connection:
        found, by_name = find_unit(connection, typed), unit_ids(connection)

    assert ("D1", d1) == (found.tag, found.id)
    assert {"d1", "d11", "old 7"} == set(by_name)
    assert d1 == by_name["old 7"]


def test_an_unknown_tag_is_refused_with_the_nearest_three(engine: Engine) -> None:
    """The message names the tag, near ones, and no others."""
    with shelf(engine) as made:
        for tag in ("D1", "D12", "D13", "Q900"):
            made.unit(tag)

    with reading(engine) as connection, pytest.raises(Refused) as refused:
        find_unit(connection, "D14")

    assert 'No unit has the tag "D14".' == refused.value.what
    assert {"D1", "D12", "D13"} == set(refused.value.hint.removeprefix("Nearest: ").rstrip(".").split(", "))


def test_a_tag_like_no_other_leads_to_the_list(engine: Engine) -> None:
    """Where nothing is near, the hint is the list of units."""
    with reading(engine) as connection, pytest.raises(Refused) as refused:
        find_unit(connection, "D14")

    assert "Type: spindlebook unit list" == refused.value.hint


def test_a_unit_whose_act_is_undone_is_no_unit(engine: Engine) -> None:
    """Its tag is unknown again and may be given to another."""
    with shelf(engine) as made:
        made.unit("D1")
    undo(engine, None, today=TODAY, now=NOW)

    assert {} == stands(engine)
    with reading(engine) as connection, pytest.raises(Refused):
        find_unit(connection, "D1")
    with shelf(engine) as made:
        made.unit("D1")
    assert {"D1": "ready"} == stands(engine)
