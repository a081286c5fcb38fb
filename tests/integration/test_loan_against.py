"""What stands against lending: in which order it is told, a condition that failed before, and of which unit; both."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.condition_checks import GivenCheck, add_check
from collection.acts.faults import add_fault
from collection.acts.loan_back import take_back
from collection.acts.loan_change import extend
from collection.acts.loan_given import GivenState, GoingOut
from collection.acts.loan_in import borrow
from collection.acts.loan_out import lend
from collection.acts.readings import GivenReading, add_reading
from collection.acts.reservations import reserve
from collection.acts.safety_checks import add_safety_check
from collection.acts.service_given import GivenService
from collection.acts.service_record import close_service, open_service, record_service
from collection.acts.undo import undo
from collection.acts.units import enter
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.condition_checks import failed_conditions
from collection.views.loan_show import loan_shown
from collection.views.units import find_unit, unit_on
from tests.support.books import scalar
from tests.support.cli import run_cli
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
BRAM, ILSE = "Bram Oakhollow", "Ilse Vanterpool"
FAILED = "its condition was graded fail on 2026-02-10"


def _lend(engine: Engine, *units: str | GoingOut, **given: Any) -> None:
    lend(engine, units or ("D1",), **{"to": BRAM, "due": "2026-04-01", **given}, **AT)


def _refused(do: Callable[..., Any], engine: Engine, *args: Any, **given: Any) -> Refused:
    """Return the refusal of an act; it must have written none."""
    before = scalar(engine, "SELECT max(id) FROM act")
    with pytest.raises(Refused) as refusal:
        do(engine, *args, **given)
    assert before == scalar(engine, "SELECT max(id) FROM act")
    return refusal.value


def _check(engine: Engine, grade: str, on: str = "2026-02-10", tag: str = "D1") -> None:
    add_check(engine, tag, GivenCheck("other", "lid cracked", grade), on=on, **AT)


def _marked(engine: Engine, name: str) -> list[str]:
    """Return what a loan was made against, unit by unit."""
    with reading(engine) as conn:
        return [rule.partition("): ")[2] for _, rule in loan_shown(conn, name, TODAY).marks]


def test_what_may_hurt_is_told_first_and_what_falls_due_last(bench: Engine) -> None:
    """The electrical safety is never among those that are only counted."""
    add_fault(bench, "P1", "hums", **AT)
    record_service(bench, "P1", GivenService(did=("dust out",), on="2025-03-20"), **AT)
    reserve(bench, ["P1"], to=ILSE, first="2026-03-25", last="2026-03-26", **AT)
    enter(bench, "P1", standing="on the bench", **AT)
    state = GivenState("dented", "fail", (GivenReading("rail voltage", "99", "+5 V", instrument="bench meter"),))
    safety = "it is fed from the mains and has no electrical safety check"

    told = _refused(_lend, bench, GoingOut("P1", state=state)).what
    assert told.startswith(f"P1 is not lent: {safety}; it is on the bench, not ready; ")
    assert told.endswith("; and 6 more.")
    _lend(bench, GoingOut("P1", state=state), all_the_same="agreed")
    assert [
        safety,
        "it is on the bench, not ready",
        "rail voltage[+5 V] is 99 V, limit 4.75 to 5.25",
        "its condition is graded fail",
        'fault "hums" is open',
        "rail and ripple check is due since 2026-03-01",  # the symptom asks for it
        "visual check of capacitors is due since 2026-03-01",
        "it is reserved from 2026-03-25 to 2026-03-26",
        "dust out falls due on 2026-03-20",
    ] == _marked(bench, "P1")[0].split("; ")


def test_work_for_a_reading_out_of_its_limit_is_told_before_work_whose_time_has_come(bench: Engine) -> None:
    """However late the other work is, and of a loan that is to last longer too."""
    record_service(bench, "D1", GivenService(did=("dust out",), on="2024-04-10"), **AT)
    _lend(bench, due="2026-03-05", all_the_same="agreed")
    assert "dust out is due since 2025-04-10" == _marked(bench, "D1")[0].split("; ")[0]
    add_reading(bench, "D1", GivenReading("spindle speed", "320", instrument="bench counter"), **AT)

    for told in (_longer(bench, "2026-04-01"), _again(bench)):
        first, *others = told.partition(": ")[2].split("; ")
        assert first.endswith("is due since 2026-03-01")
        assert any(other.startswith("dust out is due since 2025-04-10") for other in others)


def _longer(engine: Engine, due: str) -> str:
    return _refused(extend, engine, "D1", due=due, **AT).what


def _again(engine: Engine) -> str:
    take_back(engine, ["D1"], **AT)
    return _refused(_lend, engine).what


def test_a_condition_that_failed_before_keeps_a_unit_from_being_lent(bench: Engine) -> None:
    """From its day on, and for a reason it is lent; what to type once it is put right is said."""
    _check(bench, "fail")

    refusal = _refused(_lend, bench)
    assert f"D1 is not lent: {FAILED}." == refusal.what
    assert (
        'Once it is put right: spindlebook condition add D1 --condition "AS IT IS" --grade pass;'
        ' see: spindlebook unit show D1; or give a reason: --all-the-same "REASON".'
    ) == refusal.hint
    assert FAILED in _refused(_lend, bench, on="2026-02-10").what
    _lend(bench, on="2026-02-09")
    undo(bench, None, **AT)
    _lend(bench, all_the_same="for show only")
    assert [FAILED] == _marked(bench, "D1")
    _lend(bench, "D4")


@pytest.mark.parametrize("grade", ["pass", "marginal", ""])
@pytest.mark.parametrize(("on", "free"), [("2026-02-09", False), ("2026-02-10", True), ("2026-02-11", True)])
def test_a_later_check_takes_a_failed_one_away(bench: Engine, grade: str, on: str, *, free: bool) -> None:
    """Of one day the one that was entered last; one that was taken back counts for nothing."""
    _check(bench, "fail")
    _check(bench, grade, on)
    if free:
        _lend(bench)
        undo(bench, None, **AT)
        undo(bench, None, **AT)
    assert FAILED in _refused(_lend, bench).what


def test_a_condition_that_passes_as_it_goes_out_is_a_later_check_but_words_alone_are_none(bench: Engine) -> None:
    """One that fails again is told once."""
    _check(bench, "fail")

    assert FAILED in _refused(_lend, bench, GoingOut("D1", state=GivenState("as it was"))).what
    again = _refused(_lend, bench, GoingOut("D1", state=GivenState("as it was", "fail"))).what
    assert "D1 is not lent: its condition is graded fail." == again
    _lend(bench, GoingOut("D1", state=GivenState("lid replaced", "pass")))


@pytest.mark.parametrize(("on", "free"), [("2026-02-09", False), ("2026-02-10", True), ("2026-02-11", True)])
def test_a_later_service_takes_a_failed_check_away(bench: Engine, on: str, *, free: bool) -> None:
    """Of the day itself one that was entered after the check; an undone one counts for nothing."""
    _check(bench, "fail")
    record_service(bench, "D1", GivenService(on=on, outcome="ready", anyway="looked over"), **AT)

    with reading(bench) as conn:
        assert ({} if free else {find_unit(conn, "D1").id: "2026-02-10"}) == failed_conditions(conn, TODAY)
    undo(bench, None, **AT)
    assert FAILED in _refused(_lend, bench).what


def test_a_service_of_the_day_of_a_failed_check_counts_by_the_order_of_entry(bench: Engine) -> None:
    """One that was closed before it does not help; one that was opened before it, and closed after it, does."""
    record_service(bench, "D1", GivenService(on="2026-02-10", outcome="ready", anyway="looked over"), **AT)
    _check(bench, "fail")
    assert FAILED in _refused(_lend, bench).what
    undo(bench, None, **AT)
    undo(bench, None, **AT)

    open_service(bench, "D1", GivenService(on="2026-02-10"), **AT)
    _check(bench, "fail")
    assert FAILED in _refused(_lend, bench).what
    close_service(bench, "D1", GivenService(on="2026-02-10", outcome="ready", anyway="looked over"), **AT)
    with reading(bench) as conn:
        assert {} == failed_conditions(conn, TODAY)


def test_a_unit_whose_condition_failed_is_called_ready_for_a_reason_only(bench: Engine) -> None:
    """As one with an open fault; it is still lent for a reason alone."""
    _check(bench, "fail")
    enter(bench, "D1", standing="on the bench", **AT)

    assert f"D1 is not called ready: {FAILED}." == _refused(enter, bench, "D1", standing="ready", **AT).what
    enter(bench, "D1", standing="ready", reason="the lid is for show", **AT)
    assert FAILED in _refused(_lend, bench).what


def test_all_that_stands_against_a_longer_loan_of_several_units_is_told_at_once(bench: Engine) -> None:
    """A line of each, then what to type; what no reason overrides is among them."""
    add_safety_check(bench, "P1", "pass", by=ILSE, good_through="2026-03-31", **AT)
    borrow(bench, ["D4"], lender=ILSE, due="2026-04-15", **AT)
    _lend(bench, "D1", "D4", "P1", due="2026-03-05")
    reserve(bench, ["D1"], to=ILSE, first="2026-03-25", last="2026-03-26", **AT)

    refusal = _refused(extend, bench, "L2", due="2026-05-01", **AT)
    lines = refusal.what.splitlines()
    begins = (
        "D1 is not lent longer: it is reserved from 2026-03-25 to 2026-03-26",
        f"D4 is borrowed from {ILSE} until 2026-04-15 (loan L1), before 2026-05-01.",
        "P1 is not lent longer: its electrical safety check of 2026-03-01 is good through 2026-03-31 only",
    )
    for line, begin in zip(lines, begins, strict=True):
        assert line.startswith(begin), line
    assert 'or to lend D1, P1 longer give a reason: --all-the-same "REASON".' in refusal.hint
    with_reason = _refused(extend, bench, "L2", due="2026-05-01", all_the_same="agreed", **AT)
    assert begins[1] == with_reason.what
    assert "2026-03-05" == scalar(bench, "SELECT due_on FROM loan WHERE name = 'L2'")

    extend(bench, "L2", due="2026-04-15", all_the_same="agreed", **AT)
    assert [line.partition(": ")[2].rstrip(".").split("; ")[0] for line in (lines[0], lines[2])] == [
        each.split("; ")[0] for each in _marked(bench, "L2")
    ]


@pytest.mark.parametrize(("through", "longer"), [("2026-05-14", False), ("2026-05-15", True)])
def test_what_was_checked_while_a_unit_is_out_counts_for_a_longer_loan(
    bench: Engine, through: str, *, longer: bool
) -> None:
    """What the refusal says to type helps, where the new check is good through the new day."""
    add_safety_check(bench, "P1", "pass", by=ILSE, on="2026-02-01", good_through="2026-03-31", **AT)
    _lend(bench, "P1", on="2026-02-10", due="2026-03-05")
    refusal = _refused(extend, bench, "P1", due="2026-05-15", **AT)
    assert "its electrical safety check of 2026-02-01 is good through 2026-03-31 only" in refusal.what
    assert "spindlebook safety add P1 pass" in refusal.hint

    add_safety_check(bench, "P1", "pass", by=ILSE, good_through=through, **AT)

    if longer:
        (row,) = extend(bench, "P1", due="2026-05-15", **AT)
        assert ("2026-05-15", []) == (row.due_on, _marked(bench, "L1"))
    else:
        says = f"P1 is not lent longer: its electrical safety check of 2026-03-01 is good through {through} only."
        assert says == _refused(extend, bench, "P1", due="2026-05-15", **AT).what


def test_a_longer_loan_of_one_unit_is_refused_in_its_own_words(bench: Engine) -> None:
    """With what to look at, as a loan is."""
    _lend(bench, due="2026-03-05")
    reserve(bench, ["D1"], to=ILSE, first="2026-03-25", last="2026-03-26", **AT)

    refusal = _refused(extend, bench, "D1", due="2026-03-25", **AT)
    assert "D1 is not lent longer: it is reserved from 2026-03-25 to 2026-03-26." == refusal.what
    assert 'See: spindlebook unit show D1; or give a reason: --all-the-same "REASON".' == refusal.hint


def test_why_a_loan_was_made_all_the_same_reads_well_of_what_was_lent_borrowed_and_given_back(
    bench: Engine, book_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The words that are the label do not stand twice; those of a reason stay."""
    _check(bench, "fail")
    _lend(bench, "D1", all_the_same="shown all the same (shut)")
    enter(bench, "D4", owner=ILSE, **AT)
    borrow(bench, ["D4"], lender=BRAM, due="2026-04-15", all_the_same="he keeps it", **AT)
    enter(bench, "D4", owner=ILSE, **AT)
    ran = run_cli(("loan", "give-back", "D4", "--all-the-same", "he takes it home"), db=book_url)
    assert 0 == ran.code, ran.err

    rows = [
        line
        for loan in ("L1", "L2")
        for line in run_cli(("loan", "show", loan), db=book_url).out.splitlines()
        if line.startswith("all the same")
    ]
    assert [
        f"all the same  D1 lent (shown all the same (shut)): {FAILED}",
        "all the same  D4 borrowed (he keeps it): it belongs to somebody else than its lender",
        "all the same  D4 given back (he takes it home): it belongs to somebody else than its lender",
    ] == rows
    with reading(bench) as conn:
        assert "gone" == unit_on(conn, find_unit(conn, "D4").id, TODAY).standing
