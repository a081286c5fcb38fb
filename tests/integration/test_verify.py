"""verify names each broken row, whichever rule it breaks."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.engine import Engine

from collection.acts.work import Work
from collection.schema import EDITABLE, TABLES
from collection.store.engine import open_engine, reading
from collection.views.broken import Broken
from collection.views.verify import FOLDED, verify
from tests.support.books import act, add_person, add_unit, named


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


def _lend(work: Work, unit: int, out_on: str, *, direction: str = "out", back_on: str | None = None) -> None:
    """Put a unit on a loan of its own."""
    loan = work.insert(
        "loan", name=f"L{work.next_id('loan')}", direction=direction, person_id=1, out_on=out_on, due_on=out_on
    )
    item = work.insert("loan_item", loan_id=loan, unit_id=unit, back_on=back_on)
    work.append(
        "condition_check", unit_id=unit, checked_on=out_on, occasion="loan out", condition="whole", loan_item_id=item
    )


@pytest.fixture
def filled(engine: Engine) -> Engine:
    """A book with a unit, a person, hours, stock, a loan that is over, a reading, a page and a turned screw in it."""
    with act(engine) as work:
        unit = add_unit(work, rom="1")
        add_unit(work, "D2")
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
        seller = work.insert("supplier", **named("Nordlager"))
        order = work.append("purchase_order", **named("P1"), supplier_id=seller, ordered_on="2026-01-01")
        line = work.append("order_line", order_id=order, supply_id=supply, packs=1)
        work.append("order_promise", order_id=order, told_on="2026-01-02", expected_on="2026-01-02")
        work.append("order_event", line_id=line, kind="arrived", happened_on="2026-01-01", packs=1)
        work.append(
            "movement", supply_id=supply, lot_id=lot, kind="receive", steps=10, entered="10", occurred_on="2026-01-01",
            used_past_date=0, order_line_id=line,
        )  # fmt: skip
        work.append(
            "lot_inspection", lot_id=lot, inspected_on="2026-01-02", result="pass", good_through="2026-06-30"
        )  # fmt: skip
        _lend(work, unit, "2026-01-03", back_on="2026-01-04")
        series = work.append("series", unit_id=unit, measurement_id=1, point="")
        work.append(
            "reading", series_id=series, taken_on="2026-01-02", value=300.0, entered="300", stage="as left",
            instrument_id=work.insert("instrument", **named("counter")), service_id=service,
        )  # fmt: skip
        page = work.append("attachment_content", sha256=sha256(b"%PDF-1").hexdigest(), size=6, content=b"%PDF-1")
        work.insert("attachment", content_id=page, unit_id=unit, title="receipt", media_type="application/pdf")
        work.append(
            "adjustment", unit_id=unit, done_on="2026-01-02", screw="trimmer", direction="clockwise", turns=1 / 3,
            entered="1/3",
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
_IN_TIME = "nothing ends before it begins"
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
        _IN_TIME,
        "service",
    ),
    "a lot inspected before it came": (
        "UPDATE lot_inspection SET inspected_on = '2025-12-31'",
        "a lot is inspected once it is there",
        "lot_inspection",
    ),
    "a lot good through a day before its inspection": (
        "UPDATE lot_inspection SET good_through = '2026-01-01'",
        _IN_TIME,
        "lot_inspection",
    ),
    "an order that came before it was placed": (
        "UPDATE order_event SET happened_on = '2025-12-31'",
        _IN_TIME,
        "order_event",
    ),
    "a promise of a day before it was made": (
        "UPDATE order_promise SET expected_on = '2026-01-01'",
        _IN_TIME,
        "order_promise",
    ),
    "a receipt of another supply than was ordered": (
        "UPDATE order_line SET supply_id = 1",
        "what came by an order is what was ordered",
        "movement",
    ),
    "a unit back before it went": ("UPDATE loan_item SET back_on = '2026-01-02'", _IN_TIME, "loan_item"),
    "a wrong folded serial": ("UPDATE unit SET serial = '12'", "a name is found by its folded form", "unit"),
    "a grade where a number belongs": (
        "UPDATE reading SET value = NULL, grade = 'pass'",
        "a reading has the form of its measurement",
        "reading",
    ),
    "a reading in the service of another unit": (
        "UPDATE service SET unit_id = 2",
        "a reading belongs to a service of its unit",
        "reading",
    ),
    "a changed page": (
        "UPDATE attachment_content SET size = 6, content = CAST('b page' AS {bytes})",
        "an attachment is what was attached",
        "attachment_content",
    ),
    "a paper that is called a picture": (
        "UPDATE attachment SET media_type = 'image/png'",
        "an attachment is what was attached",
        "attachment",
    ),
    "a screw turned further than was typed": (
        "UPDATE adjustment SET turns = 0.3334",
        "a screw was turned as far as was typed",
        "adjustment",
    ),
    "a turn that nobody can read": (
        "UPDATE adjustment SET entered = 'a bit'",
        "a screw was turned as far as was typed",
        "adjustment",
    ),
    "a check of a loan at which another unit was lent": (
        "UPDATE condition_check SET unit_id = 2",
        "a check of a loan is of what was lent",
        "condition_check",
    ),
    "a void parent": ("UPDATE model SET void = 1", "no reference to a record that was taken back", "unit"),
}


@pytest.mark.parametrize("what", sorted(SPOILT))
def test_what_was_spoilt_is_named(filled: Engine, what: str) -> None:
    """Each way to spoil a book behind the program's back is found under its rule and table."""
    statement, rule, table = SPOILT[what]

    rewrite(filled, statement.replace("{bytes}", "BYTEA" if filled.dialect.name == "postgresql" else "BLOB"))

    assert (rule, table) in {(row.rule, row.table) for row in broken(filled)}


