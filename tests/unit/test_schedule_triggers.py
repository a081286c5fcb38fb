"""What makes one procedure due on one unit, and the words that say so.

The two clocks are those of IASA-TC 04, 5.4.7 (alignment of replay machines: 30 h, 6 months). The other triggers
are common practice, no source.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from collection.analysis.reasons import SinceBack
from collection.analysis.schedule import (
    Baseline,
    DueItem,
    Finding,
    ProcedureRule,
    UnitFacts,
    due_items,
    parse_procedure,
    plan_of,
)

ALWAYS = date.max
RE_LUBE = parse_procedure(1, "re-lube rails", applies_to="drive", every_months=12)
TWO_CLOCKS = parse_procedure(2, "check alignment", every_hours=30, every_months=6)


def items(*rules: ProcedureRule, until: date = ALWAYS, form: str = "long", **facts: object) -> list[DueItem]:
    """Return what is due on a belt drive with the given facts."""
    unit = UnitFacts(1, "D1", "drive", "belt", "Kestrel", "Rotor 5", **facts)  # type: ignore[arg-type]
    return list(due_items(unit, plan_of(rules, "drive", "belt", "Kestrel", "Rotor 5"), until, form))


def whys(*rules: ProcedureRule, **facts: object) -> list[tuple[date, str, str]]:
    """Return day, trigger and words of what is due."""
    return [(item.due, item.kind, item.why) for item in items(*rules, **facts)]  # type: ignore[arg-type]


def test_a_procedure_is_due_its_months_after_it_was_last_done() -> None:
    """Twelve months from 3 October 2025 is 3 October 2026, and the reason says since when."""
    expected = [(date(2026, 10, 3), "months", "re-lube rails: 12 months since 3 Oct 2025")]

    assert expected == whys(RE_LUBE, last_done={1: "2025-10-03"})


@pytest.mark.parametrize(("until", "n"), [(date(2026, 10, 2), 0), (date(2026, 10, 3), 1), (date(2026, 10, 4), 1)])
def test_the_last_day_looked_at_is_included(until: date, n: int) -> None:
    """The day before nothing is due, on the day it is."""
    assert n == len(items(RE_LUBE, until=until, last_done={1: "2025-10-03"}))


@pytest.mark.parametrize(
    ("rule", "facts"),
    [
        (parse_procedure(1, "w", every_hours=30), {"hours": [("2026-01-01", 0.0, False), ("2026-10-03", 30.0, False)]}),
        (parse_procedure(2, "w", every_months=12), {"baseline": {2: Baseline(first_due="2026-10-03")}}),
        (parse_procedure(2, "w", triggers="after loan"), {"loan_back_on": "2026-10-03"}),
        (parse_procedure(2, "w", triggers="unused 12 months"), {"last_used_on": "2025-10-03"}),
        (parse_procedure(2, "w", triggers="symptom squeal"), {"open_faults": [("2026-10-03", "squeal")]}),
        (parse_procedure(2, "w"), {"findings": [Finding("azimuth", "", "2026-10-03", "fail", "")]}),
    ],
)
def test_every_trigger_keeps_to_the_last_day_looked_at(rule: ProcedureRule, facts: dict[str, object]) -> None:
    """Whatever makes work due on 3 October is not there on the second and is on the third."""
    before = items(rule, until=date(2026, 10, 2), last_done={1: "2026-01-01"}, **facts)  # type: ignore[arg-type]
    on_the_day = items(rule, until=date(2026, 10, 3), last_done={1: "2026-01-01"}, **facts)  # type: ignore[arg-type]

    assert (0, 1) == (len(before), len(on_the_day))


def test_a_month_on_from_31_january_is_the_last_day_of_february() -> None:
    """Work done on a day that the next month lacks is due on that month's last day."""
    monthly = parse_procedure(1, "dust out", every_months=1)

    assert [(date(2026, 2, 28), "months", "dust out: 1 month since 31 Jan 2026")] == whys(
        monthly, last_done={1: "2026-01-31"}
    )


@pytest.mark.parametrize(
    ("done", "due", "words"),
    [("2023", date(2024, 1, 1), "2023"), ("2023-05", date(2024, 5, 1), "May 2023")],
)
def test_a_partial_day_counts_from_its_first_day(done: str, due: date, words: str) -> None:
    """A day "about 2023" is taken at its earliest, so work comes early rather than late."""
    assert [(due, "months", f"re-lube rails: 12 months since {words}")] == whys(RE_LUBE, last_done={1: done})


