"""The due list from the book: which facts count, and which units are in it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import pytest
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.store.engine import reading
from collection.views.card import card_of
from collection.views.due import DueView, due_facts, due_view
from collection.views.service_report import next_due
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

NOTHING: dict[str, list[str]] = {}


def due(engine: Engine, within_days: int = 30) -> DueView:
    """Return the due list of the test's day."""
    with reading(engine) as connection:
        return due_view(connection, TODAY, within_days)


def whys(engine: Engine, within_days: int = 30) -> Mapping[str, list[str]]:
    """Return per tag why it is due."""
    return {row.tag: [item.why for item in row.items] for row in due(engine, within_days).due.rows}


@pytest.fixture
def bare(engine: Engine) -> Engine:
    """Return a book whose only procedures are those that a test makes."""
    with shelf(engine) as made:
        made.no_procedures()
    return engine


def test_an_empty_book_has_nothing_due(engine: Engine) -> None:
    """No rows, no units without history, nothing left out."""
    view = due(engine)

    assert ((), (), {}, {}) == (view.due.rows, view.due.no_history, view.due.left_out, view.units)


def test_a_book_of_one_unit_has_one_row(bare: Engine) -> None:
    """The row tells the day, the days over and the reason."""
    with shelf(bare) as made:
        made.procedure("re-lube rails", every_months=12)
        made.service(made.unit("D1"), "2025-02-01", "re-lube rails")

    (row,) = due(bare).due.rows

    assert ("D1", 28, ["re-lube rails: 12 months since 1 Feb 2025"]) == (
        row.tag,
        row.days_over,
        [item.why for item in row.items],
    )


@pytest.mark.parametrize(
    ("done_on", "within_days", "days_over"),
    [
        ("2026-01-31", 0, 1),  # 31 January and a month is 28 February
        ("2025-12-31", 0, 29),  # a month after that is 31 January
        ("2026-01-30", 0, 1),
        ("2026-01-28", 0, 1),
        ("2026-02-01", 0, 0),
        ("2026-02-02", 0, None),
        ("2026-02-02", 1, -1),
    ],
)
def test_a_month_ends_with_its_last_day(bare: Engine, done_on: str, within_days: int, days_over: int | None) -> None:
    """31 January + 1 month is the last day of February; today is 1 March 2026."""
    with shelf(bare) as made:
        made.procedure("dust out", every_months=1)
        made.service(made.unit("D1"), done_on, "dust out")

    assert ([] if days_over is None else [days_over]) == [row.days_over for row in due(bare, within_days).due.rows]


def test_what_was_done_last_counts_however_it_was_entered(bare: Engine) -> None:
    """An older service entered later, or a day told for the time before the book, makes nothing due again."""
    with shelf(bare) as made:
        rule, d1 = made.procedure("dust out", every_months=12), made.unit("D1")
        made.service(d1, "2025-12-01", "dust out")
        made.service(d1, "2021-12-01", "dust out")
        made.work.append("baseline", unit_id=d1, procedure_id=rule, last_done="2019")

    assert NOTHING == whys(bare)


def test_a_task_of_an_undone_act_was_not_done(bare: Engine) -> None:
    """Undoing the service makes its unit due again by the one before."""
    with shelf(bare) as made:
        made.procedure("dust out", every_months=12)
        d1 = made.unit("D1")
        made.service(d1, "2024-01-01", "dust out")
    with shelf(bare) as made:
        made.service(d1, "2026-02-01", "dust out")
    assert NOTHING == whys(bare)

    undo(bare, None, today=TODAY, now=NOW)
    assert {"D1": ["dust out: 12 months since 1 Jan 2024"]} == whys(bare)


def test_a_service_that_is_taken_back_takes_its_tasks_with_it(bare: Engine) -> None:
    """A task of a service that no longer stands does not count, whoever wrote the task."""
    with shelf(bare) as made:
        made.procedure("dust out", every_months=12)
        d1 = made.unit("D1")
        made.service(d1, "2024-01-01", "dust out")
        service = made.service(d1, "2026-02-01")
    with shelf(bare) as made:
        made.task(service, "dust out", "2026-02-01")
        made.work.set_void("service", [service], void=True)

    assert {"D1": ["dust out: 12 months since 1 Jan 2024"]} == whys(bare)


