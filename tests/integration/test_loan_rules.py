"""What stands against a loan, what it carries with it, and how it changes and ends, on both databases."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.faults import close_fault
from collection.acts.loan_back import take_back
from collection.acts.loan_change import extend, return_deposit
from collection.acts.loan_edit import edit_loan
from collection.acts.loan_given import ComingBack, GivenState, GivenTerms, GoingOut
from collection.acts.loan_in import borrow, give_back
from collection.acts.loan_out import lend
from collection.acts.readings import GivenReading, add_reading
from collection.acts.reservations import reserve, unreserve
from collection.acts.safety_checks import add_safety_check
from collection.acts.service_given import GivenService
from collection.acts.service_record import record_service
from collection.acts.undo import undo
from collection.analysis.reasons import RecheckDue
from collection.errors import Moved, Refused
from collection.quantity import Money
from collection.store.engine import reading
from collection.views.damage import damage_list
from collection.views.loan_show import LoanShown, loan_shown
from collection.views.loans import LoanRow
from collection.views.reservations import Reservation, reservation_list
from collection.views.units import find_unit, unit_on
from collection.views.verify import verify
from tests.support.bench import set_up_bench
from tests.support.books import scalar
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
BRAM, ILSE = "Bram Oakhollow", "Ilse Vanterpool"


def _speed(value: str) -> GivenReading:
    return GivenReading("spindle speed", value, instrument="bench counter")


SPEED = _speed("300.2")


@pytest.fixture
def bench(engine: Engine) -> Engine:
    """Return an engine on a book with a small shelf in it, of which P1 is fed from the mains."""
    set_up_bench(engine, TODAY, NOW)
    return engine


def _lend(engine: Engine, *units: str | GoingOut, **given: Any) -> list[LoanRow]:
    return lend(engine, units or ("D1",), **{"to": BRAM, "due": "2026-04-01", **given}, **AT)


def _back(engine: Engine, *units: str | ComingBack, **given: Any) -> list[LoanRow]:
    return take_back(engine, units or ("D1",), **given, **AT)


def _reserve(engine: Engine, *tags: str, **given: Any) -> list[Reservation]:
    told = {"to": ILSE, "first": "2026-03-10", "last": "2026-03-20", **given}
    return reserve(engine, tags or ("D1",), **told, **AT)


def _refused(do: Callable[..., Any], engine: Engine, *args: Any, **given: Any) -> str:
    """Return what a refused act says; it must have written no act."""
    before = scalar(engine, "SELECT max(id) FROM act")
    with pytest.raises((Refused, Moved)) as refusal:
        do(engine, *args, **given)
    assert before == scalar(engine, "SELECT max(id) FROM act")
    return str(refusal.value)


def _shown(engine: Engine, name: str = "D1") -> LoanShown:
    with reading(engine) as conn:
        return loan_shown(conn, name, TODAY)


def _standing(engine: Engine, tag: str) -> str:
    with reading(engine) as conn:
        return unit_on(conn, find_unit(conn, tag).id, TODAY).standing


def test_a_unit_that_falls_due_before_the_loan_ends_is_not_lent(bench: Engine) -> None:
    """It may come back the day before; on the day itself, or later, it asks for a reason, which marks the loan."""
    record_service(bench, "D1", GivenService(did=("dust out",), on="2025-04-10"), **AT)

    for due in ("2026-04-10", "2026-04-11"):
        assert "D1 is not lent: dust out falls due on 2026-04-10" in _refused(_lend, bench, due=due)
    _lend(bench, due="2026-04-09")
    _back(bench)
    _lend(bench, due="2026-04-10", all_the_same="it is looked over on the way")
    assert "dust out falls due on 2026-04-10" in _shown(bench).marks[0][1]


def test_all_that_stands_against_several_units_is_told_at_once(bench: Engine) -> None:
    """A line of each, in the order in which they were named, then what to type; of one unit it is told as ever."""
    _lend(bench, "D4", on="2026-02-20")
    with pytest.raises(Refused) as refusal:
        _lend(bench, "D3", "D1", "D4", "P1", "D9")
    begins = (
        "D3 is not lent: it is awaiting parts",
        "D4 is out to Bram Oakhollow",
        "P1 is not lent: it is fed from",
        "D9 is missing since 2025-01-10",
    )
    for line, begin in zip(refusal.value.what.splitlines(), begins, strict=True):
        assert line.startswith(begin)
    assert [
        "Take it back first: spindlebook loan back D4",
        "Once a competent person passed it: spindlebook safety add P1 pass --by PERSON",
        "If it is: spindlebook unit enter D9 --standing ready",
        'See: spindlebook unit show TAG; or to lend D3, P1 give a reason: --all-the-same "REASON".',
    ] == refusal.value.hint.splitlines()
    with_reason = _refused(_lend, bench, "D3", "D4", "P1", "D9", all_the_same="agreed")
    assert "D3" not in with_reason
    assert "P1" not in with_reason
    assert "See" not in with_reason
    assert _refused(_lend, bench, "D3") == _refused(_lend, bench, "D1", "D3")


def test_a_recheck_by_drift_counts_as_what_falls_due(bench: Engine) -> None:
    """It is worked out before, since a fit takes longer than an act may hold the book."""
    with reading(bench) as conn:
        drive = find_unit(conn, "D4").id
    rechecks = {drive: [RecheckDue("spindle speed", "", date(2026, 3, 20), "chance", "by its drift")]}

    told = _refused(_lend, bench, "D4", due="2026-03-20", rechecks=rechecks)
    assert "D4 is not lent: check spindle speed falls due on 2026-03-20" in told
    _lend(bench, "D4", due="2026-03-19", rechecks=rechecks)


def test_a_mains_unit_goes_out_with_a_safety_check_or_a_reason_and_never_after_a_failed_one(bench: Engine) -> None:
    """A check is good through its last day; one that failed is overridden by no reason, until the next one passes."""
    told = _refused(_lend, bench, "P1")
    assert "P1 is not lent: it is fed from the mains and has no electrical safety check" in told
    assert "Once a competent person passed it: spindlebook safety add P1 pass --by PERSON; see: " in told
    checked: dict[str, Any] = {"by": ILSE, "good_through": "2026-04-01", "on": "2026-01-05"}
    add_safety_check(bench, "P1", "pass", **checked, **AT)
    lapsed = _refused(_lend, bench, "P1", due="2026-04-02")
    assert "is good through 2026-04-01 only" in lapsed
    assert "passed it: spindlebook safety add P1 pass --by PERSON; see: " in lapsed
    assert "safety add" not in _refused(_lend, bench, "D2", due="2026-04-02")
    _lend(bench, "P1")
    _back(bench, "P1")

    add_safety_check(bench, "P1", "fail", by=ILSE, **AT)
    told = _refused(_lend, bench, "P1", all_the_same="only for a day")
    assert "P1 failed its last electrical safety check; no reason lends it." in told
    assert told.endswith("Once a competent person passed it: spindlebook safety add P1 pass --by PERSON")
    add_safety_check(bench, "P1", "pass", by=ILSE, **AT)
    _lend(bench, "P1", all_the_same="rails are read on Sunday")
    add_safety_check(bench, "P1", "fail", by=ILSE, **AT)
    assert "no reason leaves it out longer" in _refused(extend, bench, "P1", due="2026-05-01", all_the_same="so", **AT)


@pytest.mark.parametrize(
    ("on", "due", "free"),
    [
        ("2026-03-01", "2026-03-09", True),
        ("2026-03-01", "2026-03-10", False),
    ],
)
def test_a_unit_is_not_lent_to_others_on_a_day_for_which_it_is_reserved(
    bench: Engine, on: str, due: str, free: bool
) -> None:
    """The day before is free, the first day is not. The loan to whom it is kept for closes the reservation."""
    _reserve(bench)

    if free:
        _lend(bench, on=on, due=due)
        return
    assert "D1 is not lent: it is reserved from 2026-03-10 to 2026-03-20" in _refused(_lend, bench, on=on, due=due)
    _lend(bench, to=ILSE, on=on, due=due)
    with reading(bench) as conn:
        (kept,) = reservation_list(conn, TODAY, closed_too=True)
    assert ("lent", "L1") == (kept.state(TODAY), kept.loan)
    undo(bench, None, **AT)
    _lend(bench, on=on, due=due, all_the_same="Ilse agreed")
    with reading(bench) as conn:
        assert ["ahead"] == [row.state(TODAY) for row in reservation_list(conn, TODAY)]


def test_a_reservation_that_cannot_be_is_refused(bench: Engine) -> None:
    """Two share no day, nobody reserves what is out then, what is lost, the past, or a borrowed unit beyond its day."""
    _reserve(bench)
    _lend(bench, "D4", due="2026-03-15")
    borrow(bench, ["D3"], lender=BRAM, due="2026-03-19", **AT)
    over = {"first": "2026-02-01", "last": "2026-02-28"}
    for tags, given, says in (
        (("D1",), {"first": "2026-03-20", "last": "2026-03-25"}, f"D1 is reserved for {ILSE} from 2026-03-10"),
        (("D1",), {"first": "2026-03-05", "last": "2026-03-10"}, f"D1 is reserved for {ILSE} from 2026-03-10"),
        (("D4",), {"first": "2026-03-15"}, "D4 is out to Bram Oakhollow until 2026-03-15 (loan L1)."),
        (("D9",), {}, "D9 is missing since 2025-01-10"),
        (("D3",), {}, "D3 is borrowed from Bram Oakhollow until 2026-03-19 (loan L2), before 2026-03-20."),
        (("D2",), over, "From 2026-02-01 to 2026-02-28 is over (today is 2026-03-01)."),
        (("D2",), {"last": "2026-03-09"}, "Until 2026-03-09 is before from 2026-03-10."),
        (("D2", "d2"), {}, "D2 is named twice."),
        (("D2",), {"to": ""}, "--to names nobody."),
    ):
        assert says in _refused(_reserve, bench, *tags, **given)
    _reserve(bench, "D2", first="2026-02-01", last="2026-03-01")
    _reserve(bench, first="2026-03-21", last="2026-03-21")
    _reserve(bench, "D4", first="2026-03-16", last="2026-03-16")
    _reserve(bench, "D3", last="2026-03-19")


def test_a_reservation_is_given_up_and_frees_its_days(bench: Engine) -> None:
    """Of several the first day says which; what is given up is refused the second time."""
    _reserve(bench)
    _reserve(bench, first="2026-03-21", last="2026-03-22", to=BRAM)

    assert "D1 is reserved 2 times: from 2026-03-10" in _refused(unreserve, bench, ["D1"], **AT)
    unreserve(bench, ["D1"], first="2026-03-10", reason="the show is off", **AT)
    assert "D1 is not reserved then" in _refused(unreserve, bench, ["D1"], first="2026-03-10", **AT)
    with reading(bench) as conn:
        assert ["the show is off", ""] == [row.closed_reason for row in reservation_list(conn, TODAY, closed_too=True)]
    _reserve(bench, to=BRAM)


def test_a_borrowed_unit_is_never_lent_beyond_the_day_it_is_due_back(bench: Engine) -> None:
    """On that day it may be due, the day after not for any reason, also where a loan is extended or edited."""
    borrow(bench, ["D1"], lender=ILSE, due="2026-04-01", terms=GivenTerms(cover="hers"), **AT)

    for given in ({}, {"all_the_same": "she will not mind"}):
        assert f"D1 is borrowed from {ILSE} until 2026-04-01" in _refused(_lend, bench, due="2026-04-02", **given)
    assert "so it is not lent to them (loan L1)" in _refused(_lend, bench, to=ILSE, due="2026-03-20", all_the_same="so")
    _lend(bench, due="2026-03-20")
    assert "before 2026-04-02" in _refused(extend, bench, "D1", due="2026-04-02", all_the_same="so", **AT)
    assert "before 2026-04-02" in _refused(edit_loan, bench, "L2", {"due_on": "2026-04-02"}, **AT)
    extend(bench, "D1", due="2026-04-01", **AT)
    assert "D1 is on loan to Bram Oakhollow since 2026-03-01 (loan L2)." in _refused(give_back, bench, ["D1"], **AT)


def test_what_is_borrowed_has_its_lender_and_is_gone_when_it_is_given_back(bench: Engine) -> None:
    """The lender owns what had no owner; a unit that is gone comes again as arrived; the ledger of exits knows it."""
    borrow(bench, [GoingOut("D1", "a cable", GivenState("good"))], lender=ILSE, due="2026-04-01", **AT)
    assert "D1 is borrowed from Ilse Vanterpool since 2026-03-01" in _refused(
        borrow, bench, ["D1"], lender=BRAM, due="2026-04-01", **AT
    )
    (back,) = give_back(bench, [ComingBack("D1", GivenState("as it came"), missing="the cable")], **AT)

    assert ("in", "2026-03-01", "as it came", "the cable") == (
        back.direction, back.back_on, back.condition_back, back.along_missing,
    )  # fmt: skip
    assert ("gone", "given back") == (_standing(bench, "D1"), scalar(bench, "SELECT how FROM unit_exit"))
    assert "D1 is not borrowed." in _refused(give_back, bench, ["D1"], **AT)
    undo(bench, None, **AT)
    _reserve(bench, to=BRAM, first="2026-03-02", last="2026-03-03")
    assert f"D1 is reserved for {BRAM} from 2026-03-02" in _refused(give_back, bench, ["D1"], **AT)
    unreserve(bench, ["D1"], **AT)
    assert ("ready", 0) == (_standing(bench, "D1"), scalar(bench, "SELECT count(*) FROM unit_exit WHERE void = 0"))
    give_back(bench, ["D1"], **AT)
    borrow(bench, ["D1"], lender=ILSE, due="2026-05-01", **AT)
    assert "arrived" == _standing(bench, "D1")
    with reading(bench) as conn:
        assert ILSE == unit_on(conn, find_unit(conn, "D1").id, TODAY).owner


def test_what_comes_back_is_held_against_how_it_went_out(bench: Engine) -> None:
    """Readings at both ends stand side by side with change and limit, beside what was said, is broken or missing."""
    out = GivenState("lid scratched", readings=(SPEED,))
    _lend(bench, GoingOut("D1", "two disks", out), terms=GivenTerms(by=ILSE, agreement="folder 3"))
    came = GivenState("lid cracked", "marginal", (GivenReading("spindle speed", "306.9", instrument="bench counter"),))
    told = ComingBack("D1", came, "reads slowly", missing="one disk", damage="lid cracked", estimate="25")
    _back(bench, told, by=BRAM)
    shown = _shown(bench, "L1")

    assert [("300.2 r/min", "306.9 r/min", "+6.7 r/min", "295.5 to 304.5", "high")] == [
        (one.out, one.back, one.change, one.limit, one.says) for one in shown.compared
    ]
    terms = shown.terms
    assert (ILSE, BRAM, "folder 3") == (terms.issued_by, terms.taken_by, terms.agreement)
    assert ("two disks", "one disk") == (terms.along, terms.along_missing)
    assert [("loan out", ILSE), ("loan back", BRAM)] == [(each.occasion, each.by) for each in shown.checks]
    assert [("damage", "lid cracked", Money(2500, "EUR")), ("loss", "what went along: one disk", None)] == [
        (each.kind, each.what, each.estimate) for each in shown.damages
    ]
    assert terms.loan_id == scalar(bench, "SELECT loan_id FROM fault")
    close_fault(bench, "D1", no_fault_found=True, **AT)
    with reading(bench) as conn:
        assert [] == verify(conn).broken


def test_without_a_reading_at_going_out_the_last_one_before_is_compared(bench: Engine) -> None:
    """What was read while it was out counts for nothing, and beside what was read at going out no other of that day."""
    _lend(bench, GoingOut("D1", state=GivenState("good", readings=(SPEED,))), on="2026-02-01", due="2026-02-10")
    add_reading(bench, "D1", _speed("302.0"), on="2026-02-01", **AT)
    _back(bench, ComingBack("D1", GivenState("good", readings=(_speed("300.4"),))), on="2026-02-10")
    _lend(bench, on="2026-02-11", all_the_same="looked over")
    add_reading(bench, "D1", _speed("303.0"), on="2026-02-20", **AT)
    _back(bench, ComingBack("D1", GivenState("good", readings=(_speed("300.0"),))))

    assert [("300.2 r/min", "2026-02-01", "+0.2 r/min"), ("300.4 r/min", "2026-02-10", "-0.4 r/min")] == [
        (one.out, one.out_on, one.change) for name in ("L1", "L2") for one in _shown(bench, name).compared
    ]


def test_a_unit_that_is_lost_on_loan_is_missing_and_its_loan_is_over(bench: Engine) -> None:
    """The loss is noted with its loan; undone, the unit is out again. What is lost was not looked at."""
    _lend(bench)
    wrong = ComingBack("D1", GivenState("fine"), lost="left in a train")
    assert "D1 is lost, yet it is told how it came back." in _refused(_back, bench, wrong)
    assert "an estimate of what?" in _refused(_back, bench, ComingBack("D1", estimate="5"))
    _back(bench, ComingBack("D1", lost="left in a train", estimate="90"))

    with reading(bench) as conn:
        (loss,) = damage_list(conn)
    assert ("missing", "loss", "L1", Money(9000, "EUR")) == (
        _standing(bench, "D1"), loss.kind, loss.loan, loss.estimate,
    )  # fmt: skip
    undo(bench, None, **AT)
    assert "on loan" == _standing(bench, "D1")


def test_a_loan_is_extended_to_a_later_day_by_the_rules_of_a_new_one(bench: Engine) -> None:
    """Only the days that are added are asked for: a reservation that begins after them does not matter."""
    _lend(bench, due="2026-03-05")
    _reserve(bench)

    assert "L1 is due on 2026-03-05 already" in _refused(extend, bench, "L1", due="2026-03-05", **AT)
    assert "D1 is not lent longer: it is reserved" in _refused(extend, bench, "D1", due="2026-03-10", **AT)
    extend(bench, "d1", due="2026-03-09", **AT)
    (row,) = extend(bench, "L1", due="2026-03-11", all_the_same="Ilse agreed", **AT)
    assert "2026-03-11" == row.due_on
    (mark,) = _shown(bench, "L1").marks
    assert "(Ilse agreed): it is reserved from 2026-03-10" in mark[1]
    extend(bench, "L1", due="2026-03-12", all_the_same="she agreed again", **AT)
    _back(bench)
    assert "L1 is over: all of it is back." in _refused(extend, bench, "L1", due="2026-04-01", **AT)
    assert 'No loan and no unit is called "L7".' in _refused(extend, bench, "L7", due="2026-04-01", **AT)


def test_what_is_given_back_is_told_in_the_order_in_which_it_was_named(bench: Engine) -> None:
    """Of several loans too, whichever began first."""
    for tag in ("D1", "D4", "P1"):
        borrow(bench, [tag], lender=ILSE, due="2026-04-01", **AT)

    back = give_back(bench, ["D4", "P1", "D1"], **AT)

    assert ["D4", "P1", "D1"] == [row.tag for row in back]


def test_days_that_are_added_make_a_loan_of_the_borrowers_own_reservation_and_begin_after_its_last(
    bench: Engine,
) -> None:
    """What was overridden for the day on which it was due is not asked for again."""
    _reserve(bench, first="2026-03-05", last="2026-03-05")
    _reserve(bench, to=BRAM, first="2026-03-06", last="2026-03-07")
    _lend(bench, due="2026-03-05", all_the_same="Ilse agreed")
    extend(bench, "L1", due="2026-03-06", **AT)

    with reading(bench) as conn:
        told = [(row.person, row.state(TODAY), row.loan) for row in reservation_list(conn, TODAY, closed_too=True)]
    assert [(ILSE, "ahead", ""), (BRAM, "lent", "L1")] == told


def test_a_deposit_goes_back_once_when_all_is_back(bench: Engine) -> None:
    """Less than all of it needs a reason, more is refused; nothing at all may be kept too, with a reason."""
    _lend(bench, "D1", "D4", terms=GivenTerms(deposit="50"))
    _back(bench, "D4")
    assert "D1 of L1 is still out" in _refused(return_deposit, bench, "L1", **AT)
    _back(bench)
    for amount, says in (
        ("50.01", "50.01 EUR is more than the deposit of L1, 50.00 EUR."),
        ("49.99", "49.99 of 50.00 EUR would go back: the rest is kept for a reason."),
        ("50 USD", "The deposit of L1 is 50.00 EUR, and USD would go back."),
        ("-1", "A deposit of -1 EUR is below zero."),
    ):
        assert says in _refused(return_deposit, bench, "L1", amount, **AT)
    assert Money(0, "EUR") == return_deposit(bench, "L1", "0", reason="the lid", **AT).deposit_back
    undo(bench, None, **AT)
    assert Money(5000, "EUR") == return_deposit(bench, "l1", **AT).deposit_back
    assert "went back on 2026-03-01 already" in _refused(return_deposit, bench, "L1", **AT)
    undo(bench, None, **AT)
    assert "L1 began on 2026-03-01, after 2026-02-28." in _refused(return_deposit, bench, "L1", on="2026-02-28", **AT)
    return_deposit(bench, "L1", "20", reason="the lid", **AT)
    told = _refused(edit_loan, bench, "L1", {"deposit": "19.99"}, reason="miscounted", **AT)
    assert "More of the deposit went back than it would be." in told
    edit_loan(bench, "L1", {"deposit": "20"}, reason="miscounted", **AT)


def test_no_undo_puts_a_unit_on_two_loans_or_keeps_it_for_two(bench: Engine) -> None:
    """What would be brought back is refused while a later loan or reservation has its place."""
    _lend(bench, on="2026-02-01", due="2026-02-20")
    _back(bench, on="2026-02-10")
    back = scalar(bench, "SELECT id FROM act WHERE command = 'loan back'")
    _lend(bench, on="2026-02-20", all_the_same="looked over")

    assert "D1 would be on two loans at a time: it is on loan L2 meanwhile." in _refused(undo, bench, back, **AT)
    undo(bench, None, **AT)
    undo(bench, back, **AT)
    _back(bench, on="2026-02-10")
    _reserve(bench)
    unreserve(bench, ["D1"], **AT)
    _reserve(bench, to=BRAM, first="2026-03-20", last="2026-03-22")
    given_up = scalar(bench, "SELECT id FROM act WHERE command = 'loan unreserve'")
    assert "D1 would be reserved twice: it is reserved from 2026-03-20" in _refused(undo, bench, given_up, **AT)
    undo(bench, None, **AT)
    undo(bench, scalar(bench, "SELECT max(id) FROM act"), **AT)  # what was given up stands in nobody's way
    with reading(bench) as conn:
        assert [] == verify(conn).broken


def test_a_returned_unit_is_due_for_a_check_on_the_day_it_comes_back(bench: Engine) -> None:
    """So the next loan asks for a reason, or for that check."""
    _lend(bench, due="2026-03-05")
    _back(bench)

    told = _refused(_lend, bench, due=date(2026, 3, 6).isoformat())
    assert "D1 is not lent: clean head is due since 2026-03-01; check spindle speed is due since 2026-03-01." in told
