"""verify walks the journal once beside the rows it tells of, also where journal or rows are spoilt or many."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from collection.views import verify_appended
from tests.integration.test_verify import broken, rewrite
from tests.support.books import act, add_unit

_COLUMNS = ("unit_id", "read_on", "reset", "hours")


@pytest.fixture
def hours(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> Engine:
    """A book with seven readings of hours in three runs, of which no two fit into what is read at once."""
    monkeypatch.setattr(verify_appended, "_AT_ONCE", 2)
    with act(engine) as work:
        unit = add_unit(work)
        rows = [(unit, "2026-01-01", 0, float(number)) for number in range(1, 6)]
        work.append_many("hour_reading", _COLUMNS, rows)
        work.append("baseline", unit_id=unit, procedure_id=1, last_done="2026-01-01")
        work.append("hour_reading", **dict(zip(_COLUMNS, rows[0], strict=True)) | {"hours": 6.0})
        work.commit("hours")
    with act(engine) as work:
        work.append_many("hour_reading", _COLUMNS, [(unit, "2026-01-02", 0, 7.0)])
        work.commit("more hours")
    return engine


def _said(engine: Engine) -> list[tuple[str, int | None, str]]:
    return [(each.table, each.row, each.says) for each in broken(engine)]


def test_runs_longer_than_what_is_read_at_once_are_whole(hours: Engine) -> None:
    """A run is digested in pieces, and what was noted of fewer columns than there are is compared as it was noted."""
    assert [] == _said(hours)


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("DELETE FROM hour_reading WHERE hours = 1", (1, "act 2 appended 5 rows; 4 are there")),
        ("DELETE FROM hour_reading WHERE hours = 3", (1, "act 2 appended 5 rows; 4 are there")),
        ("UPDATE hour_reading SET hours = 9 WHERE hours = 5", (1, "act 2 appended 5 rows; 5 are there, altered")),
        ("UPDATE hour_reading SET act_id = 3 WHERE hours = 6", (6, "act 2 appended 1 rows; 0 are there")),
        ("UPDATE hour_reading SET id = 70 WHERE hours = 7", (7, "act 3 appended 1 rows; 0 are there")),
    ],
)
def test_a_spoilt_run_is_named_and_no_other(hours: Engine, statement: str, said: tuple[int, str]) -> None:
    """What is missing, altered, or another act's breaks the run it belongs to; the runs around it stay whole."""
    rewrite(hours, statement)

    assert ("hour_reading", *said) == _said(hours)[0]
    assert {("hour_reading", None)} >= {(table, row) for table, row, _ in _said(hours)[1:]}


def test_a_row_that_no_act_noted_is_counted(hours: Engine) -> None:
    """A row beside all runs is not found by any digest, so the rows of the table are counted."""
    columns = ", ".join(("act_id", *_COLUMNS))
    another = f"SELECT 99, 'x', {columns} FROM hour_reading WHERE hours = 7"
    rewrite(hours, f"INSERT INTO hour_reading (id, key, {columns}) {another}")

    assert [("hour_reading", None, "8 rows are there, the journal knows 7")] == _said(hours)


def test_changes_in_another_order_break_the_chain_and_no_row(hours: Engine) -> None:
    """Rows that the walk has passed are read again: only the order in the journal is wrong then, not the rows."""
    rewrite(hours, "UPDATE change SET id = id + 1000 WHERE act_id = 2 AND kind = 'append' AND row_id = 1")

    assert {("act", 2, "the act or one of its changes was altered")} == set(_said(hours))


def test_a_journal_that_tells_of_another_table_is_broken(hours: Engine) -> None:
    """A name of a table that the book does not have is reported, and never asked of the database."""
    rewrite(hours, "UPDATE change SET table_name = 'spoon' WHERE act_id = 3 OR table_name = 'unit'")

    said = _said(hours)
    assert ("change", None, "act 3 appended to spoon") in said
    assert ("change", None, "changes are noted of spoon") in said
    assert ("unit", 1, "the journal does not know it") in said
