"""Faults noticed and closed, on both databases."""

from __future__ import annotations

from functools import partial
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.faults import add_fault, close_fault, edit_fault
from collection.acts.loan_back import take_back
from collection.acts.loan_given import ComingBack
from collection.acts.loan_out import lend
from collection.acts.service_given import GivenService
from collection.acts.service_record import open_service, record_service
from collection.acts.undo import undo
from collection.acts.units import enter
from collection.errors import Refused
from collection.store.engine import fetch, reading
from collection.views.faults import chosen_faults, fault_list, open_faults_on
from collection.views.service_report import next_due
from collection.views.units import find_unit
from tests.support.bench import set_up_bench
from tests.support.books import digest
from tests.support.times import NOW, TODAY


@pytest.fixture
def bench(engine: Engine) -> Engine:
    """Return an engine on a book with a small shelf in it, and one fault of February."""
    set_up_bench(engine, TODAY, NOW)
    add_fault(engine, "d1", "squeals after ten minutes", on="2026-02-10", by="Bram Oakhollow", today=TODAY, now=NOW)
    return engine


def _close(engine: Engine, **given: Any) -> None:
    close_fault(engine, "D1", **given, today=TODAY, now=NOW)


def test_a_fault_is_open_until_it_is_closed_with_cause_and_cure(bench: Engine) -> None:
    """Closed faults keep what they came from, what helped, who noticed them, and their days."""
    _close(bench, cause="belt glazed", cure="new belt", on="2026-02-20")

    with reading(bench) as conn:
        (fault,) = fault_list(conn)
        unit_id = find_unit(conn, "D1").id
        open_on = [day for day in (9, 10, 19, 20) if open_faults_on(conn, unit_id, TODAY.replace(month=2, day=day))]
    assert ("belt glazed", "new belt", "2026-02-20") == (fault.cause, fault.cure, fault.closed_on)
    assert ("Bram Oakhollow", "2026-02-10", False) == (fault.by, fault.noticed_on, fault.no_fault_found)
    assert [10, 19] == open_on


def test_a_fault_may_be_closed_without_one_found(bench: Engine) -> None:
    """No fault found is an answer of its own, and undo opens the fault again."""
    _close(bench, no_fault_found=True)
    with reading(bench) as conn:
        assert [True] == [fault.no_fault_found for fault in fault_list(conn)]

    undo(bench, None, today=TODAY, now=NOW)

    with reading(bench) as conn:
        assert ["squeals after ten minutes"] == [fault.symptom for fault in fault_list(conn) if not fault.closed_on]


def test_a_fault_closed_during_a_service_belongs_to_it(bench: Engine) -> None:
    """The open service of the unit is noted with the fault."""
    open_service(bench, "D1", GivenService(), today=TODAY, now=NOW)

    _close(bench, cure="new belt")

    with reading(bench) as conn:
        assert ["D1 2026-03-01"] == [fault.service for fault in fault_list(conn)]


def test_of_several_open_faults_one_is_named_by_number_or_words(bench: Engine) -> None:
    """Without a choice all are shown with their numbers."""
    add_fault(bench, "D1", "reads slowly", today=TODAY, now=NOW)
    with pytest.raises(Refused) as refused:
        _close(bench, cure="cleaned")

    _close(bench, which="2", cure="cleaned")
    _close(bench, which="SQUEALS", cure="new belt")

    assert (
        'D1 has 2 open faults: 1 "squeals after ten minutes" (2026-02-10); 2 "reads slowly" (2026-03-01).'
        " Say which by number or words: spindlebook fault close D1 --which 1"
    ) == str(refused.value)
    with reading(bench) as conn:
        assert ["new belt", "cleaned"] == [fault.cure for fault in fault_list(conn)]


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({}, "What the fault came from is not said. Add --cause and --cure, or --no-fault-found."),
        ({"cure": "x", "no_fault_found": True}, "No fault found, yet a cause or cure."),
        ({"cure": "x", "on": "2026-02-09"}, "was noticed on 2026-02-10, after 2026-02-09."),
        ({"cure": "x", "which": "3"}, 'D1 has no open fault "3". Open: 1 "squeals'),
        ({"cure": "x" * 20_001}, "cure has 20001 characters"),
    ],
)
def test_a_fault_is_not_closed_wrongly(bench: Engine, given: dict[str, Any], says: str) -> None:
    """The refusal says what is wrong and changes nothing."""
    before = digest(bench)

    with pytest.raises(Refused) as refused:
        _close(bench, **given)

    assert says in str(refused.value)
    assert before == digest(bench)


