"""Events of the folder: known as whole rows, tied by name to services and loans, never rewritten."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.store.engine import reading
from collection.views.units import unit_on
from tests.support.folders import SMALL, bring, findings, plan, refusals, rows
from tests.support.times import NOW, TODAY

KEY = "0198c9a0-0000-7000-8000-00000000000b"
STANDING = "SELECT from_date, standing FROM unit_entry WHERE what = 'standing' ORDER BY id"

EVENTS = {
    "services": "service,tag,opened_on,closed_on,procedures,minutes\nS,D1,2025-05-01,2025-05-02,clean head,30\n",
    "parts": "tag,part,fitted_on\nD1,belt,2025-05-01\n",
    "faults": "tag,noticed_on,symptom\nD1,2025-05-01,hum\n",
    "hours": "tag,read_on,hours\nD1,2025-05-01,12.5\n",
    "valuations": "tag,valued_on,amount,currency,basis\nD1,2025-05-01,18,EUR,sold alike\n",
    "pairings": "drive,supply_unit,from_date\nD1,D2,2025-05-01\n",
    "entries": "tag,what,value,from_date\nD1,standing,in use,2025-05-01\n",
    "readings": "tag,measurement,taken_on,instrument,value,stage\nD1,spindle speed,2025-05-01,counter,300.1,between\n",
}


@pytest.mark.parametrize("file", sorted(EVENTS))
def test_two_equal_rows_are_two_events_and_stay_two(engine: Engine, file: str) -> None:
    """A multiset: a second equal row is new once, and nothing the next time."""
    heading, row = EVENTS[file].splitlines()
    other = row.replace("S,", "T,", 1) if file == "services" else row
    bring(engine, SMALL)

    once = bring(engine, {file: f"{heading}\n{row}\n"})
    twice = bring(engine, {file: f"{heading}\n{row}\n{other}\n"})
    again = plan(engine, {file: f"{heading}\n{row}\n{other}\n"})

    assert (once.totals["new"], twice.totals["new"], twice.totals["same"]) == (1, 1, 1)
    assert (again.totals["new"], again.totals["same"]) == (0, 2)


@pytest.mark.parametrize("file", sorted(EVENTS))
def test_events_of_an_undone_act_count_for_nothing(engine: Engine, file: str) -> None:
    """After an undo the same rows are new again."""
    bring(engine, SMALL)
    bring(engine, {file: EVENTS[file]})
    undo(engine, None, today=TODAY, now=NOW)

    assert plan(engine, {file: EVENTS[file]}).totals["new"] == 1


@pytest.mark.parametrize(
    ("file", "before", "after"),
    [
        ("hours", "12.5", "12.50"),
        ("valuations", ",18,", ",18.00,"),
        ("readings", "300.1", "300.10"),
        ("readings", "counter", "Counter"),
        ("services", "clean head", "Clean Head "),
        ("services", "S,", "another name,"),
        ("parts", "D1", "d1"),
    ],
)
def test_rows_are_compared_on_what_they_mean(engine: Engine, file: str, before: str, after: str) -> None:
    """Digits, capitals and the folder's own names of services make no other event."""
    bring(engine, {**SMALL, file: EVENTS[file]})

    assert plan(engine, {file: EVENTS[file].replace(before, after)}).changes_nothing


@pytest.mark.parametrize("file", ["hours", "valuations", "readings", "entries"])
def test_an_event_that_is_never_rewritten_is_refused_by_its_key(engine: Engine, file: str) -> None:
    """What differs from the row of the key is refused, with what to do instead."""
    heading, row = EVENTS[file].splitlines()
    bring(engine, {**SMALL, file: f"{heading},key\n{row},{KEY}\n"})

    made = plan(engine, {file: f"{heading},key\n{row.replace('05-01', '05-02')},{KEY}\n"})

    ((_file, line, column, rule),) = refusals(made)
    assert (line, column) == (2, next(name for name in heading.split(",") if name.endswith(("_on", "_date"))))
    assert "was 2025-05-01 and is never rewritten" in str(rule)