def test_a_movement_of_the_wrong_sign_breaks_the_ledger(filled: Engine) -> None:
    """The ledger's own rules are part of verify."""
    drop: Callable[[str], str] = lambda name: f"ALTER TABLE movement DROP CONSTRAINT {name}"  # noqa: E731
    if filled.dialect.name == "postgresql":
        rewrite(filled, drop("ck_movement_sign"), "UPDATE movement SET steps = -10")
    else:
        rewrite(filled, "PRAGMA ignore_check_constraints = ON", "UPDATE movement SET steps = -10")

    assert "movement" in {row.table for row in broken(filled)}


def test_a_missing_row_behind_a_reference_is_named(sqlite_book: Path) -> None:
    """A plain connection to the file holds no references; PostgreSQL holds its own."""
    engine = open_engine(str(sqlite_book))
    with act(engine) as work:
        add_unit(work)
        work.commit("a unit")
    with closing(sqlite3.connect(sqlite_book)) as plain, plain:
        plain.execute("UPDATE unit SET model_id = 999")

    assert "every reference has its row" in {row.rule for row in broken(engine)}


def test_an_appended_row_that_rests_on_one_of_an_undone_act_is_named(filled: Engine) -> None:
    """A reading set aside by a later act keeps the act that took the reading in the book."""
    with act(filled) as work:
        work.append("reading_aside", reading_id=1, reason="belt slipped")
        work.commit("set aside")

    rewrite(filled, "INSERT INTO undone (id, key, act_id, by_id) VALUES (1, 'x', 2, 2)")

    assert ("no reference to a record that was taken back", "reading_aside") in {
        (row.rule, row.table) for row in broken(filled)
    }


@pytest.mark.parametrize(("direction", "rows"), [("out", 1), ("in", 0)])
def test_a_unit_is_out_on_one_loan_but_a_borrowed_one_may_be_lent_on(engine: Engine, direction: str, rows: int) -> None:
    """Two open loans out are one too many; a loan in and a loan out are not."""
    with act(engine) as work:
        unit = add_unit(work)
        add_person(work)
        _lend(work, unit, "2026-01-01", direction=direction)
        _lend(work, unit, "2026-01-02")
        work.commit("lent twice")

    assert ["loan_item"] * rows == [row.table for row in broken(engine)]


