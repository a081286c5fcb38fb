"""Loans that are entered late: no two of a unit overlap, and what goes back had left; on both databases."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.dispose import GivenExit, dispose
from collection.acts.loan_back import take_back
from collection.acts.loan_edit import edit_loan
from collection.acts.loan_given import ComingBack, GivenState, GoingOut
from collection.acts.loan_in import borrow, give_back
from collection.acts.loan_out import lend
from collection.acts.pairings import add_pairing
from collection.acts.service_given import GivenService
from collection.acts.service_record import open_service, record_service
from collection.acts.undo import undo
from collection.acts.units import enter
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.condition_checks import condition_checks
from collection.views.due import due_facts
from collection.views.exits import gone_and_held
from collection.views.loans import loan_list
from collection.views.units import find_unit, unit_on
from collection.views.verify import verify
from tests.support.books import scalar
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
BRAM, ILSE = "Bram Oakhollow", "Ilse Vanterpool"


def _refused(do: Callable[..., Any], *args: Any, **given: Any) -> str:
    """Return what a refused act says; it must have written no act."""
    before = scalar(args[0], "SELECT max(id) FROM act")
    with pytest.raises(Refused) as refusal:
        do(*args, **given, **AT)
    assert before == scalar(args[0], "SELECT max(id) FROM act")
    return str(refusal.value)


def test_a_loan_that_is_entered_late_overlaps_no_other(bench: Engine) -> None:
    """It may begin on the day on which the one before ended, not the day before that, lent or borrowed."""
    lent: dict[str, Any] = {"to": BRAM, "due": "2026-03-05", "all_the_same": "looked over"}
    lend(bench, ["D1"], to=ILSE, on="2026-02-01", due="2026-02-20", **AT)
    take_back(bench, ["D1"], on="2026-02-10", **AT)
    for first in ("2026-01-31", "2026-02-09"):
        told = _refused(lend, bench, ["D1"], on=first, **lent)
        assert f"D1 was out to {ILSE} from 2026-02-01 to 2026-02-10 (loan L1)." in told
    lend(bench, ["D1"], on="2026-02-10", **lent, **AT)

    borrowed: dict[str, Any] = {"lender": ILSE, "due": "2026-04-01"}
    borrow(bench, ["D4"], on="2026-02-01", **borrowed, **AT)
    give_back(bench, ["D4"], on="2026-02-10", **AT)
    told = _refused(borrow, bench, ["D4"], on="2026-02-09", **borrowed)
    assert f"D4 was borrowed from {ILSE} from 2026-02-01 to 2026-02-10 (loan L3)." in told
    borrow(bench, ["D4"], on="2026-02-10", **borrowed, **AT)
    with reading(bench) as conn:
        assert [] == verify(conn).broken


@pytest.mark.parametrize(
    ("first", "back", "free"),
    [
        ("2026-01-20", "2026-01-31", True),
        ("2026-01-20", "2026-02-01", True),
        ("2026-01-20", "2026-02-02", False),
        ("2026-02-01", "2026-02-01", True),
        ("2026-02-09", "2026-02-11", False),
        ("2026-02-10", "2026-02-15", True),
        ("2026-02-14", "2026-02-16", False),
        ("2026-01-20", "2026-02-28", False),
    ],
)
def test_a_loan_that_is_over_goes_in_before_and_between_others(
    bench: Engine, first: str, back: str, *, free: bool
) -> None:
    """It may end on the day on which the next one began, and begin on that on which the one before ended."""
    lend(bench, ["D1"], to=ILSE, on="2026-02-01", due="2026-02-20", came_back="2026-02-10", **AT)
    lend(bench, ["D1"], to=ILSE, on="2026-02-15", due="2026-04-01", all_the_same="agreed", **AT)
    late: dict[str, Any] = {"to": BRAM, "on": first, "came_back": back, "due": "2026-03-01"}

    if not free:
        assert "(loan L" in _refused(lend, bench, ["D1"], **late)
        return
    (row,) = lend(bench, ["D1"], **late, **AT)
    assert ("L3", first, back) == (row.loan, row.out_on, row.back_on)
    with reading(bench) as conn:
        assert [] == verify(conn).broken
        assert ["L2"] == [row.loan for row in loan_list(conn, TODAY)]


def test_a_loan_that_is_over_asks_for_nothing_that_a_reason_overrides(bench: Engine) -> None:
    """It has happened; what was not there then, and days that cannot be, are refused all the same."""
    seen = GoingOut("D3", state=GivenState("scratched", "fail"))
    (row,) = lend(bench, [seen], to=BRAM, on="2026-01-10", due="2026-01-20", came_back="2026-01-15", **AT)
    assert ("scratched", "2026-01-15") == (row.condition_out, row.back_on)
    late: dict[str, Any] = {"to": BRAM, "on": "2026-02-10", "due": "2026-02-20"}
    for tag, back, says in (
        ("D9", "2026-02-11", "D9 is missing since 2025-01-10"),
        ("D1", "2026-02-09", "Back on 2026-02-09 is before out on 2026-02-10."),
        ("D1", "2026-03-02", "--came-back 2026-03-02 has not come yet"),
    ):
        assert says in _refused(lend, bench, [tag], **late, came_back=back)
    lend(bench, ["D1"], **late, came_back="2026-03-01", **AT)
    with reading(bench) as conn:
        assert "2026-03-01" == due_facts(conn, TODAY, find_unit(conn, "D1").id).of_units[0].loan_back_on


def test_a_refusal_says_from_which_day_on_a_unit_can_go_out(bench: Engine) -> None:
    """The day that is named is taken, where the loan is over or not."""
    for first, back in (("2026-02-01", "2026-02-10"), ("2026-02-12", "2026-02-20")):
        lend(bench, ["D1"], to=ILSE, on=first, due=back, came_back=back, **AT)
    late: dict[str, Any] = {"to": BRAM, "due": "2026-03-05", "all_the_same": "agreed"}
    told = _refused(lend, bench, ["D1"], on="2026-01-20", **late)
    assert "If D1 was back by 2026-02-01: --came-back DATE. Else: D1 can go out from 2026-02-20 on: --on DATE." in told
    told = _refused(lend, bench, ["D1"], on="2026-02-05", **late)
    assert "(loan L1). D1 can go out from 2026-02-20 on: --on DATE." in told
    lend(bench, ["D1"], on="2026-02-20", **late, **AT)
    told = _refused(lend, bench, ["D1"], on="2026-02-19", **late)
    assert "Take it back first: spindlebook loan back D1" in told
    lend(bench, ["D1"], on="2026-01-20", came_back="2026-02-01", **late, **AT)


def test_what_is_given_back_was_neither_lent_on_nor_here_after_that_day(bench: Engine) -> None:
    """The day on which it came back from whoever had it, or last stood here, is the first it may have left."""
    borrow(bench, ["D1"], lender=ILSE, on="2026-02-01", due="2026-04-01", **AT)
    lend(bench, ["D1"], to=BRAM, on="2026-02-05", due="2026-02-20", **AT)
    assert f"D1 is on loan to {BRAM} since 2026-02-05 (loan L2)." in _refused(give_back, bench, ["D1"], on="2026-02-04")
    told = _refused(dispose, bench, "D1", GivenExit("scrapped", "cracked"))  # what is both is taken back first
    assert told.startswith(f"D1 is on loan to {BRAM} since 2026-02-05 (loan L2). End the loan first: spindlebook loan")
    take_back(bench, ["D1"], on="2026-02-10", **AT)
    undo(bench, None, **AT)  # what is borrowed may be lent on, so this puts it on no two loans
    take_back(bench, ["D1"], on="2026-02-10", **AT)
    for day in ("2026-02-04", "2026-02-09"):
        told = _refused(give_back, bench, ["D1"], on=day)
        assert f"D1 was here on 2026-02-10, after {day}: loan back." in told
    give_back(bench, ["D1"], on="2026-02-10", **AT)
    undo(bench, None, **AT)

    enter(bench, "D1", standing="in use", on="2026-02-20", **AT)
    told = _refused(give_back, bench, ["D1"], on="2026-02-19")
    assert "D1 stands in use since 2026-02-20, after 2026-02-19." in told
    (row,) = give_back(bench, ["D1"], on="2026-02-20", **AT)
    assert ("L1", "loan L1") == (row.loan, scalar(bench, "SELECT reason FROM unit_exit WHERE void = 0"))
    undo(bench, None, **AT)
    open_service(bench, "D1", GivenService(), **AT)
    assert "D1 has a service open since 2026-03-01." in _refused(give_back, bench, ["D1"])


def test_what_goes_back_is_looked_at_and_feeds_or_is_fed_by_nothing(bench: Engine) -> None:
    """Its pairing ends on that day, and its condition is that of an exit."""
    borrow(bench, ["P1"], lender=ILSE, on="2026-02-01", due="2026-04-01", **AT)
    add_pairing(bench, "D1", "P1", on="2026-02-02", **AT)
    give_back(bench, [ComingBack("P1", GivenState("as it came", "pass"))], on="2026-02-10", **AT)

    assert "2026-02-10" == scalar(bench, "SELECT to_date FROM pairing")
    with reading(bench) as conn:
        checks = condition_checks(conn, find_unit(conn, "P1").id)
    assert [("exit", "2026-02-10", "as it came")] == [(c.occasion, c.checked_on, c.condition) for c in checks]


def test_no_edit_makes_a_lender_the_borrower_of_their_own_unit(bench: Engine) -> None:
    """Once the unit is back, the words of the loan may be put right, whoever had it."""
    borrow(bench, ["D1"], lender=ILSE, due="2026-04-01", **AT)
    lend(bench, ["D1"], to=BRAM, due="2026-03-05", **AT)
    told = _refused(edit_loan, bench, "L2", {"person": ILSE}, reason="misread")
    assert f"D1 is borrowed from {ILSE}, so it is not lent to them (loan L1)." in told
    take_back(bench, ["D1"], **AT)
    edit_loan(bench, "L2", {"person": ILSE}, reason="misread", **AT)


def _dispose(engine: Engine, tag: str, on: str) -> None:
    dispose(engine, tag, GivenExit("scrapped", "cracked"), on=on, **AT)


def _still_gone(engine: Engine, tag: str, since: str) -> None:
    with reading(engine) as conn:
        unit = unit_on(conn, find_unit(conn, tag).id, TODAY)
        assert ("gone", since) == (unit.standing, unit.standing_from)
        assert set() == gone_and_held(conn, TODAY)


@pytest.mark.parametrize("left", ["2026-02-20", "2026-03-01"])
def test_what_left_since_is_out_on_no_loan_now(bench: Engine, left: str) -> None:
    """A loan that was over by the day it left is taken; one that is not, or came back later, is refused."""
    lent: dict[str, Any] = {"to": BRAM, "due": "2026-03-05", "on": "2026-02-10", "all_the_same": "agreed"}
    _dispose(bench, "D1", left)

    told = _refused(lend, bench, ["D1"], **lent)
    assert f"D1 is gone since {left}, so it is out on no loan now." in told
    assert f"If it was back by {left}: --came-back DATE;" in told
    if left < "2026-03-01":
        told = _refused(lend, bench, ["D1"], came_back="2026-02-21", **lent)
        assert f"D1 is gone since {left}, so it did not come back on 2026-02-21." in told
    lend(bench, ["D1"], came_back=left, **lent, **AT)
    _still_gone(bench, "D1", left)
    lend(bench, ["D4"], **lent, **AT)


def test_what_left_in_a_month_may_have_come_back_on_any_day_of_it(bench: Engine) -> None:
    """What is known to its month alone refuses nothing of that month."""
    _dispose(bench, "D1", "2026-02")
    lent: dict[str, Any] = {"to": BRAM, "due": "2026-03-05", "on": "2026-01-10", "all_the_same": "agreed"}
    assert "so it did not come back on 2026-03-01" in _refused(lend, bench, ["D1"], came_back="2026-03-01", **lent)
    lend(bench, ["D1"], came_back="2026-02-28", **lent, **AT)
    _still_gone(bench, "D1", "2026-02")


def test_what_left_since_is_not_borrowed_now(bench: Engine) -> None:
    """From the day it left on it may have come again."""
    _dispose(bench, "D1", "2026-02-20")
    borrowed: dict[str, Any] = {"lender": ILSE, "due": "2026-04-01"}

    told = _refused(borrow, bench, ["D1"], on="2026-02-19", **borrowed)
    assert "D1 is gone since 2026-02-20, so it is not borrowed now. Type a day from 2026-02-20 on: --on DATE;" in told
    borrow(bench, ["D1"], on="2026-02-20", **borrowed, **AT)
    with reading(bench) as conn:
        assert "arrived" == unit_on(conn, find_unit(conn, "D1").id, TODAY).standing


def test_what_left_since_has_no_service_open_now(bench: Engine) -> None:
    """Not for any reason; a service that was over is recorded, and on the day it left it may be here again."""
    _dispose(bench, "D1", "2026-02-20")

    told = _refused(open_service, bench, "D1", GivenService(on="2026-02-19", anyway="found it"))
    assert "D1 is gone since 2026-02-20, so no service of it is open now." in told
    assert "If it was over by 2026-02-20: spindlebook service record D1 --on DATE;" in told
    record_service(bench, "D1", GivenService(on="2026-02-19"), **AT)
    _still_gone(bench, "D1", "2026-02-20")
    open_service(bench, "D1", GivenService(on="2026-02-20", anyway="found it"), **AT)
    with reading(bench) as conn:
        assert set() == gone_and_held(conn, TODAY)
