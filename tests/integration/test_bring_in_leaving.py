"""Units that a folder calls gone: what holds a unit of the book here refuses it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from sqlalchemy.engine import Engine

from collection.acts.work import Work
from collection.views.units import find_unit
from tests.support.folders import SMALL, bring, plan, refusals, rows
from tests.support.shelf import Shelf, shelf

LOANS = "loan,direction,tag,person,out_on,due_on,back_on\n"
GONE = "tag,what,value,from_date,note\nD1,standing,gone,2026-02-20,sold\n"
GONE_ROW = "tag,model,maker,standing\nD1,VK 1,Velkari,gone\nD2,VK 1,Velkari,\n"
TIES: dict[str, tuple[Callable[[Shelf, int], object], str]] = {
    "loan": (
        lambda made, unit: made.lend(unit, "2026-02-01", "2026-04-01"),
        (
            "is on loan since 2026-02-01 (loan L1); end the loan first: spindlebook loan back D1;"
            ' if it is lost: spindlebook loan back D1 --lost "WHAT BECAME OF IT"'
        ),
    ),
    "borrowed": (
        lambda made, unit: made.lend(unit, "2026-02-01", "2026-04-01", direction="in"),
        (
            "is borrowed since 2026-02-01 (loan L1); it goes back, and nowhere else: spindlebook loan give-back D1;"
            ' if it is lost: spindlebook damage add D1 "WHAT BECAME OF IT" --lost unit'
        ),
    ),
    "reserved": (
        lambda made, unit: made.work.insert(
            "reservation", unit_id=unit, person_id=made.person("Ada"), from_date="2026-06-01", to_date="2026-06-02"
        ),
        (
            "is reserved from 2026-06-01 to 2026-06-02;"
            " give that up first: spindlebook loan unreserve D1 --from 2026-06-01"
        ),
    ),
    "service": (
        lambda made, unit: made.work.insert("service", name="S", unit_id=unit, opened_on="2026-02-01"),
        "has a service open since 2026-02-01; close it first: spindlebook service close D1 --outcome away",
    ),
    "seen": (
        lambda made, unit: made.location(unit, "shelf A", "2026-02-21"),
        "was here on 2026-02-21, after 2026-02-20: moved; write a day on which it had left",
    ),
}


def _tie(engine: Engine, what: str) -> None:
    bring(engine, SMALL)
    with shelf(engine) as made:
        TIES[what][0](made, _d1(made.work))


def _d1(work: Work) -> int:
    return find_unit(work.conn, "D1").id


@pytest.mark.parametrize("what", TIES)
def test_a_unit_that_something_holds_here_is_not_called_gone_by_a_folder(engine: Engine, what: str) -> None:
    """Neither by an entry nor by the standing of its row, which is of today; another unit is."""
    _tie(engine, what)

    assert [("entries.csv", 2, "value", TIES[what][1])] == refusals(plan(engine, {"entries": GONE}))
    by_row = refusals(plan(engine, {"units": GONE_ROW}))
    assert ([] if what == "seen" else [("units.csv", 2, "standing", TIES[what][1])]) == by_row
    assert plan(engine, {"entries": GONE.replace("D1", "D2").replace("02-20", "02-21")}).writable
    assert plan(engine, {"entries": GONE.replace("02-20", "02-21")}).writable is (what == "seen")


@pytest.mark.parametrize(("what", "direction"), [("loan", "out"), ("borrowed", "in")])
def test_a_folder_that_ends_the_loan_as_well_may_call_the_unit_gone(engine: Engine, what: str, direction: str) -> None:
    """One that begins a loan of a unit of the book may not: it is out and gone at once."""
    bring(engine, SMALL)
    head, row = LOANS, f"L,{direction},D1,Ada,2026-01-01,2026-06-01,"
    at_once = plan(engine, {"loans": f"{head}{row}\n", "entries": GONE})
    assert [("entries.csv", 2, "value")] == [each[:3] for each in refusals(at_once)]
    bring(engine, {"loans": f"{head}{row}\n"})
    (key,) = rows(engine, "SELECT key FROM loan_item")[0]

    bring(engine, {"loans": f"key,{head}{key},{row}2026-02-20\n", "entries": GONE})

    assert ("2026-02-20", "gone") in rows(engine, "SELECT from_date, standing FROM unit_entry WHERE what = 'standing'")


def test_a_service_that_the_folder_opens_holds_the_unit_and_one_that_it_has_closed_does_not(engine: Engine) -> None:
    """All of the folder counts, whichever file comes first."""
    bring(engine, SMALL)
    head = "service,tag,opened_on,closed_on\n"

    opened = plan(engine, {"services": f"{head}S,D1,2026-02-10,\n", "entries": GONE})
    closed = plan(engine, {"services": f"{head}S,D1,2026-02-10,2026-02-20\n", "entries": GONE})

    assert ["has a service open since 2026-02-10; close it first: spindlebook service close D1 --outcome away"] == [
        each[3] for each in refusals(opened)
    ]
    assert closed.writable


def test_a_service_of_the_book_that_the_folder_closes_holds_the_unit_no_more(engine: Engine) -> None:
    """As long as the folder leaves it open, it does."""
    head = "service,tag,opened_on,closed_on\n"
    bring(engine, {**SMALL, "services": f"{head}S,D1,2026-02-10,\n"})
    assert [("entries.csv", 2, "value")] == [each[:3] for each in refusals(plan(engine, {"entries": GONE}))]
    (key,) = rows(engine, "SELECT key FROM service")[0]

    bring(engine, {"services": f"key,{head}{key},S,D1,2026-02-10,2026-02-20\n", "entries": GONE})

    assert [("2026-02-20",)] == rows(engine, "SELECT closed_on FROM service")


@pytest.mark.parametrize(("left", "taken"), [("2026-01", False), ("2026-02", True), ("2025", False), ("2026", True)])
def test_what_left_in_a_month_or_a_year_may_have_been_seen_on_any_day_of_it(
    engine: Engine, left: str, *, taken: bool
) -> None:
    """What was seen after all of its days keeps it here."""
    _tie(engine, "seen")

    refused = refusals(plan(engine, {"entries": GONE.replace("2026-02-20", left)}))

    says = f"was here on 2026-02-21, after {left}: moved; write a day on which it had left"
    assert ([] if taken else [("entries.csv", 2, "value", says)]) == refused


def test_of_a_unit_that_left_twice_the_last_leaving_is_held_against_what_was_seen(engine: Engine) -> None:
    """The first of them is over: it came back after that, and was seen here."""
    _tie(engine, "seen")
    told = GONE + "D1,standing,arrived,2026-02-21,back\nD1,standing,gone,2026-02-22,sold again\n"

    assert plan(engine, {"entries": told}).writable


def test_what_was_gone_and_is_here_again_or_comes_with_its_own_past_is_taken(engine: Engine) -> None:
    """An entry that another one follows holds no longer; a unit that is new comes as another book had it."""
    loans = {"loans": LOANS + "L,out,D1,Ada,2026-01-01,2026-06-01,\n"}
    bring(engine, {**SMALL, **loans, "entries": GONE})
    assert plan(engine, {**SMALL, **loans, "entries": GONE}).changes_nothing
    with shelf(engine) as made:
        made.location(find_unit(made.work.conn, "D2").id, "shelf A", "2026-02-21")
    again = GONE.replace("D1", "D2") + "D2,standing,arrived,2026-02-21,found\n"
    bring(engine, {"entries": again})


@pytest.mark.parametrize(
    ("file", "row", "ends"),
    [
        ("loans", "L,out,D1,Ada,2026-02-10,2026-06-01,", "back_on"),
        ("loans", "L,in,D1,Ada,2026-02-10,2026-06-01,", "back_on"),
        ("services", "S,D1,2026-02-10,", "closed_on"),
    ],
)
def test_what_is_not_over_is_refused_of_a_unit_of_the_book_that_is_gone(
    engine: Engine, file: str, row: str, ends: str
) -> None:
    """It would be gone and held here at once; what was over by then is taken, and what is here again."""
    bring(engine, {**SMALL, "entries": GONE})
    head = LOANS if file == "loans" else "service,tag,opened_on,closed_on\n"
    made = plan(engine, {file: f"{head}{row}\n"})

    told = f"is gone since 2026-02-20; write {ends}, or in entries.csv that it is here again"
    assert [(f"{file}.csv", 2, "tag", told)] == refusals(made)
    assert plan(engine, {file: f"{head}{row}2026-02-20\n"}).writable
    assert plan(engine, {file: f"{head}{row.replace('D1', 'D2')}\n"}).writable
    here = "tag,what,value,from_date,note\nD1,standing,arrived,2026-02-21,found\n"
    assert plan(engine, {file: f"{head}{row}\n", "entries": here}).writable


def test_an_earlier_leaving_in_the_folder_hides_no_loan_of_a_unit_that_is_gone_by_a_later_one(engine: Engine) -> None:
    """The row of the loan is refused, for the entry of the folder is not the one by which the unit stands gone."""
    bring(engine, {**SMALL, "entries": GONE})
    earlier = "tag,what,value,from_date,note\nD1,standing,gone,2026-01-05,sold\nD1,standing,arrived,2026-01-20,back\n"
    loan = {"loans": LOANS + "L,out,D1,Ada,2026-02-10,2026-06-01,\n"}

    told = "is gone since 2026-02-20; write back_on, or in entries.csv that it is here again"
    assert [("loans.csv", 2, "tag", told)] == refusals(plan(engine, {**loan, "entries": earlier}))
    assert plan(engine, {"entries": earlier}).writable