def test_what_was_told_last_about_the_time_before_the_book_counts(bare: Engine) -> None:
    """A later "first due" takes the place of an earlier "last done", and goes when its act is undone."""
    with shelf(bare) as made:
        rule, d1 = made.procedure("dust out", every_months=12), made.unit("D1")
        made.work.append("baseline", unit_id=d1, procedure_id=rule, last_done="2023")
    assert {"D1": ["dust out: 12 months since 2023"]} == whys(bare)

    with shelf(bare) as made:
        made.work.append("baseline", unit_id=d1, procedure_id=rule, first_due="2026-02-15")
    assert {"D1": ["dust out: first due 15 Feb 2026"]} == whys(bare)

    undo(bare, None, today=TODAY, now=NOW)
    assert {"D1": ["dust out: 12 months since 2023"]} == whys(bare)


def test_hours_count_from_the_meter_in_order_of_entry(bare: Engine) -> None:
    """500 hours since the last time, over a meter that was reset; a reading of an undone act is no reading."""
    with shelf(bare) as made:
        made.procedure("check speed", every_hours=500)
        d1 = made.unit("D1")
        made.service(d1, "2025-01-01", "check speed")
        for day, hours, reset in (("2025-01-01", 100.0, 0), ("2025-06-01", 400.0, 0), ("2025-07-01", 150.0, 1)):
            made.work.append("hour_reading", unit_id=d1, read_on=day, hours=hours, reset=reset)
    assert NOTHING == whys(bare)

    with shelf(bare) as made:
        made.work.append("hour_reading", unit_id=d1, read_on="2025-08-01", hours=200.0, reset=0)
    assert {"D1": ["check speed: 500 h since 1 Jan 2025, every 500 h"]} == whys(bare)

    undo(bare, None, today=TODAY, now=NOW)
    assert NOTHING == whys(bare)


def test_a_unit_that_arrived_came_back_or_travelled_is_due_for_a_look(bare: Engine) -> None:
    """After arrival, loan and transport, each by the day it happened; done since, it is due no more."""
    with shelf(bare) as made:
        made.procedure("look", triggers="after arrival; after loan; after transport")
        made.unit("D1", standing="arrived")
        lent = made.unit("D2")
        made.lend(lent, "2025-01-01", "2025-06-01", back_on="2025-05-20")
        moved = made.unit("D3")
        made.standing(moved, "away", "2025-04-01")
        made.standing(moved, "away", "2025-04-05")
        made.standing(moved, "on the bench", "2025-04-20")
        seen = made.unit("D4", standing="arrived")
        made.service(seen, "2020-01-02", "look")
        still_away = made.unit("D5")
        made.standing(still_away, "away", "2025-04-01")
        made.lend(made.unit("D6"), "2025-01-01", "2025-06-01", back_on="2025-05-20", direction="in")

    assert {
        "D1": ["look: arrived 1 Jan 2020"],
        "D2": ["look: back from loan 20 May 2025"],
        "D3": ["look: transported 20 Apr 2025"],
    } == whys(bare)


@pytest.mark.parametrize(
    ("standing", "since", "why"),
    [
        ("ready", "2025-02-01", ["turn: unused for 12 months since 1 Feb 2025"]),
        ("in use", "2025-02-01", None),
        ("on loan", "2025-02-01", None),
    ],
)
def test_a_unit_is_unused_since_it_was_last_in_use_served_or_read(
    bare: Engine, standing: str, since: str, why: list[str] | None
) -> None:
    """The end of its last use, its last service or its last reading, whichever is latest; not while in use."""
    with shelf(bare) as made:
        made.procedure("turn", triggers="unused 12 months")
        d1 = made.unit("D1", standing="in use")
        made.service(d1, "2024-06-01")
        made.reading(made.series(d1), "2024-12-01", 300.0)
        made.standing(d1, "ready", "2025-01-15")
        made.service(d1, "2025-01-20", closed_on=since)
        if standing != "ready":
            made.standing(d1, standing, "2025-01-25")

    assert ({} if why is None else {"D1": why}) == whys(bare)


