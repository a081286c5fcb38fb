"""Borrowing what belongs to somebody else than the lender, and giving it back, for a reason; on both databases."""

from __future__ import annotations

import json
from datetime import date

import pytest
from sqlalchemy.engine import Engine

from tests.support.bench import set_up_bench
from tests.support.books import scalar
from tests.support.cli import Ran, run_cli
from tests.support.times import NOW, TODAY

BRAM, ILSE = "Bram Oakhollow", "Ilse Vanterpool"
STAYS = "give that as the reason, and then: spindlebook unit enter D1 --standing ready"


@pytest.fixture
def bench(engine: Engine, book_url: str) -> str:
    """Return the URL of a book with a small shelf, on which D1 is Ilse's from February on and D2 nobody's known."""
    set_up_bench(engine, TODAY, NOW)
    assert 0 == _run(book_url, "unit", "enter", "D1", "--owner", ILSE, "--on", "2026-02-01").code
    return book_url


def _run(book: str, *words: str, today: date = TODAY) -> Ran:
    return run_cli(words, db=book, today=today)


def test_whoever_types_the_other_end_of_a_loan_is_told_the_right_one(bench: str) -> None:
    """What is borrowed is not taken back but given back, and the other way round."""
    assert 0 == run_cli(["unit", "add", "B4", "--model", "DM-8"], db=bench).code
    assert 0 == run_cli(["loan", "in", "B4", "--from", BRAM, "--due", "2026-06-01"], db=bench).code
    lent = ["loan", "out", "D1", "--to", BRAM, "--due", "2026-06-01", "--all-the-same", "asked for"]
    assert 0 == run_cli(lent, db=bench).code

    borrowed, given = (run_cli(["loan", *words], db=bench) for words in (["back", "B4"], ["give-back", "D1"]))
    neither = run_cli(["loan", "back", "D3"], db=bench)

    assert f"B4 is not on loan, it is borrowed from {BRAM}.\nType: spindlebook loan give-back B4\n" == borrowed.err
    assert f"D1 is not borrowed, it is on loan to {BRAM}.\nType: spindlebook loan back D1\n" == given.err
    assert "D3 is not on loan.\nType: spindlebook loan list\n" == neither.err


def test_of_a_loan_that_is_over_nobody_is_told_how_it_ends(bench: str) -> None:
    """A unit that was borrowed, or lent, and went back is neither now."""
    assert 0 == run_cli(["unit", "add", "B4", "--model", "DM-8"], db=bench).code
    lent = ["D1", "--to", BRAM, "--due", "2026-06-01", "--all-the-same", "asked for"]
    borrowed = ["B4", "--from", BRAM, "--due", "2026-06-01"]
    for words in (["in", *borrowed], ["give-back", "B4"], ["out", *lent], ["back", "D1"]):
        assert 0 == run_cli(["loan", *words], db=bench).code

    back, given = (run_cli(["loan", *words], db=bench) for words in (["back", "B4"], ["give-back", "D1"]))

    assert "B4 is not on loan.\nType: spindlebook loan list\n" == back.err
    assert "D1 is not borrowed.\nType: spindlebook loan list\n" == given.err


def _borrow(book: str, lender: str, *more: str) -> Ran:
    return _run(book, "loan", "in", "D1", "D2", "--from", lender, "--due", "2026-04-01", *more)


def _give_back(book: str, *more: str) -> Ran:
    return _run(book, "loan", "give-back", "D1", *more)


def test_whoever_lends_what_is_not_theirs_is_asked_for_the_reason(bench: str, engine: Engine) -> None:
    """Without one nothing is written. The owner stays; the reason is in the history, the mark names nobody."""
    acts = scalar(engine, "SELECT max(id) FROM act")
    ran = _borrow(bench, BRAM)

    assert 1 == ran.code
    assert [
        f"D1 is not borrowed: it belongs to {ILSE}, not to {BRAM}.",
        f'If the owner is wrong: spindlebook unit enter D1 --owner "{BRAM}" --on 2026-03-01',
        f'If {BRAM} lends what is not theirs, give a reason: --all-the-same "REASON".',
    ] == ran.err.splitlines()
    assert acts == scalar(engine, "SELECT max(id) FROM act")
    assert 1 == _borrow(bench, BRAM, "--all-the-same", " ").code

    ran = _borrow(bench, BRAM, "--all-the-same", "he keeps it for her")
    says = "borrowed all the same (he keeps it for her): it belongs to somebody else than its lender"
    assert (0, f"D1: {says}.\n") == (ran.code, ran.err)
    assert "he keeps it for her" == scalar(engine, "SELECT reason FROM act ORDER BY id DESC LIMIT 1")
    assert [("D1", says)] == [(mark["tag"], mark["says"]) for mark in json.loads(_loan(bench))["marks"]]
    assert ILSE in _run(bench, "unit", "show", "D1").out


def _loan(book: str) -> str:
    return _run(book, "loan", "show", "L1", "--json").out


def test_each_unit_that_is_not_the_lenders_is_told(bench: str) -> None:
    """A line each, and one way on for all of them."""
    assert 0 == _run(bench, "unit", "enter", "D2", "--owner", ILSE, "--on", "2026-02-01").code
    told = _borrow(bench, BRAM).err.splitlines()
    assert [f"{tag} is not borrowed: it belongs to {ILSE}, not to {BRAM}." for tag in ("D1", "D2")] == told[:2]
    assert 5 == len(told)


