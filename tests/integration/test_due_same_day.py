"""What is due on a unit that went out and came back on one day: inside it the order of entry decides."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.condition_checks import GivenCheck, add_check
from collection.acts.loan_back import take_back
from collection.acts.loan_given import ComingBack, GivenState, GoingOut
from collection.acts.loan_out import lend
from collection.acts.service_given import GivenService
from collection.acts.service_record import record_service
from collection.acts.undo import undo
from collection.store.engine import reading
from collection.store.past import another_day
from collection.views.due import due_facts, due_view
from collection.views.units import find_unit
from tests.support.books import scalar
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
DAY = TODAY.isoformat()
LOOK = ["look over: back from loan 1 Mar 2026"]
NOTICE = ["back from loan 1 Mar 2026"]


@pytest.fixture
def club(bench: Engine) -> Engine:
    """Return the bench with a procedure after loans for drives, and a computer that none is for."""
    with shelf(bench) as made:
        made.no_procedures()
        made.procedure("look over", triggers="after loan", applies_to="drive")
        made.unit("C1", "BX-1", standing="ready")
        made.work.update("model", made.model("BX-1"), kind="computer", drive_type=None)
    return bench


def _due(engine: Engine, tag: str) -> list[str]:
    """Return why a unit is due, which its own facts must say as the list of all does."""
    with reading(engine) as conn:
        rows = due_view(conn, TODAY, 0).due.rows
        of_all = next(unit for unit in due_facts(conn, TODAY).of_units if unit.tag == tag)
        assert of_all == due_facts(conn, TODAY, find_unit(conn, tag).id).of_units[0]
    return [item.why for row in rows if row.tag == tag for item in row.items]


def _due_as_of_today(engine: Engine, tag: str) -> list[str]:
    with reading(engine) as conn, another_day(conn, known_until=None, day=TODAY) as past:
        return [item.why for row in due_view(past, TODAY, 0).due.rows if row.tag == tag for item in row.items]


def _service(engine: Engine, tag: str, on: str = DAY) -> None:
    record_service(engine, tag, GivenService(did=("look over",), on=on, outcome="ready"), **AT)


def _check(engine: Engine, tag: str) -> None:
    add_check(engine, tag, GivenCheck("other", "sound"), **AT)


def _out(engine: Engine, *units: str | GoingOut, on: str = DAY, came_back: str = "") -> None:
    lend(engine, units, to="Bram Oakhollow", on=on, came_back=came_back, due="2026-03-20", all_the_same="agreed", **AT)


def test_work_of_the_morning_does_not_settle_the_return_of_the_afternoon(club: Engine) -> None:
    """The service that is entered after the return does, and so says the list as of that day."""
    _service(club, "D1")
    _out(club, "D1")
    take_back(club, ["D1"], **AT)
    assert LOOK == _due(club, "D1") == _due_as_of_today(club, "D1")

    _service(club, "D1")
    assert [] == _due(club, "D1") == _due_as_of_today(club, "D1")


@pytest.mark.parametrize("settle", [_check, _service])
def test_who_no_procedure_is_for_is_looked_at_after_the_return(club: Engine, settle: Any) -> None:
    """By a check of the condition, or any service, entered after it; the check of going out is none."""
    settle(club, "C1")
    _out(club, GoingOut("C1", state=GivenState("sound")))
    take_back(club, ["C1"], **AT)
    assert NOTICE == _due(club, "C1") == _due_as_of_today(club, "C1")

    settle(club, "C1")
    assert [] == _due(club, "C1") == _due_as_of_today(club, "C1")


def test_a_look_while_the_unit_is_out_is_before_the_return_and_one_with_it_after(club: Engine) -> None:
    """Somebody looked at it at the borrower's; or as it was taken back."""
    _out(club, "C1")
    _check(club, "C1")
    take_back(club, ["C1"], **AT)
    assert NOTICE == _due(club, "C1")

    undo(club, None, **AT)
    take_back(club, [ComingBack("C1", GivenState("sound"))], **AT)
    assert [] == _due(club, "C1")


def test_an_undone_return_calls_for_nothing_and_the_next_one_counts(club: Engine) -> None:
    """So does undoing the work that settled it."""
    _service(club, "D1")
    _out(club, "D1")
    take_back(club, ["D1"], **AT)
    undo(club, None, **AT)
    assert [] == _due(club, "D1")

    take_back(club, ["D1"], **AT)
    assert LOOK == _due(club, "D1")
    _service(club, "D1")
    assert [] == _due(club, "D1")
    undo(club, None, **AT)
    assert LOOK == _due(club, "D1")


def test_a_return_that_is_taken_back_and_done_again_keeps_its_place(club: Engine) -> None:
    """It came before the work, whenever the undo of its undo was entered."""
    _out(club, "D1")
    take_back(club, ["D1"], **AT)
    back = scalar(club, "SELECT max(id) FROM act")
    _service(club, "D1")
    undo(club, back, **AT)
    undo(club, scalar(club, "SELECT max(id) FROM act"), **AT)

    assert [] == _due(club, "D1")


def test_of_two_loans_of_a_day_the_last_return_counts(club: Engine) -> None:
    """Work between them settles the first alone."""
    for _ in range(2):
        _service(club, "D1")
        _out(club, "D1")
        take_back(club, ["D1"], **AT)

    assert LOOK == _due(club, "D1")


def test_a_loan_of_several_days_is_settled_by_the_work_of_its_last(club: Engine) -> None:
    """The unit was out until then, so that the work came after the return however it was entered."""
    _service(club, "D1")
    _out(club, "D1", on="2026-02-20", came_back=DAY)

    assert [] == _due(club, "D1")


def test_a_loan_of_one_day_that_is_entered_when_it_is_over_comes_after_what_was_entered_before(club: Engine) -> None:
    """Work that is entered after it comes after it."""
    _service(club, "D1")
    _out(club, GoingOut("D1", state=GivenState("sound")), came_back=DAY)
    assert LOOK == _due(club, "D1")

    _service(club, "D1")
    assert [] == _due(club, "D1")


@pytest.mark.parametrize(("done", "due"), [("2026-02-19", LOOK), ("2026-02-20", LOOK), ("2026-02-21", [])])
def test_only_work_of_that_day_is_told_apart_by_its_entry(club: Engine, done: str, due: list[str]) -> None:
    """Earlier work settles nothing, and later work all, whenever either was entered."""
    _service(club, "D1", on=done)
    _out(club, "D1", on="2026-02-20", came_back="2026-02-20")

    assert [why.replace("1 Mar", "20 Feb") for why in due] == _due(club, "D1")


def test_what_one_act_wrote_is_taken_to_come_after_the_return(club: Engine) -> None:
    """An import tells no order inside a day."""
    with shelf(club) as made:
        unit = made.unit("D5", "DM-8")
        made.service(unit, "2026-02-20", "look over")
        made.lend(unit, "2026-02-20", "2026-03-20", "2026-02-20")

    assert [] == _due(club, "D5")
