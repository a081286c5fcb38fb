"""The due list asks for rechecks beside what its months ask for, and never says one thing twice."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from collection.analysis.schedule import DueUnit, Finding, RecheckDue, UnitFacts, due_list, parse_procedure, plan_of

TODAY = date(2026, 11, 25)
SPEED, RAIL = "Spindle speed", "Rail voltage"
CHECK = parse_procedure(1, "check speed", every_months=12, retests="spindle speed", minutes=10)
SET = parse_procedure(2, "set speed", resets="spindle speed: level", retests="spindle speed", minutes=15)
ALIGN = parse_procedure(3, "align head", resets="radial alignment: level", retests="radial alignment")
RULES = [SET, CHECK, ALIGN]


def asked(measurement: str, day: date = TODAY, rule: str = "risk", point: str = "") -> RecheckDue:
    """Return a recheck whose reason is named by its rule alone."""
    return RecheckDue(measurement, point, day, rule, rule)


def row(*rechecks: RecheckDue, done: str = "", findings: tuple[Finding, ...] = ()) -> DueUnit | None:
    """Return the row of a drive whose speed was last checked as a procedure on a day."""
    unit = UnitFacts(1, "D1", "drive", last_done={1: done} if done else {}, rechecks=rechecks, findings=findings)
    return next(iter(due_list([unit], RULES, TODAY).rows), None)


def told(found: DueUnit | None) -> list[tuple[str, str]]:
    """Return procedure and reasons of each item of a row."""
    return [] if found is None else [(item.procedure, item.why) for item in found.items]


def test_a_recheck_is_asked_of_the_procedure_that_reads_without_setting() -> None:
    """Else of the one that mends it, else it is a look at the unit."""
    found = row(asked(SPEED), asked("Radial alignment"), asked("Read errors"))

    assert told(found) == [
        ("check speed", "Spindle speed: recheck by 25 Nov 2026, risk"),
        ("align head", "Radial alignment: recheck by 25 Nov 2026, risk"),
        ("look at", "Read errors: recheck by 25 Nov 2026, risk"),
    ]
    assert found is not None
    assert {item.kind for item in found.items} == {"recheck"}


@pytest.mark.parametrize(("ahead", "shown"), [(29, True), (30, True), (31, False)])
def test_a_recheck_is_shown_when_it_falls_within_the_days_asked_for(ahead: int, *, shown: bool) -> None:
    """The last day is included, as for any other work."""
    assert (row(asked(SPEED, TODAY + timedelta(days=ahead))) is not None) == shown


def test_whichever_comes_first_is_the_due_day() -> None:
    """A recheck before the months ends earlier; one after them delays nothing."""
    months = "check speed: 12 months since 1 Dec 2025"
    before, after = date(2026, 11, 30), date(2026, 12, 2)

    sooner, later = (row(asked(SPEED, day), done="2025-12-01") for day in (before, after))

    assert sooner is not None
    assert later is not None
    assert (sooner.due, later.due) == (before, date(2026, 12, 1))
    assert told(sooner) == [("check speed", f"Spindle speed: recheck by 30 Nov 2026, risk; {months}")]
    assert told(later) == [("check speed", f"{months}; Spindle speed: recheck by 2 Dec 2026, risk")]


@pytest.mark.parametrize(("day", "said"), [(30, True), (31, False), (32, False)])
def test_the_longest_interval_is_not_said_again_after_the_months_of_the_procedure(day: int, *, said: bool) -> None:
    """Months that end on 1 December: the longest interval a day before, that day, a day after."""
    found = row(asked(SPEED, date(2026, 10, 31) + timedelta(days=day), "longest"), done="2025-12-01")

    assert ("longest" in told(found)[0][1]) == said


def test_a_reading_out_of_its_limits_asks_for_no_recheck_beside_it() -> None:
    """The finding tells it; another point of the measurement still takes part."""
    finding = Finding(RAIL, "+5 V", "2026-11-01", "5.4 V", "5.25")

    found = row(asked(RAIL, point="+5 V"), asked(RAIL, point="-12 V"), findings=(finding,))

    assert found is not None
    assert found.items[0].reasons == (
        "Rail voltage +5 V: last reading 5.4 V, limit 5.25",
        "Rail voltage -12 V: recheck by 25 Nov 2026, risk",
    )


def test_points_with_one_answer_stand_in_one_reason() -> None:
    """Two rails by the same rule on the same day; a third by another rule has its own."""
    found = row(asked(RAIL, point="+5 V"), asked(RAIL, rule="span", point="+12 V"), asked(RAIL, point="-12 V"))

    assert found is not None
    assert found.items[0].reasons == (
        "Rail voltage +5 V, -12 V: recheck by 25 Nov 2026, risk",
        "Rail voltage +12 V: recheck by 25 Nov 2026, span",
    )


def test_of_several_procedures_the_one_done_most_often_gives_the_interval() -> None:
    """One without months comes last, one that sets is never asked."""
    rules = [
        SET,
        parse_procedure(4, "after arrival", triggers="after arrival", retests="spindle speed", minutes=1),
        parse_procedure(5, "each second year", every_months=24, retests="spindle speed", minutes=1),
        CHECK,
    ]

    months = [plan_of(rules[:n], "drive", "", "", "").recheck_months(SPEED) for n in (1, 2, 3, 4)]

    assert months == [None, None, 24, 12]
