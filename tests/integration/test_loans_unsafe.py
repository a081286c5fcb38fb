"""A unit that is out while its electrical safety speaks against it is told of, until somebody decided so."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.loan_back import take_back
from collection.acts.loan_change import extend
from collection.acts.loan_in import borrow
from collection.acts.loan_out import lend
from collection.acts.safety_checks import add_safety_check
from collection.acts.undo import undo
from collection.acts.units import add_unit
from collection.store.engine import reading
from collection.views.loans_unsafe import all_unsafe_out
from tests.support.bench import set_up_bench
from tests.support.books import scalar
from tests.support.cli import run_cli
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
BRAM, ILSE = "Bram Oakhollow", "Ilse Vanterpool"
NO_CHECK = "it is fed from the mains and has no electrical safety check"


@pytest.fixture
def bench(engine: Engine) -> Engine:
    """Return an engine on a book with a small shelf, of which P1 is fed from the mains and was checked in February."""
    set_up_bench(engine, TODAY, NOW)
    add_safety_check(engine, "P1", "pass", by=ILSE, on="2026-02-01", good_through="2026-04-01", **AT)
    return engine


def _last_act(engine: Engine) -> int:
    return int(scalar(engine, "SELECT max(id) FROM act"))


def _lend(engine: Engine, *tags: str, all_the_same: str = "", due: str = "2026-04-01") -> None:
    lend(engine, tags, to=BRAM, due=due, all_the_same=all_the_same, **AT)


def _unsafe(engine: Engine, today: date = TODAY) -> list[tuple[str, str]]:
    with reading(engine) as conn:
        return [(row.tag, says) for row, says in all_unsafe_out(conn, today)]


def test_a_check_that_is_taken_back_under_a_loan_is_told_of_wherever_the_loan_is(bench: Engine, book_url: str) -> None:
    """It may have been of another unit: what nobody checked has to come out of the book; brought back, all is well."""
    check = _last_act(bench)
    _lend(bench, "D1", "P1")
    assert [] == _unsafe(bench)

    ran = run_cli(["undo", str(check)], db=book_url)

    assert [
        f"P1 is out to {BRAM} (loan L1), and {NO_CHECK}.",
        "Ask for it back: spindlebook loan back P1",
        "Whether it may be used meanwhile, local rules and a qualified person decide.",
    ] == ran.err.splitlines()
    assert f"not safe: {NO_CHECK}" in run_cli(["loan", "list"], db=book_url).out
    said = [line.split(maxsplit=2) for line in run_cli(["loan", "show", "L1"], db=book_url).out.splitlines()]
    assert ["not", "safe", f"P1: {NO_CHECK}"] in said
    shown = json.loads(run_cli(["loan", "show", "L1", "--json"], db=book_url).out)
    assert [{"tag": "P1", "says": NO_CHECK}] == shown["unsafe"]
    listed = json.loads(run_cli(["loan", "list", "--json"], db=book_url).out)
    assert [("D1", None), ("P1", NO_CHECK)] == [(row["tag"], row["unsafe"]) for row in listed]
    again = run_cli(["undo", str(_last_act(bench))], db=book_url)
    assert "" == again.err
    assert "not safe" not in run_cli(["loan", "list"], db=book_url).out
    assert {None} == {row["unsafe"] for row in json.loads(run_cli(["loan", "list", "--json"], db=book_url).out)}
    assert "not safe" not in run_cli(["loan", "show", "L1"], db=book_url).out


def test_who_reads_the_undo_as_json_is_told_of_the_unit_beside_it(bench: Engine, book_url: str) -> None:
    """A program reads the object, a person what stands beside it: it may hurt somebody."""
    check = _last_act(bench)
    _lend(bench, "P1")

    ran = run_cli(["undo", str(check), "--json"], db=book_url)

    assert check == json.loads(ran.out)["act"]
    assert ran.err.startswith(f"P1 is out to {BRAM} (loan L1), and {NO_CHECK}.\n")


def test_what_was_lent_all_the_same_for_that_is_not_told_of_again(bench: Engine) -> None:
    """Somebody decided; for another thing nobody did. Once it is back, nothing is out."""
    undo(bench, _last_act(bench), **AT)
    _lend(bench, "P1", all_the_same="papers are elsewhere")
    add_safety_check(bench, "P1", "pass", by=ILSE, **AT)
    assert () == undo(bench, _last_act(bench), **AT).unsafe
    assert [] == _unsafe(bench)
    add_safety_check(bench, "P1", "fail", by=ILSE, **AT)
    assert [("P1", "its electrical safety check of 2026-03-01 failed")] == _unsafe(bench)
    take_back(bench, ["P1"], **AT)
    assert [] == _unsafe(bench)


def test_what_was_decided_of_one_unit_or_of_one_loan_is_decided_of_no_other(bench: Engine) -> None:
    """The same words in the mark of another unit of the loan, or of an earlier loan of the unit, are of that alone."""
    add_unit(bench, "P2", {"model": "PS-2", "standing": "ready"}, **AT)
    _lend(bench, "P2", "P1", all_the_same="papers are elsewhere")
    check = scalar(bench, "SELECT act_id FROM safety_check")
    taken_back = undo(bench, check, **AT).by_id
    assert [("P1", NO_CHECK)] == _unsafe(bench)
    undo(bench, taken_back, **AT)
    take_back(bench, ["P1", "P2"], **AT)

    add_safety_check(bench, "P2", "pass", by=ILSE, **AT)
    _lend(bench, "P2", all_the_same="its rails are read on Sunday")
    undo(bench, _last_act(bench) - 1, **AT)
    assert [("P2", NO_CHECK)] == _unsafe(bench)


def test_a_decision_that_was_taken_back_hides_nothing_and_what_is_borrowed_is_here(bench: Engine) -> None:
    """Days that were added for a reason and taken away again; the lender of a unit is asked for nothing."""
    _lend(bench, "P1", due="2026-03-20")
    lapsed = "its electrical safety check of 2026-02-01 is good through 2026-04-01 only"
    extend(bench, "P1", due="2026-05-01", all_the_same="the tester comes in May", **AT)
    assert [] == _unsafe(bench, date(2026, 4, 2))
    undo(bench, None, **AT)
    assert [("P1", lapsed)] == _unsafe(bench, date(2026, 4, 2))

    add_unit(bench, "P2", {"model": "PS-2", "standing": "ready"}, **AT)
    borrow(bench, ["P2"], lender=ILSE, due="2026-04-01", **AT)
    assert [] == _unsafe(bench)


def test_a_check_is_asked_for_until_the_unit_is_back(bench: Engine) -> None:
    """Through the day due it was good for; the day after that is one on which the unit should be back, and is not."""
    _lend(bench, "P1")

    assert [] == _unsafe(bench, date(2026, 4, 1))
    lapsed = "its electrical safety check of 2026-02-01 is good through 2026-04-01 only"
    assert [("P1", lapsed)] == _unsafe(bench, date(2026, 4, 2))
    extend(bench, "P1", due="2026-05-01", all_the_same="the tester comes in May", **AT)
    assert [] == _unsafe(bench, date(2026, 4, 2))


def test_an_undo_says_only_what_it_made_unsafe(bench: Engine) -> None:
    """What was so before is told by the lists."""
    check = _last_act(bench)
    _lend(bench, "P1")
    undo(bench, check, **AT)
    _lend(bench, "D1")

    assert () == undo(bench, None, **AT).unsafe
    assert [("P1", NO_CHECK)] == _unsafe(bench)