@pytest.mark.parametrize(
    ("first", "second", "rows"),
    [
        (("2026-01-05", "2026-01-10"), ("2026-01-10", "2026-01-12"), 0),
        (("2026-01-05", "2026-01-10"), ("2026-01-09", "2026-01-12"), 1),
        (("2026-01-05", "2026-01-10"), ("2026-01-01", "2026-01-05"), 0),
        (("2026-01-05", "2026-01-10"), ("2026-01-01", "2026-01-06"), 1),
        (("2026-01-05", "2026-01-10"), ("2026-01-06", "2026-01-06"), 1),
        (("2026-01-05", "2026-01-10"), ("2026-01-05", "2026-01-05"), 0),
        (("2026-01-05", "2026-01-10"), ("2026-01", "2026-01"), 0),
        (("2026-01-05", "2026-01-10"), ("2025", "2026-02"), 1),
        (("2026-01-05", None), ("2026-01-01", "2026-01-05"), 0),
        (("2026-01-05", None), ("2026-01-01", "2026-01-06"), 1),
        (("2026-01-05", None), ("2026-01", "2026-01"), 0),
        (("2026-01-05", "2026-01-10"), ("2026-01-09", None), 1),
        (("2026-01-05", "2026-01-10"), ("2026-01-10", None), 0),
    ],
)
def test_no_two_loans_of_a_unit_share_a_day(
    engine: Engine, first: tuple[str, str | None], second: tuple[str, str | None], rows: int
) -> None:
    """One may begin on the day on which the other ended; what may be any day of a month breaks nothing."""
    with act(engine) as work:
        unit = add_unit(work)
        add_person(work)
        for out_on, back_on in (first, second):
            _lend(work, unit, out_on, back_on=back_on)
        work.commit("lent twice")

    found = broken(engine)
    assert ["a unit is out on one loan at a time"] * rows == [row.rule for row in found]
    for row in found:
        until = f"to {first[1]}" if first[1] else "and is not back"
        assert row.says.endswith(f"from {first[0]} {until}")


LENT = 2  # the id of the first loan of `_lend`, which asks for one to name it


@pytest.mark.parametrize(
    ("values", "other", "rules"),
    [
        ({}, {}, []),
        ({"from_date": "2026-02-09"}, {}, ["a unit is kept for one at a time"]),
        ({"unit_id": 2, "loan_id": LENT}, {}, ["a reservation becomes a loan of its unit"]),
        ({}, {"deposit_back_minor": 101}, ["a deposit goes back once, at most all of it"]),
        ({}, {"deposit_back_on": "2025-12-31"}, ["a deposit goes back once, at most all of it"]),
    ],
)
def test_reservations_and_deposits_keep_their_rules(
    engine: Engine, values: dict[str, Any], other: dict[str, Any], rules: list[str]
) -> None:
    """Two kept for one day, a loan of another unit, more than the deposit or before the loan: one broken row each."""
    with act(engine) as work:
        units = add_unit(work), add_unit(work, "D2")
        add_person(work)
        _lend(work, units[0], "2026-01-01", back_on="2026-01-02")
        back: dict[str, Any] = {
            "deposit_minor": 100,
            "currency": "EUR",
            "deposit_back_minor": 100,
            "deposit_back_on": "2026-01-02",
        }
        work.update("loan", LENT, **(back | other))
        for first, last, more in (("2026-02-01", "2026-02-09", {}), ("2026-02-10", "2026-02-20", values)):
            kept = {"unit_id": units[0], "person_id": 1, "from_date": first, "to_date": last} | more
            work.insert("reservation", **kept)
        work.commit("kept and lent")

    assert rules == [row.rule for row in broken(engine)]


def test_every_folded_name_is_checked() -> None:
    """A table that gets one cannot be forgotten; appended rows are held by their digests."""
    kept = {(name, column.name) for name in EDITABLE for column in TABLES[name].c if column.name.endswith("_folded")}

    assert kept == {(table, folded) for table, pairs in FOLDED.items() for _shown, folded in pairs}


@pytest.mark.parametrize(
    ("begin", "end", "rows"),
    [("2026", "2026-01-01", 0), ("2026-02", "2026", 0), ("2026-02", "2026-01-31", 1), ("2026-02-01", "2026-01", 1)],
)
def test_a_partial_day_is_out_of_order_only_where_it_must_be(filled: Engine, begin: str, end: str, rows: int) -> None:
    """A service of "2026" may have ended on its first day."""
    rewrite(filled, f"UPDATE service SET opened_on = '{begin}', closed_on = '{end}'")

    assert rows == len([row for row in broken(filled) if row.rule == _IN_TIME])