def test_days_are_written_in_the_date_form_of_the_book() -> None:
    """The form of the book reaches into the reasons."""
    (item,) = items(RE_LUBE, form="dmy", last_done={1: "2025-10-03"})

    assert "re-lube rails: 12 months since 03/10/2025" == item.why


def test_a_procedure_never_recorded_is_not_due_by_months_or_hours() -> None:
    """Without a start there is no interval, however long the unit has been here."""
    assert [] == items(RE_LUBE, TWO_CLOCKS, has_history=True, hours=[("2020", 0.0, False), ("2026", 900.0, False)])


def test_what_was_told_about_the_past_starts_the_clock() -> None:
    """Work last done "about 2023" is a start; a later service takes its place, an earlier one does not."""
    told = {1: Baseline(last_done="2023")}

    assert [date(2024, 1, 1)] == [item.due for item in items(RE_LUBE, baseline=told)]
    assert [date(2025, 6, 1)] == [item.due for item in items(RE_LUBE, baseline=told, last_done={1: "2024-06-01"})]
    assert [date(2024, 1, 1)] == [item.due for item in items(RE_LUBE, baseline=told, last_done={1: "2021-06-01"})]


def test_a_first_day_that_was_told_counts_until_the_work_is_done() -> None:
    """Work spread over the coming months is first due on its told day, then by its interval."""
    told = {1: Baseline(first_due="2026-05-12")}

    assert [(date(2026, 5, 12), "first due", "re-lube rails: first due 12 May 2026")] == whys(RE_LUBE, baseline=told)
    assert [date(2027, 4, 1)] == [item.due for item in items(RE_LUBE, baseline=told, last_done={1: "2026-04-01"})]
    assert [] == items(RE_LUBE, until=date(2026, 5, 11), baseline=told)


def test_12_hours_and_7_months_are_due_by_the_calendar() -> None:
    """Rule "30 h or 6 months" with 12 h used and 7 months gone: overdue since the sixth month."""
    hours = [("2026-04-25", 100.0, False), ("2026-11-20", 112.0, False)]

    assert [(date(2026, 10, 25), "months", "check alignment: 6 months since 25 Apr 2026")] == whys(
        TWO_CLOCKS, until=date(2026, 11, 25), last_done={2: "2026-04-25"}, hours=hours
    )


def test_31_hours_and_1_month_are_due_by_use() -> None:
    """Rule "30 h or 6 months" with 31 h used in a month: due since the meter was read."""
    hours = [("2026-10-25", 100.0, False), ("2026-11-20", 131.0, False)]

    assert [(date(2026, 11, 20), "hours", "check alignment: 31 h since 25 Oct 2026, every 30 h")] == whys(
        TWO_CLOCKS, until=date(2026, 11, 25), last_done={2: "2026-10-25"}, hours=hours
    )


@pytest.mark.parametrize(("shown", "n"), [(129.9, 0), (130.0, 1), (130.1, 1)])
def test_hours_are_due_at_their_number_and_not_below(shown: float, n: int) -> None:
    """29.9 h are not 30."""
    by_use = parse_procedure(2, "check alignment", every_hours=30)
    hours = [("2026-10-25", 100.0, False), ("2026-11-20", shown, False)]

    assert n == len(items(by_use, last_done={2: "2026-10-25"}, hours=hours))


def test_hours_go_on_over_a_reset_of_the_meter() -> None:
    """20 h before the reset and 11 after it are 31 h."""
    hours = [("2026-10-25", 100.0, False), ("2026-11-01", 120.0, False), ("2026-11-20", 11.0, True)]

    assert ["check alignment: 31 h since 25 Oct 2026, every 30 h; check alignment: 6 months since 25 Oct 2026"] == [
        item.why for item in items(TWO_CLOCKS, last_done={2: "2026-10-25"}, hours=hours)
    ]


def test_without_a_meter_only_the_calendar_counts() -> None:
    """Hours mean nothing on a unit whose meter nobody reads."""
    assert [date(2026, 10, 25)] == [item.due for item in items(TWO_CLOCKS, last_done={2: "2026-04-25"})]


