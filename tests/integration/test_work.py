"""One act is one transaction: all of it or nothing, journalled and sealed."""

import json
import multiprocessing
from datetime import datetime
from functools import partial

import pytest
from sqlalchemy.engine import Engine
from sqlalchemy.exc import DatabaseError

from collection.acts.work import open_work, stamp
from collection.errors import Moved, Refused
from collection.schema import APPEND_ONLY
from collection.store.engine import fetch, open_engine, reading, writing
from collection.views.verify import verify
from tests.support.books import act, add_person, add_unit, digest, scalar
from tests.support.times import NOW, TODAY


def test_leaving_without_commit_changes_nothing(engine: Engine) -> None:
    """A Work that is not committed leaves every table as it was."""
    before = digest(engine)
    with act(engine) as work:
        add_unit(work)

    assert digest(engine) == before


def test_an_error_inside_an_act_changes_nothing(engine: Engine) -> None:
    """A Work that ends in an error leaves every table as it was."""
    before = digest(engine)
    with pytest.raises(RuntimeError, match="half way"), act(engine) as work:
        add_unit(work)
        raise RuntimeError("half way")

    assert digest(engine) == before


@pytest.mark.parametrize(("length", "kept"), [(20_000, True), (20_001, False)])
def test_the_reason_of_an_act_has_its_length(engine: Engine, length: int, kept: bool) -> None:
    """Whatever act it is given for, a longer one is refused in words, not by the database."""
    begin = partial(open_work, engine, "test", today=TODAY, now=NOW, reason="x" * length)
    if kept:
        with begin() as work:
            work.commit("kept")
        assert scalar(engine, "SELECT length(reason) FROM act WHERE id = 2") == length
        return
    with pytest.raises(Refused, match="reason has 20001 characters; at most 20000 are kept"), begin():
        pass


def test_an_act_is_journalled_with_values_before_and_after(engine: Engine) -> None:
    """The journal keeps both sides of an edit, and only of what differed."""
    with act(engine) as work:
        unit = add_unit(work, rom="1.0", note="dusty")
        work.commit("added")
    with act(engine) as work:
        assert work.update("unit", unit, rom="1.1", note="dusty")
        work.commit("edited")

    with reading(engine) as connection:
        rows = fetch(connection, "SELECT kind, version, before, after FROM change ORDER BY id DESC LIMIT 1")
    assert rows == [("update", 2, '{"rom":"1.0"}', '{"rom":"1.1"}')]


def test_an_edit_with_equal_values_writes_nothing(engine: Engine) -> None:
    """An update that changes nothing raises no version."""
    with act(engine) as work:
        unit = add_unit(work, rom="1.0")
        work.commit("added")
    with act(engine) as work:
        assert not work.update("unit", unit, rom="1.0")
        work.commit("looked")

    assert scalar(engine, "SELECT version FROM unit WHERE id = :id", id=unit) == 1


def test_an_edit_of_a_row_that_moved_on_is_refused(engine: Engine) -> None:
    """A version that is no longer the present one is refused with both numbers."""
    with act(engine) as work:
        unit = add_unit(work)
        work.update("unit", unit, rom="2")
        work.commit("added")

    with act(engine) as work, pytest.raises(Moved, match=r"version 1, now 2"):
        work.update("unit", unit, version=1, rom="3")


def test_personal_values_enter_the_journal_only_as_hashes(engine: Engine) -> None:
    """A name, an address or a note of a person is nowhere in the journal, before and after an edit."""
    with act(engine) as work:
        person = add_person(work, "Ada Quill", email="ada@quill.example", note="keeps bees")
        work.update("person", person, name="Ada Quillon", name_folded="ada quillon", phone="0123")
        work.commit("added")

    with reading(engine) as connection:
        texts = json.dumps(fetch(connection, "SELECT before, after FROM change WHERE table_name = 'person'"))
    assert not [word for word in ("Quill", "quill", "bees", "0123") if word in texts]
    assert '\\"role\\"' in texts


def test_earlier_values_of_a_person_stay_in_the_person_table(engine: Engine) -> None:
    """An edit keeps the former state as a void row of the same table."""
    with act(engine) as work:
        person = add_person(work, "Ada Quill", email="ada@quill.example")
        work.update("person", person, email=None)
        work.commit("edited")

    sql = "SELECT email FROM person WHERE former_of_id = :id AND void = 1"
    assert scalar(engine, sql, id=person) == "ada@quill.example"


