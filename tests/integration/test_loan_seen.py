"""What is seen and read of a unit as it goes out on a loan and comes back, on both databases."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.limits import Whose, add_limit
from collection.acts.loan_back import take_back
from collection.acts.loan_given import ComingBack, GivenState, GoingOut
from collection.acts.loan_out import lend
from collection.acts.readings import GivenReading, add_reading
from collection.acts.safety_checks import add_safety_check
from collection.acts.undo import undo
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.loan_show import loan_shown
from collection.views.service_report import next_due
from collection.views.units import find_unit
from collection.views.verify import verify
from tests.support.books import scalar
from tests.support.cli import Ran, run_cli
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
BRAM, ILSE = "Bram Oakhollow", "Ilse Vanterpool"
COUNTER = "bench counter"


def _lend(engine: Engine, *values: str, grade: str = "", **given: Any) -> None:
    """Lend D1, whose speed read these values as it went out; its limit is 295.5 to 304.5."""
    read = tuple(GivenReading("spindle speed", value, instrument=COUNTER) for value in values)
    lend(engine, [GoingOut("D1", state=GivenState("looked over", grade, read))], **_to(given), **AT)


def _lend_graded(engine: Engine, tag: str, measurement: str, *grades: str, **given: Any) -> None:
    read = tuple(GivenReading(measurement, grade) for grade in grades)
    lend(engine, [GoingOut(tag, state=GivenState("looked over", "", read))], **_to(given), **AT)


def _to(given: dict[str, Any]) -> dict[str, Any]:
    return {"to": BRAM, "due": "2026-04-01", **given}


def _refused(engine: Engine, *values: str, **given: Any) -> str:
    """Return what is said against lending D1; nothing must have been written."""
    tables = ("act", "loan", "loan_item", "condition_check", "reading")
    before = [scalar(engine, f"SELECT count(*) FROM {table}") for table in tables]
    with pytest.raises(Refused) as refusal:
        _lend(engine, *values, **given)
    assert before == [scalar(engine, f"SELECT count(*) FROM {table}") for table in tables]
    return str(refusal.value)


@pytest.mark.parametrize(
    ("value", "out"),
    [("295.499", True), ("295.5", False), ("295.501", False), ("304.499", False), ("304.5", False), ("304.501", True)],
)
def test_a_reading_outside_its_limit_keeps_a_unit_from_being_lent(bench: Engine, value: str, *, out: bool) -> None:
    """On either bound it is within. A reason lends it, and stands in the mark with what it was given against."""
    if out:
        says = f"spindle speed is {value} r/min, limit 295.5 to 304.5"
        assert f"D1 is not lent: {says}. " in _refused(bench, value)
        _lend(bench, value, all_the_same="for show only")
        assert "for show only" == scalar(bench, "SELECT reason FROM act ORDER BY id DESC LIMIT 1")
        marks = [("D1", f"lent all the same (for show only): {says}")]
    else:
        _lend(bench, value)
        marks = []

    with reading(bench) as conn:
        assert marks == list(loan_shown(conn, "D1", TODAY).marks)
        assert [] == verify(conn).broken


def test_of_several_readings_of_a_measurement_the_last_counts(bench: Engine) -> None:
    """As in the due list: who reads again after a doubtful one is held to the second."""
    assert "spindle speed is 306 r/min" in _refused(bench, "300", "306")
    _lend(bench, "306", "300")


@pytest.mark.parametrize(("on", "out"), [("2026-02-14", True), ("2026-02-15", False), ("2026-02-16", False)])
def test_the_limit_of_the_day_it_goes_out_counts(bench: Engine, on: str, *, out: bool) -> None:
    """Of the unit itself, where it has one. Entered late, a later reading within the limit does not help it."""
    whose = Whose(measurement="spindle speed", unit="D1")
    add_limit(bench, whose, {"lower": "290", "upper": "310", "from_date": "2026-02-15"}, **AT)
    add_reading(bench, "D1", GivenReading("spindle speed", "300", instrument=COUNTER), **AT)
    if out:
        assert "spindle speed is 306 r/min, limit 295.5 to 304.5" in _refused(bench, "306", on=on)
    else:
        _lend(bench, "306", on=on)


@pytest.mark.parametrize(("grade", "out"), [("pass", False), ("marginal", False), ("Fail", True)])
def test_a_condition_graded_fail_keeps_a_unit_from_being_lent(bench: Engine, grade: str, *, out: bool) -> None:
    """Marginal is told of, and lent."""
    if out:
        assert "D1 is not lent: its condition is graded fail. " in _refused(bench, grade=grade)
        _lend(bench, grade=grade, all_the_same="agreed")
    else:
        _lend(bench, grade=grade)
    assert grade.lower() == scalar(bench, "SELECT grade FROM condition_check")


def test_a_measurement_that_fails_keeps_a_unit_from_being_lent(bench: Engine) -> None:
    """Failed, or marginal twice in a row: with the one before, or with one of the same handing over."""
    head = "head condition"
    for grades, says in ((("fail",), "is fail"), (("marginal", "marginal"), "is marginal twice in a row")):
        with pytest.raises(Refused, match=f"D1 is not lent: {head} {says}\\. "):
            _lend_graded(bench, "D1", head, *grades)
    _lend_graded(bench, "D1", head, "marginal")
    undo(bench, None, **AT)
    add_reading(bench, "D1", GivenReading(head, "marginal"), **AT)
    with pytest.raises(Refused, match="marginal twice in a row"):
        _lend_graded(bench, "D1", head, "marginal")
    _lend_graded(bench, "D1", head, "pass")
    undo(bench, None, **AT)
    _lend_graded(bench, "D1", head, "marginal", on="2026-02-28")  # the day before the other one was read


def test_an_electrical_safety_that_fails_at_going_out_is_overridden_by_no_reason(bench: Engine) -> None:
    """As that of a service or a check: what is read while the unit is handed over is its last."""
    add_safety_check(bench, "P1", "pass", by=ILSE, good_through="2026-12-31", **AT)
    for given in ({}, {"all_the_same": "only for a day"}):
        with pytest.raises(Refused) as refusal:
            _lend_graded(bench, "P1", "electrical safety", "fail", **given)
        says = "failed its last electrical safety check; no reason lends it." if given else "electrical safety is fail"
        assert says in str(refusal.value)
    _lend_graded(bench, "P1", "electrical safety", "pass")


def test_what_comes_back_outside_its_limits_is_taken_back_and_due(bench: Engine) -> None:
    """It is never refused, whatever it reads; what mends it is due from that day on."""
    _lend(bench, "300")
    read = (GivenReading("spindle speed", "306", instrument=COUNTER),)
    take_back(bench, [ComingBack("D1", GivenState("scratched", "fail", read))], **AT)

    with reading(bench) as conn:
        assert ["high"] == [one.says for one in loan_shown(conn, "L1", TODAY).compared]
        found = [item for item in next_due(conn, find_unit(conn, "D1").id, TODAY) if item.due <= TODAY]
    assert any("spindle speed: last reading 306 r/min, limit 304.5" in item.why for item in found)
    with pytest.raises(Refused, match="is due since 2026-03-01"):
        _lend(bench)
    undo(bench, None, **AT)
    assert 1 == scalar(bench, "SELECT count(*) FROM loan_item WHERE back_on IS NULL")


@pytest.fixture
def rated(bench: Engine, book_url: str) -> str:
    """Return the URL of the book in which the counter failed its own check, and P1 has a good safety check."""
    assert 0 == _run(book_url, "instrument", "check", COUNTER, "fail", "--on", "2026-02-20").code
    add_safety_check(bench, "P1", "pass", by=ILSE, good_through="2026-12-31", **AT)
    return book_url


def _run(book: str, *words: str) -> Ran:
    return run_cli(words, db=book, today=TODAY)


def test_what_is_doubtful_about_a_reading_is_said_wherever_a_condition_is_told(rated: str) -> None:
    """In the words of `reading add`, and to whoever asks for rows of a program beside these."""
    read = ("--condition", "ok", "--reading", f"spindle speed=150 @{COUNTER}", "--grade", "pass")
    plain = _run(rated, "reading", "add", "D4", "spindle speed", "150", "--instrument", COUNTER).out
    doubts = [line.removeprefix("Doubtful: ") for line in plain.splitlines() if line.startswith("Doubtful: ")]
    assert 2 == len(doubts)
    assert "far from nominal" in doubts[0]
    wanted = [f"Doubtful: D1: {doubt}" for doubt in doubts]
    to = ("--to", BRAM, "--due", "2026-04-01", "--all-the-same", "agreed")
    for words in (
        ("condition", "add", "D1", *read[:-2]),
        ("loan", "out", "D1", *read, *to),
        ("loan", "back", "D1", *read),
        ("loan", "in", "D1", *read, "--from", ILSE, "--due", "2026-04-01"),
        ("loan", "give-back", "D1", *read),
    ):
        ran = _run(rated, *words)
        assert 0 == ran.code, ran.err
        assert wanted == [line for line in ran.out.splitlines() if line.startswith("Doubtful")], words
    assert 0 == _run(rated, "undo").code
    assert wanted == _run(rated, "loan", "give-back", "D1", *read, "--json").err.splitlines()
