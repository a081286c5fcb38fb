"""A loan that is noted when it is over counts from the day it began to that on which all of it was back."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.condition_checks import GivenCheck, add_check
from collection.acts.loan_change import extend
from collection.acts.loan_in import borrow
from collection.acts.loan_out import lend
from collection.acts.reservations import reserve
from collection.acts.safety_checks import add_safety_check
from collection.acts.units import edit_unit, enter
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.reservations import reservation_list
from tests.support.books import scalar
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
BRAM, ILSE = "Bram Oakhollow", "Ilse Vanterpool"


def test_what_is_borrowed_may_have_been_due_later_than_its_lender_wants_it_if_it_was_back_by_then(
    bench: Engine,
) -> None:
    """The day before the lender's day and that day itself; on the day after it was kept too long."""
    borrow(bench, ["D1"], lender=ILSE, on="2026-01-05", due="2026-02-20", **AT)
    late: dict[str, Any] = {"to": BRAM, "due": "2026-03-15", **AT}
    with pytest.raises(Refused, match=r"D1 is borrowed from Ilse Vanterpool until 2026-02-20 .*, before 2026-02-21"):
        lend(bench, ["D1"], on="2026-02-10", came_back="2026-02-21", **late)

    for first, back in (("2026-02-10", "2026-02-19"), ("2026-02-19", "2026-02-20")):
        (row,) = lend(bench, ["D1"], on=first, came_back=back, **late)
        assert back == row.back_on
    acts = f"lent D1 until {back}"
    assert acts == scalar(bench, "SELECT summary FROM seal ORDER BY act_id DESC LIMIT 1")


@pytest.mark.parametrize(("day", "lent"), [("2026-02-09", False), ("2026-02-10", False), ("2026-02-11", True)])
def test_a_check_that_failed_after_it_went_out_keeps_no_loan_of_before_out(
    bench: Engine, day: str, *, lent: bool
) -> None:
    """What was known on the day it went out counts."""
    add_safety_check(bench, "P1", "fail", by=ILSE, on=day, **AT)
    late: dict[str, Any] = {"to": BRAM, "on": "2026-02-10", "due": "2026-02-20", "came_back": "2026-02-20", **AT}

    if lent:
        assert ["L1"] == [row.loan for row in lend(bench, ["P1"], **late)]
    else:
        with pytest.raises(Refused, match="P1 failed its last electrical safety check; no reason lends it"):
            lend(bench, ["P1"], **late)


def test_what_is_to_be_typed_for_several_units_alike_is_told_once(bench: Engine) -> None:
    """Two that are borrowed by one loan wait for one word of its lender."""
    borrow(bench, ["D1", "D2"], lender=ILSE, due="2026-03-20", **AT)
    with pytest.raises(Refused) as refusal:
        lend(bench, ["D1", "D2"], to=BRAM, due="2026-04-01", **AT)

    assert 2 == refusal.value.what.count("is borrowed from")
    assert 1 == refusal.value.hint.count("spindlebook loan extend L1")


def _reserved(engine: Engine) -> list[tuple[str, str, str]]:
    """Return of each reservation its first day, the day it was closed and the loan that it became."""
    with reading(engine) as conn:
        return [(row.from_date, row.closed_on, row.loan) for row in reservation_list(conn, TODAY, closed_too=True)]


def test_a_loan_that_is_over_is_made_of_what_was_reserved_for_days_on_which_the_unit_was_away(bench: Engine) -> None:
    """A reservation that begins on the day it came back goes, by the day the loan began; one of the day after stays."""
    kept: dict[str, Any] = {"to": BRAM, **AT}
    reserve(bench, ["D1"], first="2026-02-15", last="2026-03-05", **kept)
    reserve(bench, ["D4"], first="2026-02-16", last="2026-03-05", **kept)

    lend(bench, ["D1", "D4"], to=BRAM, on="2026-02-10", due="2026-03-20", came_back="2026-02-15", **AT)

    assert [("2026-02-15", "2026-02-10", "L1"), ("2026-02-16", "", "")] == _reserved(bench)


