"""What is past its day by person, and the history of a person, on both databases."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy.engine import Engine

from collection.acts.loan_back import take_back
from collection.acts.loan_out import lend
from collection.acts.people import add_person
from collection.acts.records import edit_person
from collection.errors import Refused
from collection.store.engine import fetch, reading
from collection.views.history import acts_on_person
from collection.views.loans_overdue import overdue_loans
from collection.views.people import find_person
from tests.support.bench import set_up_bench
from tests.support.books import act
from tests.support.times import NOW, TODAY

BRAM, ILSE = "Bram Oakhollow", "Ilse Vanterpool"


@pytest.fixture
def bench(engine: Engine) -> Engine:
    """Return an engine on a shelf: Bram has D1 due on 15 March and D4 due on 10 March, and lent P1 until 20 March."""
    set_up_bench(engine, TODAY, NOW)
    edit_person(engine, BRAM, {"email": "bram@oak.example"}, today=TODAY, now=NOW)
    for tag, due in (("D1", "2026-03-15"), ("D4", "2026-03-10")):
        lend(engine, [tag], to=BRAM, due=due, today=TODAY, now=NOW)
    with act(engine) as work:
        unit = fetch(work.conn, "SELECT id FROM unit WHERE tag = 'P1'")[0][0]
        days = {"out_on": "2026-02-01", "due_on": "2026-03-20"}
        loan = work.insert("loan", name="in", direction="in", person_id=find_person(work.conn, BRAM).id, **days)
        work.insert("loan_item", loan_id=loan, unit_id=unit)
        work.commit("borrowed P1")
    return engine


@pytest.mark.parametrize(
    ("day", "expected"),
    [
        (10, []),
        (11, [("out", ["D4"], "2026-03-10", 1)]),
        (15, [("out", ["D4"], "2026-03-10", 5)]),
        (16, [("out", ["D4", "D1"], "2026-03-10", 6)]),
        (21, [("out", ["D4", "D1"], "2026-03-10", 11), ("in", ["P1"], "2026-03-20", 1)]),
    ],
)
def test_a_unit_is_overdue_from_the_day_after_its_day(
    bench: Engine, day: int, expected: list[tuple[str, list[str], str, int]]
) -> None:
    """One row a person and direction; only who borrowed gets a text, and each unit in it has its line."""
    with reading(bench) as conn:
        found = overdue_loans(conn, date(2026, 3, day))

    assert expected == [(row.direction, row.tags, row.due_on, row.days_over) for row in found]
    for row in found:
        told = [line.split(",")[0].strip() for line in row.reminder if line.startswith("  ")]
        assert (row.tags if row.direction == "out" else []) == told
        assert (BRAM, "bram@oak.example") == (row.person, row.email)


def test_what_came_back_is_not_overdue_and_a_person_can_be_chosen(bench: Engine) -> None:
    """A unit that is back leaves the text; another person has none; an unknown one is refused."""
    take_back(bench, ["D4"], today=TODAY, now=NOW)

    with reading(bench) as conn:
        assert [["D1"]] == [row.tags for row in overdue_loans(conn, date(2026, 3, 16), "bram oakhollow")]
        assert [] == overdue_loans(conn, date(2026, 3, 16), ILSE)
        with pytest.raises(Refused, match="no person"):
            overdue_loans(conn, TODAY, "Jory")


def test_the_history_of_a_person_has_what_touched_their_record_and_loans(bench: Engine) -> None:
    """Lending, taking back and changing; not what is about others alone. Newest first."""
    take_back(bench, ["D4"], today=TODAY, now=NOW)
    add_person(bench, "Jory Fenwright", today=TODAY, now=NOW)
    lend(bench, ["D4"], to=ILSE, due="2026-04-01", all_the_same="a test", today=TODAY, now=NOW)

    with reading(bench) as conn:
        bram, ilse = (acts_on_person(conn, find_person(conn, name).id) for name in (BRAM, ILSE))

    assert ["loan back", "test", "loan out", "loan out", "person edit", "import"] == [each.command for each in bram]
    assert ["loan out", "import"] == [each.command for each in ilse]