@pytest.mark.parametrize(
    ("file", "old", "new", "column"),
    [
        ("faults", "hum", "buzz", "symptom"),
        ("parts", "belt", "motor", "part"),
        ("pairings", "2025-05-01", "2025-05-03", "from_date"),
        ("services", ",30", ",31", "minutes"),
    ],
)
def test_an_event_that_may_change_is_changed_by_its_key(
    engine: Engine, file: str, old: str, new: str, column: str
) -> None:
    """Services, faults, parts and pairings are edited, and tell what they were."""
    heading, row = EVENTS[file].splitlines()
    bring(engine, {**SMALL, file: f"{heading},key\n{row},{KEY}\n"})

    made = bring(engine, {file: f"{heading},key\n{row.replace(old, new)},{KEY}\n"})

    (changed,) = findings(made, "changed")
    assert (changed.column, changed.rule) == (column, f"was {old.strip(',')}")
    assert plan(engine, {file: f"{heading},key\n{row.replace(old, new)},{KEY}\n"}).changes_nothing


@pytest.mark.parametrize("file", sorted(EVENTS))
def test_a_key_that_stands_twice_is_refused(engine: Engine, file: str) -> None:
    """Whether the book has events already or not: one key is one row."""
    heading, row = EVENTS[file].splitlines()
    text = f"{heading},key\n{row},{KEY}\n{row.replace('S,', 'T,', 1)},{KEY}\n"

    first = plan(engine, {**SMALL, file: text})
    bring(engine, {**SMALL, file: EVENTS[file]})

    for made in (first, plan(engine, {file: text})):
        assert (f"{file}.csv", 3, "key", "stands twice: see row 2") in refusals(made)


def test_tasks_of_a_service_are_never_rewritten(engine: Engine) -> None:
    """Another list of procedures under the same key is refused."""
    heading, row = EVENTS["services"].splitlines()
    bring(engine, {**SMALL, "services": f"{heading},key\n{row},{KEY}\n"})

    made = plan(engine, {"services": f"{heading},key\n{row.replace('clean head', 'dust out')},{KEY}\n"})

    assert [each[:3] for each in refusals(made)] == [("services.csv", 2, "procedures")]


def test_procedures_of_a_service_are_tasks_done_on_the_day_it_was_closed(engine: Engine) -> None:
    """Each procedure is a task with its revision; an open service's are done on the day it was opened."""
    text = "service,tag,opened_on,closed_on,procedures\nS,D1,2025-05-01,2025-05-02,clean head; dust out\n"
    bring(engine, {**SMALL, "services": text + "T,D2,2025-06-01,,clean head\n"})
    sql = (
        "SELECT p.name, t.done_on, t.procedure_revision = p.revision FROM task t"
        " JOIN procedure p ON p.id = t.procedure_id ORDER BY t.id"
    )

    assert [row[:2] for row in rows(engine, sql) if row[2]] == [
        ("clean head", "2025-05-02"),
        ("dust out", "2025-05-02"),
        ("clean head", "2025-06-01"),
    ]


def test_what_names_a_service_is_tied_to_it(engine: Engine) -> None:
    """Parts, faults, uses and readings join the service of that name; one of another unit is refused."""
    bring(
        engine,
        {
            **SMALL,
            "services": "service,tag,opened_on\nS,D1,2025-05-01\nS,D2,2025-06-01\n",
            "parts": "tag,part,fitted_on,service\nD2,belt,2025-06-01,S\n",
            "faults": "tag,noticed_on,symptom,service\nD1,2025-05-01,hum,s\n",
        },
    )
    sql = "SELECT u.tag FROM {} e JOIN service s ON s.id = e.service_id JOIN unit u ON u.id = s.unit_id"

    assert rows(engine, sql.format("fitted_part")) == [("D2",)]
    assert rows(engine, sql.format("fault")) == [("D1",)]
    known = {"faults": "tag,noticed_on,symptom,service\nD1,2025-05-03,buzz,S\n"}
    assert plan(engine, known).writable
    wrong = {
        "services": "service,tag,opened_on\nT,D1,2025-07-01\n",
        "faults": "tag,noticed_on,symptom,service\nD2,2025-05-03,buzz,T\nD2,2025-05-03,buzz,TT\n",
    }
    assert [rule for *_, rule in refusals(plan(engine, wrong))] == [
        "this service is of another unit",
        "there is no such service; nearest: T; correct it or add it to services.csv",
    ]


def test_a_service_name_stands_once_for_a_unit(engine: Engine) -> None:
    """Two services of one name and unit could not be told apart by what names them."""
    made = plan(engine, {**SMALL, "services": "service,tag,opened_on\nS,D1,2025-05-01\ns,D1,2025-06-01\n"})

    assert [each[:3] for each in refusals(made)] == [("services.csv", 3, "service")]


