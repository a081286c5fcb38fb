"""Lending, taking back, and the people who borrow, on both databases."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.faults import add_fault
from collection.acts.loan_back import take_back
from collection.acts.loan_given import ComingBack, GivenState, GivenTerms, GoingOut
from collection.acts.loan_out import lend
from collection.acts.people import add_person
from collection.acts.reservations import reserve
from collection.acts.safety_checks import add_safety_check
from collection.acts.service_given import GivenService
from collection.acts.service_record import record_service
from collection.acts.undo import undo
from collection.errors import Refused
from collection.quantity import Money
from collection.store.engine import fetch, reading
from collection.views.loans import LoanRow, loan_list
from collection.views.people import find_person
from collection.views.units import find_unit, unit_on
from tests.support.bench import set_up_bench
from tests.support.books import act, digest, scalar
from tests.support.times import NOW, TODAY


@pytest.fixture
def bench(engine: Engine) -> Engine:
    """Return an engine on a book with a small shelf in it."""
    set_up_bench(engine, TODAY, NOW)
    add_safety_check(engine, "P1", "pass", by="Ilse Vanterpool", on="2026-01-05", today=TODAY, now=NOW)
    return engine


def _lend(engine: Engine, *tags: str | GoingOut, **given: Any) -> list[LoanRow]:
    told: dict[str, Any] = {"to": "bram oakhollow", "due": "2026-04-01", **given}
    return lend(engine, tags or ("D1",), **told, today=TODAY, now=NOW)


def _back(engine: Engine, *tags: str | ComingBack, **given: Any) -> list[LoanRow]:
    return take_back(engine, tags or ("D1",), **given, today=TODAY, now=NOW)


def _standing(engine: Engine, tag: str = "D1") -> str:
    with reading(engine) as conn:
        return unit_on(conn, find_unit(conn, tag).id, TODAY).standing


def test_units_stand_on_loan_until_they_are_back(bench: Engine) -> None:
    """No standing is entered: the loan alone says it, and the standing before shows again."""
    entries = scalar(bench, "SELECT count(*) FROM unit_entry")

    rows = _lend(bench, "D1", "P1", terms=GivenTerms(purpose="club day", deposit="50"))
    out = [_standing(bench, tag) for tag in ("D1", "P1")]
    (back,) = _back(bench, ComingBack("d1", GivenState("scratched")))

    assert [("L1", "D1", "Bram Oakhollow", "2026-03-01", "2026-04-01", Money(5000, "EUR"))] * 1 == [
        (row.loan, row.tag, row.person, row.out_on, row.due_on, row.deposit) for row in rows if row.tag == "D1"
    ]
    assert ["on loan", "on loan"] == out
    assert ("2026-03-01", "scratched") == (back.back_on, back.condition_back)
    assert ["ready", "on loan"] == [_standing(bench, tag) for tag in ("D1", "P1")]
    assert entries == scalar(bench, "SELECT count(*) FROM unit_entry")


def test_a_loan_and_its_return_can_be_undone(bench: Engine) -> None:
    """Undoing the return lets the unit be out again; undoing the loan lets it be in."""
    before = digest(bench, effective=True)
    _lend(bench)
    lent = digest(bench, effective=True)
    _back(bench)

    undo(bench, None, today=TODAY, now=NOW)
    assert (lent, "on loan") == (digest(bench, effective=True), _standing(bench))
    undo(bench, None, today=TODAY, now=NOW)
    assert (before, "ready") == (digest(bench, effective=True), _standing(bench))


@pytest.mark.parametrize(("due_on", "over"), [("2026-02", 1), ("2026-03", -30), ("2026", -305)])
def test_a_loan_due_in_a_month_is_over_after_its_last_day(bench: Engine, due_on: str, over: int) -> None:
    """A folder may bring in a partial day; nobody is called late before it has passed."""
    with act(bench) as work:
        loan = work.insert(
            "loan", name="L9", direction="out", person_id=find_person(work.conn, "Bram Oakhollow").id,
            out_on="2025-12-10", due_on=due_on,
        )  # fmt: skip
        work.insert("loan_item", loan_id=loan, unit_id=find_unit(work.conn, "D1").id)
        work.commit("a loan with a partial day")

    with reading(bench) as conn:
        assert [over] == [row.days_over for row in loan_list(conn, TODAY)]


def test_a_loan_is_over_from_the_day_after_it_was_due(bench: Engine) -> None:
    """On the day due it is not over; the day after it is one day over; back it is none."""
    _lend(bench, on="2026-01-10", due="2026-02-28")
    _lend(bench, "P1", on="2026-01-10", due="2026-03-01")

    with reading(bench) as conn:
        assert [("D1", 1), ("P1", 0)] == [(row.tag, row.days_over) for row in loan_list(conn, TODAY)]
    _back(bench)
    with reading(bench) as conn:
        assert ["P1"] == [row.tag for row in loan_list(conn, TODAY)]
        assert [("P1", 0), ("D1", 0)] == [(r.tag, r.days_over) for r in loan_list(conn, TODAY, closed_too=True)]


def test_with_a_reason_a_unit_that_is_not_ready_is_lent_and_marked(bench: Engine) -> None:
    """The reason stands in the journal and in the mark."""
    add_fault(bench, "D3", "reads slowly", today=TODAY, now=NOW)

    _lend(bench, "D3", all_the_same="for spares")

    assert "on loan" == _standing(bench, "D3")
    says = 'lent all the same (for spares): it is awaiting parts, not ready; fault "reads slowly" is open'
    assert (says, "for spares") == (
        scalar(bench, "SELECT rule FROM doubt"),
        scalar(bench, "SELECT reason FROM act WHERE command = 'loan out'"),
    )


NO_LOANS: list[tuple[tuple[str | GoingOut, ...], dict[str, Any], str]] = [
    (("D3",), {}, "D3 is not lent: it is awaiting parts, not ready."),
    (("D4",), {}, 'D4 is not lent: fault "reads slowly" is open.'),
    (("P1", "p1"), {}, "P1 is named twice."),
    (("P8",), {}, 'No unit has the tag "P8". Nearest: P1'),
    (("D1",), {}, "D1 is out to Bram Oakhollow since 2026-02-20, due 2026-04-01 (loan L1)."),
    (("D1",), {"all_the_same": "still"}, "D1 is out to Bram Oakhollow since 2026-02-20"),
    (("D9",), {"all_the_same": "still"}, "D9 is missing since 2025-01-10: it is not there to be lent."),
    (("P8",), {"all_the_same": "still"}, 'No unit has the tag "P8".'),
    (("D7",), {}, "D7 is not lent: it is donor, not ready."),
    (("D1",), {"on": "2026-02-01", "due": "2026-02-10"}, "D1 is lent from 2026-02-20 on already (loan L1)."),
    (("P1",), {"due": "2026-02-28"}, "Due on 2026-02-28 is before out on 2026-03-01."),
    (("P1",), {"due": "2026-04"}, "--due 2026-04 names no single day."),
    (("P1",), {"on": "2026-03-02"}, "--on 2026-03-02 has not come yet"),
    (("P1",), {"to": "bram"}, 'There is no person "bram". Nearest: Bram Oakhollow. A new one: spindlebook person'),
    (("P1",), {"to": " "}, "--to names nobody."),
    (("P1",), {"terms": GivenTerms(deposit="-5")}, "A deposit of -5 EUR is below zero."),
    (("P1",), {"terms": GivenTerms(deposit="5.555")}, "5.555 EUR has too many digits"),
    (("P1",), {"terms": GivenTerms(by="Bran")}, 'There is no person "Bran".'),
    (("P1",), {"terms": GivenTerms(purpose="x" * 20_001)}, "purpose has 20001 characters"),
    (("P1",), {"all_the_same": "x" * 2_001}, "all the same has 2001 characters"),
    ((GoingOut("P1", state=GivenState(grade="pass")),), {}, "The condition of P1 is not said."),
]


def test_a_loan_that_cannot_be_is_refused(bench: Engine) -> None:
    """The refusal says why, also for one unit among several, and nothing is lent."""
    add_fault(bench, "D4", "reads slowly", today=TODAY, now=NOW)
    _lend(bench, on="2026-02-20")
    before = digest(bench)
    said = []
    for tags, given, _ in NO_LOANS:
        with pytest.raises(Refused) as refused:
            _lend(bench, *tags, **given)
        said.append(str(refused.value))

    assert [] == [(says, text) for (*_, says), text in zip(NO_LOANS, said, strict=True) if says not in text]
    assert before == digest(bench)


def test_a_unit_may_be_due_on_the_day_it_goes_out(bench: Engine) -> None:
    """A loan of one day is one."""
    assert ["2026-03-01"] == [row.due_on for row in _lend(bench, due="2026-03-01")]


def test_a_unit_can_be_lent_again_on_the_day_it_came_back(bench: Engine) -> None:
    """Back and out on one day are two loans, of different names."""
    _lend(bench, on="2026-02-01")
    _back(bench, on="2026-02-10")

    again = _lend(bench, on="2026-02-10", all_the_same="looked over by hand")

    assert ["L2"] == [row.loan for row in again]


@pytest.mark.parametrize(
    ("tags", "given", "says"),
    [
        (("P1",), {}, "P1 is not on loan."),
        (("D1", "D1"), {}, "D1 is named twice."),
        (("D1",), {"on": "2026-02-19"}, "D1 went out on 2026-02-20, after 2026-02-19."),
        (("D1", "P1"), {}, "P1 is not on loan."),
    ],
)
def test_what_is_not_out_is_not_taken_back(
    bench: Engine, tags: tuple[str, ...], given: dict[str, Any], says: str
) -> None:
    """One unit that is not out stops all, and nothing changes."""
    _lend(bench, on="2026-02-20")
    before = digest(bench)

    with pytest.raises(Refused) as refused:
        _back(bench, *tags, **given)

    assert says in str(refused.value)
    assert before == digest(bench)


def test_a_unit_on_loan_is_not_serviced_without_a_reason(bench: Engine) -> None:
    """It is not at hand; the refusal says how to take it back."""
    _lend(bench)

    with pytest.raises(Refused, match="on loan since 2026-03-01 and not at hand"):
        record_service(bench, "D1", GivenService(outcome="on the bench"), today=TODAY, now=NOW)


def test_people_are_added_once_and_found_in_any_case(bench: Engine) -> None:
    """A name is one whatever its case and blanks."""
    add_person(
        bench, " Ada  Quill ", role="Issuer", email="ada@example.org", phone="1", address="x", today=TODAY, now=NOW
    )
    with pytest.raises(Refused, match='There is a person "ADA QUILL" already'):
        add_person(bench, "ADA QUILL", today=TODAY, now=NOW)

    with reading(bench) as conn:
        ada = find_person(conn, "ada quill")
    assert ("Ada Quill", "issuer", "ada@example.org", "1", "x") == (
        ada.name,
        ada.role,
        ada.email,
        ada.phone,
        ada.address,
    )


@pytest.mark.parametrize(
    ("name", "given", "says"),
    [
        (" ", {}, "A person has a name, and none is given."),
        ("x" * 201, {}, "name has 201 characters; at most 200 are kept."),
        ("Ada", {"role": "membr"}, 'Role "membr" is none. Nearest: member'),
        ("Ada", {"email": "ada"}, '"ada" is no e-mail address'),
        ("Ada", {"email": "@example.org"}, "is no e-mail address"),
    ],
)
def test_a_person_that_cannot_be_is_refused(bench: Engine, name: str, given: dict[str, Any], says: str) -> None:
    """The refusal says what is wrong and changes nothing."""
    before = digest(bench)

    with pytest.raises(Refused) as refused:
        add_person(bench, name, **given, today=TODAY, now=NOW)

    assert says in str(refused.value)
    assert before == digest(bench)


def test_no_name_of_a_person_enters_the_journal(bench: Engine) -> None:
    """Adding, lending, a fault and a service leave only hashes of personal data in it."""
    add_person(bench, "Ada Quill", email="ada@example.org", today=TODAY, now=NOW)
    _lend(bench, "P1", to="Ada Quill", terms=GivenTerms(by="Ada Quill"))
    reserve(bench, ["D3"], to="Ada Quill", first="2026-03-10", last="2026-03-20", today=TODAY, now=NOW)
    add_fault(bench, "D1", "squeals", by="Ada Quill", today=TODAY, now=NOW)
    given = GivenService(by="Ada Quill", outcome="on the bench")
    record_service(bench, "D1", given, today=TODAY, now=NOW)

    with reading(bench) as conn:
        journal = [
            fetch(conn, "SELECT command, reason FROM act"),
            fetch(conn, "SELECT before, after FROM change"),
            fetch(conn, "SELECT summary FROM seal"),
        ]
    assert "Quill" not in repr(journal)
    assert "example.org" not in repr(journal)