def test_a_unit_without_an_open_fault_has_none_to_close(bench: Engine) -> None:
    """Once closed it is not closed again."""
    _close(bench, cure="new belt")

    with pytest.raises(Refused, match="D1 has no open fault"):
        _close(bench, cure="new belt")


@pytest.mark.parametrize(
    ("symptom", "says"), [(" ", "A fault has a symptom"), ("Squeals  after ten minutes", "since 2026-02-10 already")]
)
def test_an_empty_or_repeated_symptom_is_refused(bench: Engine, symptom: str, says: str) -> None:
    """The same words are not noted twice while the fault is open."""
    with pytest.raises(Refused, match=says):
        add_fault(bench, "D1", symptom, today=TODAY, now=NOW)


def test_a_closed_fault_is_corrected_with_a_reason_alone(bench: Engine) -> None:
    """What the past rests on does not change silently, and the old words stay in the journal."""
    _close(bench, cause="belt glazed", cure="new belt", on="2026-02-20")
    edit = partial(edit_fault, bench, "D1", today=TODAY, now=NOW)

    with pytest.raises(Refused, match="needs a reason"):
        edit({"cure": "belt turned"})
    with pytest.raises(Refused, match="before it was noticed"):
        edit({"closed_on": "2026-02-09"}, reason="slip")
    changes = edit({"cure": "belt turned", "noticed_on": "2026-02-20"}, reason="slip").changes

    assert (("noticed_on", "2026-02-10", "2026-02-20"), ("cure", "new belt", "belt turned")) == changes


def test_a_fault_closed_later_belongs_to_the_service_named(bench: Engine) -> None:
    """The service it was mended in may be closed long since."""
    record_service(bench, "D1", GivenService(on="2026-02-11", outcome="ready", anyway="squeals"), today=TODAY, now=NOW)

    with pytest.raises(Refused, match='no service "D1 2026-02-12"'):
        _close(bench, cure="new belt", service="D1 2026-02-12")
    _close(bench, cure="new belt", service="d1 2026-02-11")

    with reading(bench) as conn:
        assert ["D1 2026-02-11"] == [fault.service for fault in fault_list(conn)]


def test_a_complaint_of_a_borrower_is_an_open_fault_and_calls_for_a_look(bench: Engine) -> None:
    """It holds back "ready", stands with its loan, and leaves the due list when it is closed."""
    lend(bench, ["D4"], to="Bram Oakhollow", due="2026-03-20", on="2026-02-01", today=TODAY, now=NOW)
    take_back(bench, [ComingBack("D4", complaint="groans")], on="2026-02-28", today=TODAY, now=NOW)

    with reading(bench) as conn:
        unit_id = find_unit(conn, "D4").id
        loan = fetch(conn, "SELECT l.name FROM fault f JOIN loan l ON l.id = f.loan_id")
        why = {item.procedure: item.reasons for item in next_due(conn, unit_id, TODAY)}
    assert [("L1",)] == loan
    assert ('complaint "groans" of 28 Feb 2026',) == why["look at"]
    with pytest.raises(Refused, match='fault "groans" is open'):
        enter(bench, "D4", standing="in use", today=TODAY, now=NOW)

    close_fault(bench, "D4", no_fault_found=True, today=TODAY, now=NOW)
    with reading(bench) as conn:
        assert "look at" not in {item.procedure for item in next_due(conn, unit_id, TODAY)}


def test_the_faults_of_one_model_or_with_some_words_are_listed(bench: Engine) -> None:
    """An unknown model is refused with the nearest."""
    add_fault(bench, "D4", "hums", today=TODAY, now=NOW)

    with reading(bench) as conn:
        assert ["D1"] == [fault.tag for fault in chosen_faults(conn, model="dm-8")]
        assert ["D4"] == [fault.tag for fault in chosen_faults(conn, symptom="hum")]
        assert [] == chosen_faults(conn, "D4", symptom="squeal")
        with pytest.raises(Refused, match="Nearest: DM-8"):
            chosen_faults(conn, model="DM-88")
