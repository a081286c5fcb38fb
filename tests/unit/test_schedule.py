"""The due list: one row per unit, in order, with what is left out and what has no history counted."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.analysis import schedule
from collection.analysis.months import add_months
from collection.analysis.schedule import (
    Baseline,
    DueList,
    Finding,
    Plan,
    ProcedureRule,
    UnitFacts,
    by_procedure,
    due_list,
    parse_procedure,
    tag_order,
)
from collection.errors import Refused

TODAY = date(2026, 11, 25)
DUST = parse_procedure(1, "dust out", applies_to="drive; supply unit", every_months=6)
RE_LUBE = parse_procedure(2, "re-lube rails", applies_to="drive", every_months=12)
ARRIVAL = parse_procedure(3, "arrival check", triggers="after arrival; unused 12 months")
RULES = [ARRIVAL, DUST, RE_LUBE]


def drive(tag: str, **facts: object) -> UnitFacts:
    """Return a ready belt drive with the given facts."""
    standing = facts.pop("standing", "ready")
    return UnitFacts(1, tag, "drive", "belt", "Kestrel", "Rotor 5", standing=standing, **facts)  # type: ignore[arg-type]


def tags(listed: DueList) -> list[str]:
    """Return the tags of the rows in order."""
    return [row.tag for row in listed.rows]


def test_one_opening_that_does_several_procedures_is_one_row() -> None:
    """The row is due by its earliest item and counts the days over from it."""
    listed = due_list([drive("D1", last_done={1: "2026-05-20", 2: "2025-11-01"})], RULES, TODAY)
    (row,) = listed.rows

    assert ("D1", date(2026, 11, 1), 24) == (row.tag, row.due, row.days_over)
    assert ["re-lube rails", "dust out"] == [item.procedure for item in row.items]
    assert ("", True) == (row.note, row.at_hand)


@pytest.mark.parametrize(
    ("done", "shown", "days_over"),
    [
        ("2026-06-26", False, None),
        ("2026-06-25", True, -30),
        ("2026-05-26", True, -1),
        ("2026-05-25", True, 0),
        ("2026-05-24", True, 1),
    ],
)
def test_by_default_the_next_30_days_are_shown(done: str, days_over: int | None, *, shown: bool) -> None:
    """Due in 31 days is not shown, due in 30 is, due today is 0 and yesterday 1 day over."""
    listed = due_list([drive("D1", last_done={1: done})], [DUST], TODAY)

    assert ([days_over] if shown else []) == [row.days_over for row in listed.rows]


@pytest.mark.parametrize(("within", "n"), [(0, 1), (59, 1), (60, 2), (61, 2)])
def test_a_wider_horizon_shows_more(within: int, n: int) -> None:
    """Zero days show what is due today and before; the last day asked for is included."""
    today_and_later = [drive("D1", last_done={1: "2026-05-25"}), drive("D2", last_done={1: "2026-07-24"})]

    assert n == len(due_list(today_and_later, [DUST], TODAY, within).rows)


@pytest.mark.parametrize(("within", "good"), [(-1, False), (0, True), (36525, True), (36526, False)])
def test_a_horizon_is_0_days_to_a_hundred_years(within: int, *, good: bool) -> None:
    """A horizon in the past or beyond any plan is refused with the value seen."""
    if good:
        assert TODAY + timedelta(days=within) == due_list([], RULES, TODAY, within).until
    else:
        with pytest.raises(Refused, match=f"^{within} days ahead is outside 0 to 36525"):
            due_list([], RULES, TODAY, within)


def test_rows_come_most_overdue_first_then_by_tag_as_people_count() -> None:
    """D2 stands before D10, and both after what is longer overdue."""
    units = [drive(tag, last_done={1: "2026-05-01"}) for tag in ("D10", "d2", "D1")]
    units.append(drive("Z9", last_done={1: "2026-04-30"}))

    assert ["Z9", "D1", "d2", "D10"] == tags(due_list(units, RULES, TODAY))


@pytest.mark.parametrize("standing", ["missing", "gone", "donor"])
def test_units_that_are_no_more_to_be_kept_up_are_only_counted(standing: str) -> None:
    """Neither a row nor a unit without history, but said."""
    listed = due_list(
        [drive("D1", standing=standing, last_done={1: "2020"}), drive("D2", standing=standing)], RULES, TODAY
    )

    assert ((), (), {standing: 2}) == (listed.rows, listed.no_history, listed.left_out)


@pytest.mark.parametrize(
    ("facts", "note"),
    [
        ({"standing": "on loan", "loan_due": "2025-12-03"}, "on loan until 3 Dec 2025"),
        ({"standing": "on loan", "standing_since": "2025-09-01"}, "on loan since 1 Sep 2025"),
        ({"standing": "away", "standing_since": "2025-09-01"}, "away since 1 Sep 2025"),
        ({"standing": "away"}, "away"),
    ],
)
def test_units_out_of_the_house_keep_their_work_and_say_where_they_are(facts: dict[str, str], note: str) -> None:
    """What is due stays due while a unit is on loan or away; it is only not at hand."""
    (row,) = due_list([drive("D1", last_done={1: "2026-01-01"}, **facts)], RULES, TODAY).rows

    assert (note, False, 1) == (row.note, row.at_hand, len(row.items))


@pytest.mark.parametrize("standing", ["arrived", "on the bench", "ready", "in use", "awaiting parts", ""])
def test_every_other_standing_is_at_hand(standing: str) -> None:
    """A unit on the bench or waiting for parts is in the house."""
    (row,) = due_list([drive("D1", standing=standing, last_done={1: "2026-01-01"})], RULES, TODAY).rows

    assert ("", True) == (row.note, row.at_hand)


def test_units_without_any_history_are_one_count_and_not_a_hundred_overdue_rows() -> None:
    """No service, reading, told day or trigger: the tags are kept for the block "no history yet"."""
    listed = due_list([drive(f"D{n}") for n in range(100, 0, -1)], RULES, TODAY)

    assert () == listed.rows
    assert tuple(f"D{n}" for n in range(1, 101)) == listed.no_history


def test_a_unit_that_no_procedure_applies_to_is_not_asked_for_a_history() -> None:
    """A disk needs no service, so that it has none says nothing."""
    disk = UnitFacts(1, "M1", "medium")

    assert (("M1",), ()) == (
        due_list([disk], [ARRIVAL], TODAY).no_history,
        due_list([disk], [DUST, RE_LUBE], TODAY).no_history,
    )


@pytest.mark.parametrize(
    "facts",
    [
        {"has_history": True},
        {"last_done": {1: "2026-11-01"}},
        {"baseline": {2: Baseline(first_due="2027-11-01")}},
        {"last_used_on": "2026-11-01"},
    ],
)
def test_a_unit_with_any_history_is_not_in_that_count(facts: dict[str, object]) -> None:
    """A service, a reading, a told day, or a trigger that will come due: something is known."""
    listed = due_list([drive("D1", **facts)], RULES, TODAY)

    assert ((), ()) == (listed.rows, listed.no_history)


@pytest.mark.parametrize(
    "facts",
    [
        {"arrived_on": "2026-11-20"},
        {"findings": [Finding("spindle speed", "", "2026-11-20", "304.9 r/min", "304.5")]},
    ],
)
def test_a_trigger_alone_makes_a_row(facts: dict[str, object]) -> None:
    """A unit that has just arrived is due for its arrival check although nothing was recorded yet."""
    listed = due_list([drive("D1", **facts)], RULES, TODAY)

    assert (["D1"], ()) == (tags(listed), listed.no_history)


def test_procedures_for_other_kinds_are_not_due_here() -> None:
    """A supply unit has no rails to re-lube, whatever was written down on it."""
    unit = UnitFacts(1, "PS1", "supply unit", last_done={1: "2026-01-01", 2: "2020-01-01"})
    (row,) = due_list([unit], RULES, TODAY).rows

    assert ["dust out"] == [item.procedure for item in row.items]


def test_the_same_work_is_grouped_by_procedure() -> None:
    """Every procedure once, most overdue first, with its units most overdue first."""
    units = [
        drive("D10", last_done={1: "2026-01-01", 2: "2025-10-01"}),
        drive("D2", last_done={1: "2026-01-01"}),
        drive("D3", last_done={1: "2026-02-01", 2: "2024-10-01"}),
    ]
    groups = by_procedure(due_list(units, RULES, TODAY).rows, TODAY)

    assert [
        ("re-lube rails", 2, date(2025, 10, 1), 420, ["D3", "D10"]),
        ("dust out", 1, date(2026, 7, 1), 147, ["D2", "D10", "D3"]),
    ] == [
        (group.procedure, group.procedure_id, group.due, group.days_over, [row.tag for row, _ in group.units])
        for group in groups
    ]
    assert ["dust out: 6 months since 1 Feb 2026"] == [item.why for row, item in groups[1].units if row.tag == "D3"]


def test_an_empty_collection_has_an_empty_list() -> None:
    """No unit, no row, no group."""
    listed = due_list([], RULES, TODAY)

    assert DueList(date(2026, 12, 25), (), (), {}) == listed
    assert () == by_procedure(listed.rows, TODAY)


def test_which_procedures_apply_is_found_once_per_model(monkeypatch: pytest.MonkeyPatch) -> None:
    """A thousand units of two models cost two plans, so that the list stays in proportion to its facts."""
    made: list[str] = []
    plan_of = schedule.plan_of

    def counting(rules: Sequence[ProcedureRule], *model: str) -> Plan:
        made.append(" ".join(model))
        return plan_of(rules, *model)

    monkeypatch.setattr(schedule, "plan_of", counting)
    due_list(
        [drive(f"D{n}", last_done={1: "2026"}) for n in range(999)] + [UnitFacts(1, "P", "PC supply")],
        RULES,
        TODAY,
    )

    assert ["drive belt Kestrel Rotor 5", "PC supply   "] == made


DONE = st.dates(date(2020, 1, 1), TODAY).map(date.isoformat)


@given(st.lists(st.tuples(DONE, DONE), max_size=30), st.integers(0, 800), st.randoms())
def test_the_list_against_the_rule_applied_one_unit_at_a_time(
    done: list[tuple[str, str]], within: int, shuffled: st.DataObject
) -> None:
    """Exactly the units with a day in reach are shown, by that day and tag, whatever order they come in."""
    until = TODAY + timedelta(days=within)
    due = [
        (min(add_months(date.fromisoformat(dust), 6), add_months(date.fromisoformat(lube), 12)), n)
        for n, (dust, lube) in enumerate(done)
    ]
    expected = [f"D{n}" for first, n in sorted(due) if first <= until]
    units = [drive(f"D{n}", last_done={1: dust, 2: lube}) for n, (dust, lube) in enumerate(done)]
    shuffled.shuffle(units)  # type: ignore[attr-defined]

    assert expected == tags(due_list(units, RULES, TODAY, within))


@pytest.mark.parametrize(
    ("ordered"),
    [
        ["D1", "D2", "D10"],
        ["7", "D7", "E1"],
        ["D1", "D1a", "D1b", "D2"],
        ["d1", "D2"],
        ["A-2-1", "A-2-10", "A-10-1"],
    ],
)
def test_tags_sort_as_people_count(ordered: list[str]) -> None:
    """Numbers inside a tag count as numbers, and case does not matter."""
    assert ordered == sorted(set(ordered), key=tag_order)
