"""Borrowing what belongs to somebody else than the lender: said, with what to type, and entered all the same."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy.engine import Engine

from tests.support.bench import set_up_bench
from tests.support.books import scalar
from tests.support.cli import Ran, run_cli
from tests.support.times import NOW, TODAY

BRAM, ILSE = "Bram Oakhollow", "Ilse Vanterpool"


@pytest.fixture
def bench(engine: Engine, book_url: str) -> str:
    """Return the URL of a book with a small shelf, on which D1 is Ilse's from February on and D2 nobody's known."""
    set_up_bench(engine, TODAY, NOW)
    assert 0 == _run(book_url, "unit", "enter", "D1", "--owner", ILSE, "--on", "2026-02-01").code
    return book_url


def _run(book: str, *words: str, today: date = TODAY) -> Ran:
    return run_cli(words, db=book, today=today)


def _borrow(book: str, lender: str, *more: str) -> Ran:
    ran = _run(book, "loan", "in", "D1", "D2", "--from", lender, "--due", "2026-04-01", *more)
    assert 0 == ran.code
    return ran


def test_whoever_lends_what_is_not_theirs_is_told_of_with_what_to_type(bench: str, engine: Engine) -> None:
    """The owner stays; either command mends what is wrong. What had no known owner is the lender's, without a word."""
    ran = _borrow(bench, BRAM)

    assert [
        f"D1 belongs to {ILSE}, as the book has it, and {BRAM} lends it.",
        f'If the owner is wrong: spindlebook unit enter D1 --owner "{BRAM}" --on 2026-03-01',
        "If the lender is: spindlebook loan edit L1 --to PERSON --reason TEXT",
    ] == ran.err.splitlines()
    assert ILSE in _run(bench, "unit", "show", "D1").out
    assert 0 == _run(bench, "loan", "edit", "L1", "--to", ILSE, "--reason", "misread").code
    assert 0 == _run(bench, "unit", "enter", "D1", "--owner", BRAM, "--on", "2026-03-01").code
    assert 2 == scalar(engine, "SELECT count(*) FROM unit_entry WHERE what = 'owner' AND from_date = '2026-03-01'")


@pytest.mark.parametrize("more", [(), ("--json",)])
def test_a_lender_who_owns_it_is_told_nothing(bench: str, more: tuple[str, ...]) -> None:
    """Whatever the case of the name."""
    assert "" == _borrow(bench, ILSE.upper(), *more).err


def test_the_owner_of_the_day_it_came_counts(bench: str) -> None:
    """In January nobody was known, in February it was hers: the same loan entered late says so of February alone."""
    assert "" == _borrow(bench, BRAM, "--on", "2026-01-31").err
    assert 0 == _run(bench, "undo").code
    assert f"D1 belongs to {ILSE}" in _borrow(bench, BRAM, "--on", "2026-02-01", "--json").err
