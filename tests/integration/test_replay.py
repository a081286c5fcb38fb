"""The journal alone tells the whole book, by acts. The random acts rest on this replay, so it must be able to fail."""

from __future__ import annotations

from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.store.engine import fetch, open_engine, reading
from tests.support.books import act, add_person, add_unit
from tests.support.replay import Unlike, told_by_journal
from tests.support.times import NOW, TODAY
from tests.support.two_books import State, comparable, effective_state


def _write(engine: Engine) -> dict[int, State]:
    """Write acts of every kind of change, undos among them; return what counted after each."""
    seen: dict[int, State] = {}

    def see() -> None:
        with reading(engine) as connection:
            last = fetch(connection, "SELECT max(id) FROM act")[0][0]
            seen[last] = effective_state(connection)

    with act(engine) as work:
        unit, person = add_unit(work, rom="1"), add_person(work, phone="11")
        work.append("unit_entry", unit_id=unit, what="owner", person_id=person, from_date="2026-01-01")
        work.commit("made")
    see()
    with act(engine) as work:
        work.update("unit", unit, rom="2", note="seen")
        work.update("person", person, phone=None, name="A. Quill", name_folded="a. quill")
        rows = [(unit, f"2026-01-0{day}", float(day), 0) for day in range(1, 4)]
        work.append_many("hour_reading", ("unit_id", "read_on", "hours", "reset"), rows)
        work.commit("changed")
    see()
    by = undo(engine, None, today=TODAY, now=NOW).by_id
    see()
    undo(engine, by, today=TODAY, now=NOW)
    see()
    with act(engine) as work:
        work.forget_person(person, "forgotten 1")
        work.commit("forgot")
    see()
    return seen


def test_the_journal_passes_through_all_that_was_seen(engine: Engine) -> None:
    """After each act the rows that count are those that the journal tells; the last ones are those in the tables."""
    seen = _write(engine)

    with reading(engine) as connection:
        told = {each.act: comparable(each) for each in told_by_journal(connection)}

    assert {number: comparable(state) for number, state in seen.items()} == {number: told[number] for number in seen}


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE unit SET rom = '9'",
        "UPDATE unit SET version = version + 1",
        "UPDATE unit SET void = 1",
        "UPDATE person SET phone = '12'",
        "UPDATE hour_reading SET hours = 9 WHERE hours = 2",
        "UPDATE unit_entry SET act_id = act_id + 1",
        "DELETE FROM undone",
        "DELETE FROM change WHERE kind = 'update'",
        'UPDATE change SET before = replace(before, \'"rom":"1"\', \'"rom":"0"\')',
        "INSERT INTO undone (id, key, act_id, by_id) VALUES (99, 'k', 2, 3)",
    ],
)
def test_a_book_that_is_not_what_its_journal_tells_is_told(sqlite_book: Path, statement: str) -> None:
    """A value, a version, a row that counts or not, an appended row, and what a change found before it."""
    engine = open_engine(str(sqlite_book))
    _write(engine)
    with engine.connect() as connection, connection.begin():
        names = connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'trigger'").scalars().all()
        for name in names:
            connection.exec_driver_sql(f"DROP TRIGGER {name}")
        assert connection.execute(sa.text(statement)).rowcount

    with reading(engine) as connection, pytest.raises(Unlike):
        list(told_by_journal(connection))
