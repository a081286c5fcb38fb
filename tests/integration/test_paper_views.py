"""What bench sheets and loan slips say of units, on both databases."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.faults import add_fault
from collection.acts.loan_back import take_back
from collection.acts.loan_given import ComingBack, GivenState, GivenTerms
from collection.acts.loan_out import lend
from collection.acts.service_given import GivenService
from collection.acts.service_guide import keep_answer
from collection.acts.undo import undo
from collection.analysis.guide import Place
from collection.errors import Refused
from collection.quantity import Money
from collection.store.engine import reading
from collection.views.bench_sheet import BenchSheet, bench_sheet
from collection.views.loan_slip import LoanSlip, loan_slips
from collection.views.procedures import find_procedures
from collection.views.service_guide_readings import readings_as_found, readings_as_left
from tests.support.bench import BELT, IPA, SWAB
from tests.support.times import NOW, TODAY

WORK = ("replace belt", "clean head")


def sheet(engine: Engine, tag: str = "D1", *asked: str) -> BenchSheet:
    """Return the bench sheet of a unit, without rechecks."""
    with reading(engine) as conn:
        return bench_sheet(conn, tag, TODAY, None, asked)


def slips(engine: Engine, *names: str) -> list[LoanSlip]:
    """Return loan slips."""
    with reading(engine) as conn:
        return loan_slips(conn, names, TODAY)


def series(rows: Any) -> list[tuple[str, str]]:
    """Return what readings are asked of, in their order."""
    return [(each.measurement.name, each.point) for each in rows]


def test_a_bench_sheet_asks_in_the_order_of_the_guided_service(bench: Engine) -> None:
    """As found from top to bottom; a thick box for each series that the same service asks for as left, no other."""
    made = sheet(bench, "D1", *WORK)
    with reading(bench) as conn:
        tasks = find_procedures(conn, [job.sheet.procedure for job in made.jobs])
        found = series(readings_as_found(conn, made.unit, TODAY, tasks))
    done = keep_answer(
        bench, "D1", GivenService(did=tuple(each.name for each in tasks)), Place("supplies"),
        is_open=False, today=TODAY, now=NOW,
    )  # fmt: skip
    with reading(bench) as conn:
        left = series(readings_as_left(conn, made.unit, done.service_id, TODAY))

    assert len(found) > len(left) > 1
    assert found == series(each.asked for each in made.readings)[: len(found)]
    assert sorted(left) == sorted(series(each.asked for each in made.readings if each.retested))
    assert ("", False, TODAY.isoformat(), True) == (
        made.open_since, made.guided, sheet(bench).open_since, sheet(bench).guided
    )  # fmt: skip


def test_work_that_is_asked_for_brings_its_steps_cautions_supplies_and_parts(bench: Engine) -> None:
    """In the order of work, whatever the order of asking; the lot that goes first and what it holds stand beside."""
    made = sheet(bench, "d1", "Replace Belt", "clean head")
    used = {each.supply.name: (each.lot, each.held) for each in made.supplies}

    assert ["clean head", "replace belt"] == [job.sheet.procedure for job in made.jobs]
    assert [None, None] == [job.due for job in made.jobs]
    assert all(job.sheet.steps for job in made.jobs)
    assert ("A-1", 100) == used[IPA]
    assert "S-1" == used[SWAB][0]
    assert [("belt", BELT)] == [(each.part, each.supply) for each in made.parts]
    assert any("flammable" in each.text.lower() for each in made.cautions)
    texts = [each.text for each in sheet(bench, "D1").cautions]
    assert any("Mains inside the case can kill" in text for text in texts)  # it is opened for its readings too
    assert len(texts) == len(set(texts)) < len(made.cautions) == len({each.text for each in made.cautions})
    with pytest.raises(Refused, match="There is no procedure"):
        sheet(bench, "D1", "polish")
    with pytest.raises(Refused, match="No unit has the tag"):
        sheet(bench, "D11")


def test_a_bench_sheet_has_the_open_faults_and_the_work_that_is_due(bench: Engine) -> None:
    """A symptom makes its procedure due; a donor has no work, and its sheet says no more than its readings."""
    add_fault(bench, "D1", "read errors on head 1", today=TODAY, now=NOW)
    made = sheet(bench)

    assert ["read errors on head 1"] == [fault.symptom for fault in made.faults]
    assert "clean head" in [job.sheet.procedure for job in made.jobs if job.due]
    assert () == sheet(bench, "D7").jobs


def test_a_loan_slip_is_found_by_a_unit_that_is_out_or_by_its_name(bench: Engine) -> None:
    """All units of the loan stand on it, each loan once; one that is over is found by its name, an undone one never."""
    told: dict[str, Any] = {"to": "Bram Oakhollow", "due": "2026-04-01", "today": TODAY, "now": NOW}
    lend(bench, ("D4",), **told)
    undo(bench, None, today=TODAY, now=NOW)
    terms = GivenTerms(purpose="club day", deposit="50")
    lend(bench, ("P1", "D1"), terms=terms, all_the_same="a test", **told)
    first = slips(bench, "d1", "L2", "P1")
    state = GivenState(condition="scratched")
    take_back(bench, [ComingBack(tag, state) for tag in ("D1", "P1")], today=TODAY, now=NOW)
    (over,) = slips(bench, "l2")

    assert 1 == len(first)
    slip = first[0]
    assert ("L2", "out", "Bram Oakhollow", "2026-03-01", "2026-04-01", "club day") == (
        slip.loan, slip.direction, slip.person.name, slip.out_on, slip.due_on, slip.purpose
    )  # fmt: skip
    assert Money(5000, "EUR") == slip.deposit
    assert [("D1", ""), ("P1", "")] == [(item.unit.tag, item.back_on) for item in slip.items]
    assert [("2026-03-01", "scratched")] * 2 == [(item.back_on, item.condition_back) for item in over.items]
    with pytest.raises(Refused, match=r"D1 is not on loan\. Name a unit or a loan of"):
        slips(bench, "D1")
    for undone in ("D4", "L1"):
        with pytest.raises(Refused, match=r"D4 is not on loan|No unit has the tag"):
            slips(bench, undone)