def test_days_to_come_that_are_added_to_a_loan_close_a_reservation_today(bench: Engine) -> None:
    """It is closed on no day that has not come."""
    lend(bench, ["D1"], to=BRAM, on="2026-02-10", due="2026-03-05", **AT)
    reserve(bench, ["D1"], to=BRAM, first="2026-03-10", last="2026-03-12", **AT)

    extend(bench, "L1", due="2026-03-10", **AT)

    assert [("2026-03-10", "2026-03-01", "L1")] == _reserved(bench)


@pytest.mark.parametrize(
    ("first", "day"), [("2026-02-20", " --on 2026-02-20"), ("2026-02-28", " --on 2026-02-28"), ("2026-03-01", "")]
)
def test_what_is_told_of_a_unit_that_was_not_there_helps_of_a_day_that_is_past(
    bench: Engine, first: str, day: str
) -> None:
    """A standing of today would leave it missing on the day on which it went out."""
    enter(bench, "D1", standing="missing", on="2026-02-10", **AT)
    out: dict[str, Any] = {"to": BRAM, "on": first, "due": first, "came_back": first}
    with pytest.raises(Refused) as refusal:
        lend(bench, ["D1"], **out, **AT)
    assert f"If it is: spindlebook unit enter D1 --standing ready{day}" == refusal.value.hint

    enter(bench, "D1", standing="ready", on=day.removeprefix(" --on "), **AT)
    assert 1 == len(lend(bench, ["D1"], **out, **AT))


def test_what_is_told_of_a_check_that_failed_before_a_past_day_helps(bench: Engine) -> None:
    """A check of today says nothing of the day on which it went out; of a loan of today it does."""
    add_safety_check(bench, "P1", "fail", by=ILSE, on="2026-02-01", **AT)
    add_check(bench, "D1", GivenCheck("other", "lid cracked", "fail"), on="2026-02-01", **AT)
    out: dict[str, Any] = {"to": BRAM, "due": "2026-03-20", **AT}
    right, hints = "spindlebook condition add D1 --condition", []
    for tag, on in (("P1", "2026-02-28"), ("D1", "2026-02-28"), ("P1", "2026-03-01"), ("D1", "2026-03-01")):
        with pytest.raises(Refused) as refusal:
            lend(bench, [tag], on=on, **out)
        hints.append(refusal.value.hint.partition("; see:")[0])
    assert [
        "If a competent person passed it by 2026-02-28: spindlebook safety add P1 pass --by PERSON --on DATE",
        f'If it was put right by 2026-02-28: {right} "AS IT WAS" --grade pass --on DATE',
        "Once a competent person passed it: spindlebook safety add P1 pass --by PERSON",
        f'Once it is put right: {right} "AS IT IS" --grade pass',
    ] == hints

    add_safety_check(bench, "P1", "pass", by=ILSE, on="2026-02-28", **AT)
    add_check(bench, "D1", GivenCheck("other", "lid glued", "pass"), on="2026-02-28", **AT)
    assert 2 == len(lend(bench, ["P1", "D1"], on="2026-02-28", all_the_same="rails are read later", **out))


def test_what_is_borrowed_is_kept_for_others_than_its_lender(bench: Engine) -> None:
    """To keep it for its lender said to lend it to them, which no reason does; once it went back nobody keeps it."""
    borrow(bench, ["D1"], lender=ILSE, due="2026-03-20", **AT)
    days: dict[str, Any] = {"first": "2026-03-10", "last": "2026-03-12", **AT}
    with pytest.raises(Refused, match="D1 is borrowed from Ilse Vanterpool, so it is not lent to them") as refusal:
        reserve(bench, ["D1"], to=ILSE, **days)
    assert "Give it back: spindlebook loan give-back D1" == refusal.value.hint
    assert 1 == len(reserve(bench, ["D1"], to=BRAM, **days))


def test_the_tag_of_a_unit_that_is_out_is_typed_as_a_shell_takes_it(bench: Engine) -> None:
    """Its name may have a blank."""
    edit_unit(bench, "D1", {"tag": "D 1"}, **AT)
    lend(bench, ["D 1"], to=ILSE, due="2026-03-12", **AT)
    with pytest.raises(Refused) as refusal:
        reserve(bench, ["D 1"], to=BRAM, first="2026-03-10", last="2026-03-14", **AT)
    assert 'Reserve it from a later day; if it is back: spindlebook loan back "D 1"' == refusal.value.hint