@pytest.mark.parametrize(
    ("trigger", "fact", "words"),
    [
        ("arrival", "arrived_on", "arrived 3 Oct 2025"),
        ("loan", "loan_back_on", "back from loan 3 Oct 2025"),
        ("transport", "transported_on", "transported 3 Oct 2025"),
    ],
)
def test_an_event_calls_for_work_until_it_is_done(trigger: str, fact: str, words: str) -> None:
    """Due from the day of the event while not done since; done on the day itself or later is enough."""
    rule = parse_procedure(1, "check", triggers=f"after {trigger}")

    assert [(date(2025, 10, 3), trigger, f"check: {words}")] == whys(rule, **{fact: "2025-10-03"})
    assert 1 == len(items(rule, **{fact: "2025-10-03"}, last_done={1: "2025-10-02"}))  # type: ignore[arg-type]
    assert [] == items(rule, **{fact: "2025-10-03"}, last_done={1: "2025-10-03"})  # type: ignore[arg-type]
    assert [] == items(rule, **{fact: "2025-10-03"}, until=date(2025, 10, 2))


@pytest.mark.parametrize(("back_on", "n"), [("2025-10-02", 0), ("2025-10-03", 1), ("2025-10-04", 1)])
def test_what_was_done_before_a_return_of_the_same_day_was_not_done_since(back_on: str, n: int) -> None:
    """Only on the day of the return does the order of entry decide, and for what is due after loans alone."""
    rule = parse_procedure(1, "check", triggers="after loan; after arrival")
    facts: dict[str, Any] = {"loan_back_on": back_on, "arrived_on": "2025-10-03", "last_done": {1: "2025-10-03"}}

    assert n == len(items(rule, since_back=SinceBack(frozenset({2}), looked=True), **facts))
    later = back_on > "2025-10-03"
    assert later == bool(items(rule, since_back=SinceBack(frozenset({1}), looked=True), **facts))


def test_an_event_without_its_trigger_calls_for_nothing() -> None:
    """A check after loan is not due because the unit arrived or was moved."""
    rule = parse_procedure(1, "check", triggers="after loan")

    assert [] == items(rule, arrived_on="2025-10-03", transported_on="2025-10-03")


def test_a_unit_unused_for_months_is_due_when_they_are_over() -> None:
    """Twelve months after the last use, or after the work was done since; without any known use never."""
    rule = parse_procedure(1, "exercise", triggers="unused 12 months")

    assert [(date(2026, 10, 3), "unused", "exercise: unused for 12 months since 3 Oct 2025")] == whys(
        rule, last_used_on="2025-10-03"
    )
    assert [date(2026, 12, 1)] == [
        item.due for item in items(rule, last_used_on="2025-10-03", last_done={1: "2025-12-01"})
    ]
    assert [] == items(rule, last_done={1: "2020-12-01"})


@pytest.mark.parametrize(
    ("symptom", "n"),
    [
        ("Squeals when cold", 1),
        ("motor SQUEAL", 1),
        ("speed wanders", 1),
        ("wanders in speed", 1),
        ("speed is fine, head noisy", 0),
        ("", 0),
    ],
)
def test_an_open_fault_calls_for_what_its_symptom_names(symptom: str, n: int) -> None:
    """All words of one trigger must stand in the symptom, in any order and case, also inside longer words."""
    rule = parse_procedure(1, "replace belt", triggers="symptom squeal; symptom speed wanders")

    assert n == len(items(rule, open_faults=[("2025-10-03", symptom)]))


def test_a_fault_is_due_from_the_day_it_was_noticed_until_the_work_is_done() -> None:
    """The reason quotes the symptom; work done since answers it even while the fault is still open."""
    rule = parse_procedure(1, "replace belt", triggers="symptom squeal")
    faults = [("2025-10-03", "squeals when cold")]

    assert [(date(2025, 10, 3), "symptom", 'replace belt: fault "squeals when cold" noticed 3 Oct 2025')] == whys(
        rule, open_faults=faults
    )
    assert [] == items(rule, open_faults=faults, last_done={1: "2025-10-03"})


SPEED = Finding("spindle speed", "", "2026-03-04", "304.9 r/min", "304.5")
CHECK = parse_procedure(3, "check spindle speed", retests="spindle speed", minutes=5)
SET = parse_procedure(
    4,
    "set spindle speed",
    applies_to="belt",
    resets="spindle speed: level",
    retests="spindle speed",
    minutes=20,
)
BELT = parse_procedure(5, "replace belt", applies_to="belt", resets="spindle speed: level+slope", minutes=10)


