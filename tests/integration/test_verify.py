"""verify names each broken row, whichever rule it breaks."""

from collections.abc import Callable

import pytest
import sqlalchemy as sa
from sqlalchemy.engine import Engine

from collection.store.engine import reading
from collection.views.verify import verify
from collection.views.verify_journal import Broken
from tests.support.books import act, add_person, add_unit


def rewrite(engine: Engine, *statements: str) -> None:
    """Spoil the book behind the program's back: triggers and references off."""
    with engine.connect() as connection, connection.begin():
        if engine.dialect.name == "postgresql":
            connection.exec_driver_sql("SET session_replication_role = replica")
        else:
            names = connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'trigger'").scalars().all()
            for name in names:
                connection.exec_driver_sql(f"DROP TRIGGER {name}")
        for statement in statements:
            connection.execute(sa.text(statement))


def broken(engine: Engine) -> list[Broken]:
    """What verify finds."""
    with reading(engine) as connection:
        return verify(connection).broken


@pytest.fixture
def filled(engine: Engine) -> Engine:
    """A book with a unit, a person, hours and stock in it."""
    with act(engine) as work:
        unit = add_unit(work, rom="1")
        add_person(work)
        service = work.insert("service", name="S1", unit_id=unit, opened_on="2026-01-01", closed_on="2026-01-02")
        for hours in (1.0, 2.0):
            work.append("hour_reading", unit_id=unit, read_on="2026-01-01", hours=hours, reset=0)
        supply = work.insert(
            "supply",
            name="oil",
            name_folded="oil",
            kind="lubricant",
            measured_in="ml",
            smallest_step="1",
            tracked="count",
        )
        lot = work.insert("lot", supply_id=supply, name="L1", name_folded="l1", received_on="2026-01-01")
        work.append(
            "movement", supply_id=supply, lot_id=lot, kind="receive", steps=10, entered="10", occurred_on="2026-01-01",
            used_past_date=0,
        )  # fmt: skip
        work.append("task", service_id=service, procedure_id=1, procedure_revision=1, done_on="2026-01-02")
        work.commit("filled")
    return engine


def test_a_sound_book_has_no_broken_row(filled: Engine) -> None:
    """Every rule holds for what the program wrote."""
    assert broken(filled) == []


_AS_LEFT = "records are as the journal left them"
_AS_WRITTEN = "appended rows stay as written"
_CHAIN = "the chain of acts is whole"
SPOILT: dict[str, tuple[str, str, str]] = {
    "a changed value": ("UPDATE unit SET rom = '9'", _AS_LEFT, "unit"),
    "a changed personal value": ("UPDATE person SET name = 'Eve', name_folded = 'eve'", _AS_LEFT, "person"),
    "a changed appended row": ("UPDATE hour_reading SET hours = 7 WHERE hours = 1", _AS_WRITTEN, "hour_reading"),
    "a missing appended row": ("DELETE FROM hour_reading WHERE hours = 2", _AS_WRITTEN, "hour_reading"),
    "a changed act": ("UPDATE act SET command = 'other' WHERE id = 2", _CHAIN, "act"),
    "a changed change": ("UPDATE change SET after = '{}' WHERE act_id = 2 AND kind = 'insert'", _CHAIN, "act"),
    "a missing seal": ("DELETE FROM seal WHERE act_id = 1", _CHAIN, "act"),
    "a false undone": (
        "INSERT INTO undone (id, key, act_id, by_id) VALUES (1, 'x', 2, 2)",
        "an undone act counts for nothing",
        "act",
    ),
    "a wrong counter": (
        "UPDATE counter SET value = value + 1 WHERE subject = 'equipment'",
        "counters follow the acts",
        "counter",
    ),
    "a wrong folded name": ("UPDATE unit SET tag = 'D9'", "a name is found by its folded form", "unit"),
    "days out of order": (
        "UPDATE service SET closed_on = '2025-12-31'",
        "nothing ends before it begins",
        "service",
    ),
    "a void parent": ("UPDATE model SET void = 1", "no reference to a record that was taken back", "unit"),
}


@pytest.mark.parametrize("what", sorted(SPOILT))
def test_what_was_spoilt_is_named(filled: Engine, what: str) -> None:
    """Each way to spoil a book behind the program's back is found under its rule and table."""
    statement, rule, table = SPOILT[what]

    rewrite(filled, statement)

    assert (rule, table) in {(row.rule, row.table) for row in broken(filled)}


def test_a_movement_of_the_wrong_sign_breaks_the_ledger(filled: Engine) -> None:
    """The ledger's own rules are part of verify."""
    drop: Callable[[str], str] = lambda name: f"ALTER TABLE movement DROP CONSTRAINT {name}"  # noqa: E731
    if filled.dialect.name == "postgresql":
        rewrite(filled, drop("ck_movement_sign"), "UPDATE movement SET steps = -10")
    else:
        rewrite(filled, "PRAGMA ignore_check_constraints = ON", "UPDATE movement SET steps = -10")

    assert "movement" in {row.table for row in broken(filled)}