@pytest.mark.parametrize("more", [(), ("--json",)])
def test_a_lender_who_owns_it_is_told_nothing(bench: str, more: tuple[str, ...]) -> None:
    """Whatever the case of the name; what had no known owner is the lender's. Neither is asked for at going back."""
    ran = _borrow(bench, ILSE.upper(), *more)
    assert (0, "") == (ran.code, ran.err)
    ran = _run(bench, "loan", "give-back", "D1", "D2")
    assert (0, "") == (ran.code, ran.err)


def test_the_owner_of_the_day_it_came_counts(bench: str) -> None:
    """In January nobody was known, in February it was hers: the same loan entered late is refused of February alone."""
    ran = _borrow(bench, BRAM, "--on", "2026-01-31")
    assert (0, "") == (ran.code, ran.err)
    assert 0 == _run(bench, "undo").code
    assert f"D1 is not borrowed: it belongs to {ILSE}" in _borrow(bench, BRAM, "--on", "2026-02-01", "--json").err


def test_what_came_for_a_reason_goes_back_without_another(bench: str, engine: Engine) -> None:
    """It is said again; once another owner was entered, though of the same day, it is asked for anew."""
    assert 0 == _borrow(bench, BRAM, "--all-the-same", "he keeps it for her").code
    ran = _give_back(bench)
    assert (0, 1) == (ran.code, ran.err.count("D1: borrowed all the same (he keeps it for her)"))
    assert 0 == _run(bench, "undo").code
    assert 0 == _run(bench, "person", "add", "Ada Field").code
    assert 0 == _run(bench, "unit", "enter", "D1", "--owner", "Ada Field", "--on", "2026-03-01").code

    ran = _give_back(bench)
    assert 1 == ran.code
    assert f"D1 belongs to Ada Field, not to {BRAM}, who lent it (loan L1): given back, it is gone." in ran.err
    assert 0 == scalar(engine, "SELECT count(*) FROM unit_exit WHERE void = 0")
    ran = _give_back(bench, "--all-the-same", "she fetches it there")
    assert (0, 1) == (ran.code, ran.err.count("D1: given back all the same (she fetches it there): it belongs to"))
    assert "she fetches it there" == scalar(engine, "SELECT reason FROM act ORDER BY id DESC LIMIT 1")


def test_nothing_goes_back_to_somebody_else_than_its_owner_without_a_reason(bench: str, engine: Engine) -> None:
    """A loan of before the owner was known, or of a folder, has no reason: a unit of the club's would be gone."""
    assert 0 == _borrow(bench, BRAM, "--on", "2026-01-31").code
    ran = _give_back(bench)
    assert [
        f"D1 belongs to {ILSE}, not to {BRAM}, who lent it (loan L1): given back, it is gone.",
        f'If it goes to {BRAM}, give a reason: --all-the-same "REASON".',
        f"If {ILSE} got it from {BRAM} and it stays here: {STAYS}",
        f'If the owner is wrong: spindlebook unit enter D1 --owner "{BRAM}" --on 2026-02-01',
        "If it was never borrowed: spindlebook undo, with the act that history shows.",
    ] == ran.err.splitlines()
    assert 1 == ran.code
    assert 2 == scalar(engine, "SELECT count(*) FROM loan_item WHERE back_on IS NULL")
    assert 0 == _run(bench, "loan", "give-back", "D2").code
    assert 0 == _give_back(bench, "--on", "2026-01-31").code


@pytest.mark.parametrize(
    ("came", "owned", "day"),
    [
        ("2026-02-20", "2026-02-21", "2026-02-21"),
        ("2026-02-20", "2026-02-20", "2026-02-20"),
        ("2026-02-20", "2026-02-19", "2026-02-20"),
    ],
)
def test_the_day_that_is_told_for_the_right_owner_helps(bench: str, came: str, owned: str, day: str) -> None:
    """Whether the wrong one was entered before the unit came, on that day or after it; typed, it is given back."""
    assert 0 == _borrow(bench, BRAM, "--on", came, "--all-the-same", "he keeps it for her").code
    assert 0 == _run(bench, "person", "add", "Ada Field").code
    assert 0 == _run(bench, "unit", "enter", "D1", "--owner", "Ada Field", "--on", owned).code

    assert f'spindlebook unit enter D1 --owner "{BRAM}" --on {day}\n' in _give_back(bench).err
    assert 0 == _run(bench, "unit", "enter", "D1", "--owner", BRAM, "--on", day).code
    assert 0 == _give_back(bench).code


def test_what_was_bought_from_its_lender_stays(bench: str) -> None:
    """By the reason and the line that the refusal tells."""
    assert 0 == _borrow(bench, BRAM, "--on", "2026-01-31").code
    assert STAYS in _give_back(bench).err
    assert 0 == _give_back(bench, "--all-the-same", "bought").code
    assert '"standing": "gone"' in _run(bench, "unit", "show", "D1", "--json").out
    assert 0 == _run(bench, *STAYS.partition("spindlebook ")[2].split()).code
    assert '"standing": "ready"' in _run(bench, "unit", "show", "D1", "--json").out