def test_the_end_of_the_last_use_is_a_use(bare: Engine) -> None:
    """Without service or reading, the day it left "in use" counts."""
    with shelf(bare) as made:
        made.procedure("turn", triggers="unused 12 months")
        made.standing(made.unit("D1", standing="in use"), "ready", "2025-02-28")

    assert {"D1": ["turn: unused for 12 months since 28 Feb 2025"]} == whys(bare)


def test_an_open_fault_calls_for_the_procedure_of_its_symptom(bare: Engine) -> None:
    """A closed fault and one of an undone act do not."""
    with shelf(bare) as made:
        made.procedure("clean head", triggers="symptom read errors")
        d1, d2 = made.unit("D1"), made.unit("D2")
        made.work.insert("fault", unit_id=d1, noticed_on="2026-02-01", symptom="Read  errors on track 40")
        made.work.insert("fault", unit_id=d2, noticed_on="2026-02-01", symptom="read errors", closed_on="2026-02-02")
    with shelf(bare) as made:
        made.work.insert("fault", unit_id=d2, noticed_on="2026-02-03", symptom="read errors")
    undo(bare, None, today=TODAY, now=NOW)

    assert ["D1"] == list(whys(bare))


def test_a_reading_out_of_its_limits_calls_for_what_mends_it(engine: Engine) -> None:
    """As the reference data has it: a speed too high is set."""
    with shelf(engine) as made:
        made.reading(made.series(made.unit("D1")), "2026-02-01", 304.9)
        made.reading(made.series(made.unit("D2")), "2026-02-01", 304.5)

    (row,) = due(engine).due.rows

    assert ("D1", ["set spindle speed"]) == (row.tag, [item.procedure for item in row.items])
    assert "spindle speed: last reading 304.9 r/min, limit 304.5" == row.items[0].why


def test_two_marginal_looks_in_a_row_call_for_work(bare: Engine) -> None:
    """One marginal look does not, a second one right after it does."""
    with shelf(bare) as made:
        made.named("measurement", "head look", measured_in="graded")
        made.procedure("clean head", retests="head look")
        series = made.series(made.unit("D1"), "head look")
        made.reading(series, "2026-01-01", "marginal")
    assert NOTHING == whys(bare)

    with shelf(bare) as made:
        made.reading(series, "2026-02-01", "marginal")
    assert {"D1": ["head look: last reading marginal twice in a row"]} == whys(bare)


def test_a_reading_set_aside_is_not_out_of_limits(engine: Engine) -> None:
    """The stray one does not count, the one before it is within."""
    with shelf(engine) as made:
        series = made.series(made.unit("D1"))
        made.reading(series, "2026-01-01", 300.0)
        made.set_aside(made.reading(series, "2026-02-01", 310.0))

    assert NOTHING == whys(engine)


@pytest.mark.parametrize("standing", ["missing", "gone", "donor"])
def test_a_unit_that_is_lost_or_a_donor_is_counted_and_has_no_row(bare: Engine, standing: str) -> None:
    """Nobody can serve it, so it is left out, and the list says so."""
    with shelf(bare) as made:
        made.procedure("dust out", every_months=1)
        d1 = made.unit("D1")
        made.service(d1, "2020-01-01", "dust out")
        made.standing(d1, standing, "2026-02-01")
        made.unit("D2", standing=standing)

    view = due(bare)

    assert ((), (), {standing: 2}) == (view.due.rows, view.due.no_history, view.due.left_out)


def test_a_unit_on_loan_or_away_keeps_its_row_with_a_note(bare: Engine) -> None:
    """It is due when it is back: the note says until when or since when it is out."""
    with shelf(bare) as made:
        made.procedure("dust out", every_months=1)
        lent, away = made.unit("D1"), made.unit("D2")
        for unit in (lent, away):
            made.service(unit, "2025-01-01", "dust out")
        made.lend(lent, "2026-01-01", "2026-04-01")
        made.standing(away, "away", "2026-01-05")

    assert [("D1", "on loan until 1 Apr 2026", False), ("D2", "away since 5 Jan 2026", False)] == [
        (row.tag, row.note, row.at_hand) for row in due(bare).due.rows
    ]