def test_no_fault_found_is_kept_as_what_it_says(engine: Engine) -> None:
    """The cause "no fault found" is a mark of its own, and comes back as it went in."""
    text = "tag,noticed_on,symptom,cause,closed_on\nD1,2025-05-01,hum,No fault found,2025-05-02\n"
    bring(engine, {**SMALL, "faults": text})

    assert rows(engine, "SELECT cause, no_fault_found FROM fault") == [(None, 1)]
    assert plan(engine, {"faults": text}).changes_nothing


def test_a_new_unit_dates_its_entries_from_the_day_it_was_acquired(engine: Engine) -> None:
    """Owner, location and standing of units.csv are entries from acquired_on, else from today."""
    text = "tag,model,location,standing,acquired_on\nD1,VK 1,shelf,ready,2019-05\nD2,VK 1,,arrived,\n"
    bring(engine, {**SMALL, "units": text})

    assert rows(engine, STANDING) == [("2019-05", "ready"), (TODAY.isoformat(), "arrived")]
    assert rows(engine, "SELECT from_date FROM unit_entry WHERE what = 'location'") == [("2019-05",)]


def test_entries_of_their_own_are_not_doubled(engine: Engine) -> None:
    """Where entries.csv ends in what units.csv says, nothing is added; else from today."""
    units = "tag,model,standing,acquired_on\nD1,VK 1,ready,2019\nD2,VK 1,ready,2019\n"
    entries = (
        "tag,what,value,from_date\nD1,standing,arrived,2019\nD1,standing,ready,2020-01-01\n"
        "D2,standing,arrived,2020-01-01\n"
    )
    bring(engine, {**SMALL, "units": units, "entries": entries})

    assert rows(engine, STANDING) == [
        ("2019", "arrived"),
        ("2020-01-01", "ready"),
        ("2020-01-01", "arrived"),
        (TODAY.isoformat(), "ready"),
    ]
    assert plan(engine, {"units": units, "entries": entries}).changes_nothing


def test_another_location_of_a_known_unit_is_an_entry_from_today(engine: Engine) -> None:
    """The unit is told as changed, and its earlier place stays in its history."""
    bring(engine, {**SMALL, "locations": "location\nshelf\nbench\n", "units": "tag,model,location\nD1,VK 1,shelf\n"})

    made = bring(engine, {"units": "tag,model,location\nD1,VK 1,bench\n"})

    (changed,) = findings(made, "changed")
    assert (changed.record, changed.column, changed.value, changed.rule) == (
        "unit D1",
        "location",
        "bench",
        "was shelf",
    )
    sql = "SELECT l.name FROM unit_entry e JOIN location l ON l.id = e.location_id ORDER BY e.id"
    assert rows(engine, sql) == [("shelf",), ("bench",)]


def test_a_loan_of_several_units_is_one_loan_and_needs_no_entry(engine: Engine) -> None:
    """Rows of one name share the loan; "on loan" follows from it, and ends with it."""
    units = "tag,model,standing\nD1,VK 1,on loan\nD2,VK 1,ready\n"
    loans = (
        "loan,tag,person,out_on,due_on,back_on,deposit\nL,D1,Ada,2026-01-01,2026-06-01,,50\n"
        "L,D2,Ada,2026-01-01,2026-06-01,2026-02-01,\n"
    )
    bring(engine, {**SMALL, "units": units, "loans": loans})

    assert rows(engine, "SELECT deposit_minor, direction FROM loan") == [(5000, "out")]
    assert rows(engine, "SELECT count(*) FROM loan_item") == [(2,)]
    assert rows(engine, STANDING) == [(TODAY.isoformat(), "ready")]
    ids = dict(rows(engine, "SELECT tag, id FROM unit"))
    with reading(engine) as conn:
        assert unit_on(conn, ids["D1"], TODAY).standing == "on loan"
        assert unit_on(conn, ids["D2"], TODAY).standing == "ready"
    assert plan(engine, {"units": units, "loans": loans}).changes_nothing


def test_a_borrowed_unit_may_be_lent_on(engine: Engine) -> None:
    """One open loan in and one out of the same unit stand side by side; a second of one direction is refused."""
    head = "loan,direction,tag,person,out_on,due_on\n"
    both = head + "IN,in,D1,Ada,2026-01-01,2026-06-01\nOUT,out,D1,Bo,2026-02-01,2026-05-01\n"

    bring(engine, {**SMALL, "loans": both})

    second = plan(engine, {"loans": head + "IN2,in,D1,Cy,2026-02-03,2026-05-01\n"})
    assert ["stands on loan IN since 2026-01-01 and is not back; give that row its key and back_on"] == [
        rule for *_, rule in refusals(second)
    ]