def test_bulk_rows_and_single_rows_are_digested_alike(engine: Engine) -> None:
    """Rows appended one by one, in bulk and mixed all verify."""
    with act(engine) as work:
        unit = add_unit(work)
        for hours in (1.0, 2.5):
            work.append("hour_reading", unit_id=unit, read_on="2026-01-01", hours=hours, reset=0)
        rows = [(unit, "2026-01-02", float(number), 0) for number in range(7)]
        ids = work.append_many("hour_reading", ("unit_id", "read_on", "hours", "reset"), rows)
        work.append("hour_reading", unit_id=unit, read_on="2026-01-03", hours=9.0, reset=1)
        work.commit("hours")

    assert len(ids) == 7
    with reading(engine) as connection:
        assert fetch(connection, "SELECT sum(rows) FROM change WHERE table_name = 'hour_reading'") == [(10,)]
        assert verify(connection).broken == []


@pytest.mark.parametrize("table", sorted(APPEND_ONLY))
def test_append_only_tables_refuse_update_and_delete(engine: Engine, table: str) -> None:
    """Raw SQL cannot rewrite a ledger or the journal, whichever table it tries."""
    sql = (
        "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND name = '{}'"
        if engine.dialect.name == "sqlite"
        else "SELECT count(*) FROM pg_trigger WHERE tgname = '{}'"
    )
    for verb in ("update", "delete"):
        assert scalar(engine, sql.format(f"keep_{table}_{verb}")) == 1


@pytest.mark.parametrize(
    "statement", ["UPDATE act SET command = 'x'", "DELETE FROM seal", "UPDATE change SET rows = 3"]
)
def test_the_journal_cannot_be_rewritten(engine: Engine, statement: str) -> None:
    """The database itself refuses, whoever writes."""
    with pytest.raises(DatabaseError, match="append-only"), writing(engine) as connection:
        connection.exec_driver_sql(statement)


def test_integer_columns_refuse_text(engine: Engine) -> None:
    """'12,50' does not enter an integer column on either database."""
    with pytest.raises(DatabaseError), act(engine) as work:
        add_unit(work, price_minor="12,50")
        work.commit("wrong")


def test_a_reading_of_minus_nought_is_nought(engine: Engine) -> None:
    """SQLite keeps -0.0 as 0.0; the digest is of what is read again, or the book would call the row altered."""
    with act(engine) as work:
        unit = add_unit(work)
        columns = {"unit_id": unit, "read_on": "2026-01-01", "reset": 0}
        work.append("hour_reading", **columns, hours=-0.0)
        work.append_many("hour_reading", (*columns, "hours"), [(*columns.values(), -0.0), (*columns.values(), 1.5)])
        work.commit("hours")

    with reading(engine) as connection:
        assert ["0.0", "0.0", "1.5"] == [str(row[0]) for row in fetch(connection, "SELECT hours FROM hour_reading")]
        assert [] == verify(connection).broken


def test_a_view_cannot_write(engine: Engine) -> None:
    """A reading connection refuses every statement that changes the book."""
    with pytest.raises(DatabaseError), reading(engine) as connection:
        connection.exec_driver_sql("INSERT INTO undone (id, key, act_id, by_id) VALUES (1, 'x', 1, 1)")


def test_an_instant_without_a_zone_is_a_defect() -> None:
    """A naive time never enters the book."""
    with pytest.raises(ValueError, match="time zone"):
        stamp(datetime(2026, 3, 1, 12))  # noqa: DTZ001  the point of the test


def test_instants_have_a_fixed_width() -> None:
    """Texts of instants sort by time."""
    assert stamp(NOW) == "2026-03-01T12:00:00.000000Z"


def _add_one(url: str, times: int) -> None:
    engine = open_engine(url)
    for _ in range(times):
        with act(engine, "count up") as work:
            (value,) = fetch(work.conn, "SELECT mains_volts FROM book")[0]
            work.update("book", 1, mains_volts=value + 1)
            work.commit("one up")
    engine.dispose()


@pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")  # the children touch no lock of another thread
def test_two_writers_lose_no_update_and_the_chain_stays_linear(book_url: str, engine: Engine) -> None:
    """Reading, adding one and writing back from two processes counts every time; defaults would lose about half."""
    start = scalar(engine, "SELECT mains_volts FROM book")
    context = multiprocessing.get_context("fork")  # one that is spawned loads everything anew
    workers = [context.Process(target=_add_one, args=(book_url, 12)) for _ in range(2)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(60)

    assert [worker.exitcode for worker in workers] == [0, 0]
    assert scalar(engine, "SELECT mains_volts FROM book") == start + 24
    with reading(engine) as connection:
        assert verify(connection).broken == []