def test_units_without_any_history_are_one_block(engine: Engine) -> None:
    """A hundred units brought in yesterday are no hundred overdue rows; one with a reading is not among them."""
    with shelf(engine) as made:
        for number in range(1, 4):
            made.unit(f"D{number}", acquired_on="2019")
        made.reading(made.series(made.unit("D4")), "2026-02-01", 300.0)

    view = due(engine)

    assert ((), ("D1", "D2", "D3")) == (view.due.rows, view.due.no_history)


def test_the_facts_of_one_unit_are_those_it_has_in_the_list_of_all(engine: Engine) -> None:
    """What the card is made from is what the due list is made from."""
    with shelf(engine) as made:
        d1, d2 = made.unit("D1"), made.unit("D2", standing="in use")
        for unit in (d1, d2):
            service = made.service(unit, "2025-01-01", "clean head", "check spindle speed")
            made.reading(made.series(unit), "2025-01-01", 304.9, "as found", service)
            made.work.append("hour_reading", unit_id=unit, read_on="2025-01-01", hours=1.0, reset=0)
            made.work.insert("fault", unit_id=unit, noticed_on="2026-02-01", symptom="read errors")
            rule = made.procedure("dust out")
            made.work.append("baseline", unit_id=unit, procedure_id=rule, first_due="2026-02-15")
            made.lend(unit, "2024-01-01", "2024-06-01", back_on="2024-05-20")
            made.standing(unit, "away", "2025-04-01")
            made.standing(unit, "ready", "2025-04-20")

    with reading(engine) as connection:
        of_all = {facts.tag: facts for facts in due_facts(connection, TODAY).of_units}
        of_one = due_facts(connection, TODAY, d2).of_units

    assert [of_all["D2"]] == of_one
    assert of_one[0].findings
    assert of_one[0].hours


@pytest.mark.parametrize(("standing", "due"), [("ready", True), ("donor", False), ("missing", False), ("gone", False)])
def test_nothing_lies_ahead_of_a_unit_that_the_due_list_leaves_out(bare: Engine, standing: str, due: bool) -> None:
    """Neither on its card nor after its service: the list says the same."""
    with shelf(bare) as made:
        made.few_procedures()
        unit = made.unit("D1", standing=standing)
        made.service(unit, "2024-01-01", "clean head")

    with reading(bare) as connection:
        assert due == bool(next_due(connection, unit, TODAY)) == bool(card_of(connection, "D1", TODAY).due)


def test_of_two_limits_from_one_day_the_one_entered_last_counts(engine: Engine) -> None:
    """A limit entered anew for the same series stands for the older one."""
    with shelf(engine) as made:
        unit = made.unit("D1")
        speed = made.series(unit)
        for upper in (301.0, 303.0):
            made.work.insert("limit_range", unit_id=unit, measurement_id=1, point="", upper=upper)
        made.reading(speed, "2026-02-01", 302.0)

    with reading(engine) as connection:
        assert due_facts(connection, TODAY).of_units[0].findings == ()


def test_what_happened_after_the_day_asked_about_is_not_known_on_it(bare: Engine) -> None:
    """With the day frozen at an earlier one, a unit stands as it stood, and did not yet arrive again."""
    with shelf(bare) as made:
        made.procedure("look it over", triggers="after arrival; after transport")
        unit = made.unit("D1")
        made.standing(unit, "away", "2026-01-10")
        made.standing(unit, "arrived", "2026-01-20")

    with reading(bare) as connection:
        (then,) = due_facts(connection, date(2026, 1, 15)).of_units
        (now,) = due_facts(connection, TODAY).of_units

    assert ("away", "", "") == (then.standing, then.arrived_on, then.transported_on)
    assert ("arrived", "2026-01-20", "2026-01-20") == (now.standing, now.arrived_on, now.transported_on)
