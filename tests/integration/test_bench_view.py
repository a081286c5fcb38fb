"""The bench calendar of a book, on both databases."""

from __future__ import annotations

import json
from datetime import date, timedelta

from sqlalchemy.engine import Engine

from collection.analysis.bench_plan import Bench
from collection.store.engine import reading
from collection.views.bench_lend import lend_view
from collection.views.bench_plan import BenchView, bench_view
from tests.support.cli import run_cli
from tests.support.shelf import shelf
from tests.support.times import TODAY

WEEKS = Bench(TODAY, TODAY + timedelta(weeks=8), (5,), 240)
SATURDAY = date(2026, 3, 7)


def calendar(engine: Engine) -> BenchView:
    """Return the calendar of eight weeks."""
    with reading(engine) as connection:
        return bench_view(connection, TODAY, WEEKS)


def test_an_empty_book_has_an_empty_calendar(engine: Engine) -> None:
    """No unit, no day, nobody waits, nobody can be lent."""
    found = calendar(engine)
    with reading(engine) as connection:
        lent = lend_view(connection, TODAY, WEEKS, date(2026, 4, 1), 2, "drive")

    assert ((), (), ()) == (found.plan.days, found.plan.after, found.waiting)
    assert () == lent.lent.chosen


def test_due_work_takes_from_the_drawer_and_units_that_are_out_wait(engine: Engine) -> None:
    """One opening for both procedures, which takes five swabs of none; a unit that is away has no day."""
    with shelf(engine) as made:
        made.service(made.unit("D1"), "2025-03-10", "clean head", "clean and re-lube rails")
        made.service(made.unit("D2", standing="away"), "2025-03-10", "clean head")
        made.unit("D3")
    found = calendar(engine)

    assert [("D1", SATURDAY, 40)] == [(each.tag, each.on, each.minutes) for each in found.plan.openings]
    swabs = {
        found.drawer.supplies[each.supply_id].name: each.short
        for each in found.takes[found.plan.openings[0].unit_id, SATURDAY]
    }
    assert 5 == swabs["foam swab, lint-free"]
    assert ([("D2", "away since 1 Jan 2020, nobody noted until when")], ("D3",)) == (
        [(each.tag, each.why) for each in found.waiting],
        found.work.no_history,
    )
    assert ("clean head", "clean and re-lube rails") == found.cautioned


def test_an_opening_takes_what_uses_took_so_far(engine: Engine) -> None:
    """Three cleanings took six swabs each where the sheet has two: with the sheet as two more, 4.4, so five in all."""
    with shelf(engine) as made:
        done = [made.service(made.unit(f"D{number}"), "2025-03-10", "clean head") for number in range(3)]
        for service in done:
            made.work.append(
                "movement", kind="use", steps=-6, entered="6", basis="measured", planned=1, used_past_date=0,
                occurred_on="2025-03-10", service_id=service, procedure_id=made.procedure("clean head"),
                supply_id=made.id_of("supply", "foam swab, lint-free", lambda: 0),
            )  # fmt: skip
    found = calendar(engine)
    swabs = [
        (found.drawer.supplies[each.supply_id].name, each.steps)
        for opening in found.plan.openings[:2]
        for each in found.takes[opening.unit_id, opening.on]
    ]
    assert [5, 4] == [steps for name, steps in swabs if name == "foam swab, lint-free"]


def test_what_is_done_for_a_loan_pushes_other_work_and_says_so(engine: Engine) -> None:
    """Both need most of the one day in time; what is lent goes first, and its work until the loan is over."""
    with shelf(engine) as made:
        made.no_procedures()
        made.procedure("tune", every_months=12, minutes=200)
        made.model("PX-1", kind="PC supply")
        made.service(made.unit("D1"), "2025-04-01", "tune")
        made.service(made.unit("P1", "PX-1"), "2025-03-08", "tune")
        made.unit("D2")
    with reading(engine) as connection:
        view = lend_view(connection, TODAY, WEEKS, date(2026, 3, 14), 2, "drive")

    assert [("D1", SATURDAY)] == [(opening.tag, opening.on) for opening in view.openings]
    assert [("P1", date(2026, 3, 14), 6)] == [(each.tag, each.on, each.days_late) for each in view.pushed]
    assert [("D2", "no history, so nobody knows what it needs")] == list(view.not_by)
    assert (1, date(2026, 4, 11)) == (view.days, view.through)


def test_a_unit_whose_condition_failed_last_is_not_offered(engine: Engine) -> None:
    """As no loan takes it without a reason; once it passed it is offered again."""
    with shelf(engine) as made:
        made.no_procedures()
        made.procedure("tune", every_months=12, minutes=200)
        units = [made.unit(tag) for tag in ("D1", "D2")]
        for unit in units:
            made.service(unit, "2026-02-01", "tune")
        for unit, grade in zip(units, ("fail", "pass"), strict=True):
            for each in ("fail", grade):
                told = {"checked_on": "2026-02-10", "occasion": "other", "condition": "lid", "grade": each}
                made.work.append("condition_check", unit_id=unit, **told)
    with reading(engine) as connection:
        view = lend_view(connection, TODAY, WEEKS, date(2026, 3, 14), 2, "drive")

    assert ["D2"] == [chosen.candidate.unit.tag for chosen in view.lent.chosen]
    assert [("D1", "condition graded fail on 10 Feb 2026")] == list(view.not_by)


def test_the_commands_say_what_is_assumed_and_refuse_what_cannot_be(book_url: str) -> None:
    """Saturday and 240 minutes with how to set them; a day that is over, and options that do not go together."""
    plain = run_cli(["plan"], db=book_url)

    assert "Saturday, 240 minutes each; day and minutes assumed (common practice, no source)." in plain.out
    assert "spindlebook book set --bench-days sat --bench-minutes 240" in plain.out
    assert "Sunday, 60 minutes each." in run_cli(["plan", "--days", "sun", "--minutes", "60"], db=book_url).out
    assert [] == json.loads(run_cli(["plan", "--json"], db=book_url).out)
    assert 1 == run_cli(["plan", "--lend", "1", "--on", "2026-02-28"], db=book_url).code
    assert 2 == run_cli(["plan", "--lend", "1"], db=book_url).code
    assert 2 == run_cli(["plan", "--on", "2026-04-01"], db=book_url).code