def test_a_reading_out_of_its_limits_is_due_through_the_procedure_that_resets_it() -> None:
    """On its own day, in its own words; setting the speed disturbs less than a new belt."""
    (item,) = items(CHECK, BELT, SET, findings=[SPEED])

    assert ("set spindle speed", 4, "limit") == (item.procedure, item.procedure_id, item.kind)
    assert (date(2026, 3, 4), "spindle speed: last reading 304.9 r/min, limit 304.5") == (item.due, item.why)


@pytest.mark.parametrize(
    ("resets", "minutes", "mends"),
    [
        (("speed: level", "speed: level"), (20, 10), 2),
        (("speed: level", "speed: level"), (10, 10), 1),
        (("speed: level+slope", "speed: level"), (10, 20), 2),
        (("speed: level; azimuth: level", "speed: level+slope"), (10, 20), 2),
    ],
)
def test_of_several_procedures_the_one_that_disturbs_least_mends(
    resets: tuple[str, str], minutes: tuple[int, int], mends: int
) -> None:
    """Fewest resets, then level before slope, then least time, then the order of work."""
    rules = [
        parse_procedure(number, f"work {number}", resets=of, minutes=time)
        for number, of, time in zip((1, 2), resets, minutes, strict=True)
    ]
    finding = Finding("speed", "", "2026-03-01", "9", "8")

    assert [mends] == [item.procedure_id for item in items(*rules, findings=[finding])]


def test_where_nothing_resets_it_the_procedure_that_retests_it_is_due() -> None:
    """A crystal drive has no speed to set, so the speed is checked again."""
    assert ["check spindle speed"] == [item.procedure for item in items(CHECK, RE_LUBE, findings=[SPEED])]


def test_where_nothing_mends_it_the_unit_is_to_be_looked_at() -> None:
    """Two findings that no procedure knows are one look, each with its point, value and limit."""
    rail = Finding("rail voltage", "+5 V", "2026-03-05", "5.31 V", "5.25")
    grade = Finding("azimuth", "", "2026-03-01", "fail", "")
    (item,) = items(RE_LUBE, findings=[rail, grade])

    assert ("look at", None, date(2026, 3, 1)) == (item.procedure, item.procedure_id, item.due)
    assert "azimuth: last reading fail; rail voltage +5 V: last reading 5.31 V, limit 5.25" == item.why


def test_a_procedure_for_other_units_mends_nothing_here() -> None:
    """What resets the speed of direct drives does not help a belt drive."""
    other = parse_procedure(6, "trim motor", applies_to="direct adjustable", resets="spindle speed: level")

    assert ["look at"] == [item.procedure for item in items(other, findings=[SPEED])]


def test_a_finding_after_the_last_day_looked_at_is_not_due_yet() -> None:
    """The due list of an earlier day does not know later readings."""
    assert [] == items(SET, until=date(2026, 3, 3), findings=[SPEED])
    assert 1 == len(items(SET, until=date(2026, 3, 4), findings=[SPEED]))


def test_one_procedure_with_several_reasons_is_one_item() -> None:
    """It is due by the earliest, and all reasons are told, earliest first."""
    rule = parse_procedure(4, "set spindle speed", every_months=12, resets="spindle speed: level")
    (item,) = items(rule, findings=[SPEED], last_done={4: "2025-03-10"})

    assert (date(2026, 3, 4), "limit") == (item.due, item.kind)
    assert (
        "spindle speed: last reading 304.9 r/min, limit 304.5; set spindle speed: 12 months since 10 Mar 2025"
        == item.why
    )


def test_items_come_by_day_and_those_of_one_day_in_the_order_of_work() -> None:
    """The arrival check stands before what may follow on the same day."""
    rules = [parse_procedure(n, name, triggers="after arrival") for n, name in enumerate(["arrival check", "a test"])]
    found = items(*rules, RE_LUBE, arrived_on="2026-01-01", last_done={1: "2026-01-01"})

    assert [("arrival check", date(2026, 1, 1)), ("re-lube rails", date(2027, 1, 1))] == [
        (item.procedure, item.due) for item in found
    ]
    assert ["arrival check", "a test"] == [item.procedure for item in items(*rules, arrived_on="2026-01-01")]
