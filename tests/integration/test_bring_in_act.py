"""The act of bringing in: all or nothing, compared again when the book moved, and what is told of the time before."""

from __future__ import annotations

from datetime import date
from itertools import pairwise
from pathlib import Path

import pytest
from sqlalchemy.engine import Engine

from collection.acts.bring_in.state import Options
from collection.acts.bring_in.write import bring_in, write_plan
from collection.acts.work import open_work
from collection.analysis.months import add_months
from collection.errors import Moved, Refused
from collection.exchange.folder_read import read_folder
from tests.support.folders import SMALL, bring, findings, plan, rows, write_files
from tests.support.times import NOW, TODAY

BASELINES = (
    "SELECT u.tag, p.name, b.last_done, b.first_due FROM baseline b JOIN unit u ON u.id = b.unit_id"
    " JOIN procedure p ON p.id = b.procedure_id ORDER BY b.id"
)


def test_an_import_is_one_act_with_a_summary(engine: Engine) -> None:
    """History has one line for the folder, however many rows it had."""
    before = rows(engine, "SELECT count(*) FROM act")[0][0]
    bring(engine, SMALL)

    assert rows(engine, "SELECT count(*) FROM act")[0][0] == before + 1
    assert rows(engine, "SELECT summary FROM seal ORDER BY id DESC LIMIT 1") == [("brought in folder: 6 new",)]


def test_a_plan_that_is_not_committed_leaves_nothing(engine: Engine) -> None:
    """Leaving the work without a commit changes nothing."""
    made = plan(engine, SMALL)
    with open_work(engine, "import", today=TODAY, now=NOW) as work:
        write_plan(work, made)

    assert rows(engine, "SELECT count(*) FROM unit") == [(0,)]


def test_a_book_that_moved_on_is_compared_again(engine: Engine) -> None:
    """Another act in between is no trouble while the folder still means the same."""
    made = plan(engine, SMALL)
    bring(engine, {"locations": "location\nshelf\n"})

    bring_in(engine, made, today=TODAY, now=NOW, where="folder")

    assert rows(engine, "SELECT count(*) FROM unit") == [(2,)]


def test_a_plan_that_would_now_do_something_else_is_not_written(engine: Engine) -> None:
    """What was agreed to is written, or nothing."""
    made = plan(engine, SMALL)
    bring(engine, {name: text for name, text in SMALL.items() if name != "instruments"})

    with pytest.raises(Moved):
        bring_in(engine, made, today=TODAY, now=NOW, where="folder")

    change = plan(engine, {"units": "tag,model,note\nD1,VK 1,mine\n"})
    bring(engine, {"units": "tag,model,note\nD1,VK 1,theirs\n"})
    with pytest.raises(Moved):  # as many rows as before, but it would now take back what another wrote
        bring_in(engine, change, today=TODAY, now=NOW, where="folder")
    assert rows(engine, "SELECT count(*) FROM instrument WHERE name = 'counter'") == [(0,)]


def test_a_plan_with_a_refusal_is_not_written(engine: Engine) -> None:
    """Whoever calls the act with such a plan gets nothing."""
    made = plan(engine, {**SMALL, "units": "tag,model\nD1,VK 9\n"})

    with pytest.raises(Refused, match="are refused"):
        bring_in(engine, made, today=TODAY, now=NOW, where="folder")

    assert rows(engine, "SELECT count(*) FROM instrument WHERE name = 'counter'") == [(0,)]


def test_rows_and_totals_agree(engine: Engine) -> None:
    """Totals count exactly the rows that are told, of every kind."""
    bring(engine, SMALL)
    made = plan(
        engine,
        {
            "units": "tag,model,note,serial,owner\nD1,VK 1,new note,,\nD2,VK 1,,,\nD3,VK 1,,,Ada\nD4,VK 1,,?,\n"
            "D5,VK 9,,,\n",
        },
    )

    told = [finding.kind for finding in made.rows()]
    assert {kind: told.count(kind) for kind in made.totals} == made.totals
    assert made.totals == {"new": 1, "changed": 1, "same": 1, "doubtful": 2, "refused": 1}


def test_units_without_history_are_told_a_last_day(engine: Engine) -> None:
    """Every procedure by months that is for the unit starts from that (partial) day; services and readings do not."""
    services = "service,tag,opened_on\nS,D2,2025-05-01\n"
    made = bring(engine, {**SMALL, "services": services}, Options(last_done="2023"))

    told = rows(engine, BASELINES)
    wanted = rows(
        engine,
        "SELECT name FROM procedure WHERE every_months IS NOT NULL AND void = 0 AND"
        " ('; ' || coalesce(applies_to, 'drive') || ';' LIKE '%; drive;%'"
        " OR '; ' || applies_to || ';' LIKE '%; belt;%')",
    )
    assert {(tag, day, due) for tag, _name, day, due in told} == {("D1", "2023", None)}
    assert sorted(name for _tag, name, *_ in told) == sorted(name for (name,) in wanted)
    (finding,) = [each for each in findings(made, "new") if each.file is None]
    assert (finding.record, finding.column, finding.value) == ("unit D1", "last_done", "2023")
    assert plan(engine, {**SMALL, "services": services}, Options(last_done="2023")).changes_nothing


def test_units_without_history_fall_due_evenly_in_the_order_of_tags(engine: Engine) -> None:
    """Ten units over ten months: one in the middle of each tenth, D2 before D10, none on the first day."""
    units = "tag,model\n" + "".join(f"D{n},VK 1\n" for n in (10, 9, 8, 7, 6, 5, 4, 3, 2, 1))
    bring(engine, {**SMALL, "units": units}, Options(spread_months=10))

    first: dict[str, str] = {}
    for tag, _name, last_done, first_due in rows(engine, BASELINES):
        assert last_done is None
        first.setdefault(tag, first_due)
    days = [date.fromisoformat(first[f"D{n}"]) for n in range(1, 11)]
    gaps = {(later - earlier).days for earlier, later in pairwise(days)}
    assert days == sorted(days)
    assert max(gaps) - min(gaps) <= 1
    assert TODAY < days[0] < days[-1] < add_months(TODAY, 10)


def test_a_baseline_may_be_told_of_units_the_book_has(engine: Engine) -> None:
    """The options concern every unit without history, whether the folder names it or not."""
    bring(engine, SMALL)

    bring(engine, {"locations": "location\nshelf\n"}, Options(last_done="2024-05"))

    assert {row[0] for row in rows(engine, BASELINES)} == {"D1", "D2"}


def test_a_folder_read_from_files_comes_in_as_from_tables(engine: Engine, tmp_path: Path) -> None:
    """The reader and the act fit: a semicolon and a decimal comma mean the same rows."""
    reading = "tag,measurement,taken_on,instrument,value,stage\nD1,spindle speed,2026-01-01,counter,{},between\n"
    bring(engine, {**SMALL, "readings": reading.format("299.5")})
    folder = write_files(tmp_path / "in", {"readings": reading.replace(",", ";").format("299,5")})

    tables = read_folder(folder).tables
    from collection.acts.bring_in.plan import plan_import
    from collection.store.engine import reading as view

    with view(engine) as conn:
        assert plan_import(conn, tables, today=TODAY, options=Options(decimal_comma=True)).changes_nothing
        assert not plan_import(conn, tables, today=TODAY).writable