def test_a_new_row_of_a_known_loan_joins_it(engine: Engine) -> None:
    """A unit that is added to the folder's loan later stands on the same loan."""
    loans = "loan,tag,person,out_on,due_on\nL,D1,Ada,2026-01-01,2026-06-01\n"
    bring(engine, {**SMALL, "loans": loans})

    bring(engine, {"loans": loans + "L,D2,Ada,2026-01-01,2026-06-01\n"})

    assert rows(engine, "SELECT count(*) FROM loan") == [(1,)]
    assert rows(engine, "SELECT count(*) FROM loan_item") == [(2,)]


def test_a_unit_that_came_back_is_a_change_of_its_loan_where_the_loan_is_known(engine: Engine) -> None:
    """A unit stands on a loan once: with another row of the loan unchanged, back_on is told of that very item."""
    loans = (
        "loan,tag,person,out_on,due_on,back_on\nL,D1,Ada,2026-01-01,2026-06-01,{}\nL,D2,Ada,2026-01-01,2026-06-01,\n"
    )
    bring(engine, {**SMALL, "loans": loans.format("")})

    made = bring(engine, {"loans": loans.format("2026-02-01")})

    assert [(each.row, each.column) for each in findings(made, "changed")] == [(2, "back_on")]
    assert rows(engine, "SELECT back_on FROM loan_item ORDER BY id") == [("2026-02-01",), (None,)]


def test_a_loan_beside_an_open_one_of_the_unit_is_refused(engine: Engine) -> None:
    """A row of its own that says when the unit came back is another loan at the same time; an earlier one is none."""
    head = "loan,tag,person,out_on,due_on,back_on\n"
    bring(engine, {**SMALL, "loans": head + "L,D1,Ada,2026-01-01,2026-06-01,\n"})

    same_time = plan(engine, {"loans": head + "L,D1,Ada,2026-01-01,2026-06-01,2026-02-01\n"})
    before = plan(engine, {"loans": head + "K,D1,Ada,2025-01-01,2025-06-01,2026-01-01\n"})

    assert refusals(same_time) == [
        (
            "loans.csv",
            2,
            "tag",
            "stands on loan L since 2026-01-01 and is not back; give that row its key and back_on",
        )
    ]
    assert before.writable


@pytest.mark.parametrize(
    ("file", "column", "value"),
    [
        ("faults", "closed_on", "2025-06-01"),
        ("parts", "removed_on", "2025-06-01"),
        ("pairings", "to_date", "2025-06-01"),
        ("services", "findings", "worn"),
    ],
)
def test_what_an_event_is_told_later_without_its_key_is_doubtful(
    engine: Engine, file: str, column: str, value: str
) -> None:
    """As a whole row it is another event; the mark says that a key would change the one the book has."""
    heading, row = EVENTS[file].splitlines()
    if file == "services":
        heading, row = "service,tag,opened_on", "S,D1,2025-05-01"
    bring(engine, {**SMALL, file: f"{heading}\n{row}\n"})

    made = bring(engine, {file: f"{heading},{column}\n{row},{value}\n"})

    (doubt,) = findings(made, "doubtful")
    assert (doubt.row, doubt.column, doubt.value) == (2, column, value)
    assert "give this row its key" in str(doubt.rule)
    assert plan(engine, {file: f"{heading},{column}\n{row},{value}\n"}).changes_nothing
    assert rows(engine, "SELECT count(*) FROM doubt") == [(1,)]


@pytest.mark.parametrize(
    ("loans", "column", "words"),
    [
        ("L,D1,Ada,2026-01-01,2026-06-01\nL,D2,Ada,2026-01-01,2026-07-01\n", "due_on", "row 2 says 2026-06-01"),
        ("L,D1,Ada,2026-01-01,2026-06-01\nL,D1,Ada,2026-01-01,2026-06-01\n", "tag", "stands twice on this loan"),
        ("L,D1,Ada,2026-01-01,2026-06-01\nM,D1,Ada,2026-01-02,2026-06-01\n", "tag", "stands on loan L"),
        ("L,D1,Ada,2026-01-02,2026-01-01\n", "due_on", "is earlier than out_on"),
    ],
)
def test_a_loan_that_contradicts_itself_is_refused(engine: Engine, loans: str, column: str, words: str) -> None:
    """One loan has one due day and a unit once, and a unit is out once."""
    made = plan(engine, {**SMALL, "loans": f"loan,tag,person,out_on,due_on\n{loans}"})

    told = refusals(made)[-1]
    assert told[2] == column
    assert words in str(told[3])
