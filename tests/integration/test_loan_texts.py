"""What is typed of single units of a loan goes to that unit, and never to another one of the book."""

from __future__ import annotations

import json

import pytest
from sqlalchemy.engine import Engine

from tests.support.bench import set_up_bench
from tests.support.books import scalar
from tests.support.cli import Ran, run_cli
from tests.support.times import NOW, TODAY

BRAM = "Bram Oakhollow"
OUT = ("loan", "out", "D1", "D4", "--to", BRAM, "--due", "2026-03-20")


@pytest.fixture
def bench(engine: Engine, book_url: str) -> str:
    """Return the URL of a book with a small shelf, in which D4 was once called "left one"."""
    set_up_bench(engine, TODAY, NOW)
    assert 0 == _run(book_url, "unit", "edit", "D4", "--alias", "left one").code
    return book_url


def _run(book: str, *words: str) -> Ran:
    return run_cli(words, db=book)


def _conditions(ran: Ran, key: str) -> dict[str, str | None]:
    assert 0 == ran.code, ran.err
    return {row["tag"]: row[key] for row in json.loads(ran.out)}


def test_a_condition_is_of_the_unit_whose_tag_or_former_tag_leads_it(bench: str) -> None:
    """Without one it is of each unit, going out as coming back."""
    out = _run(bench, *OUT, "--condition", "clean", "--condition", "left one: a scratch", "--json")
    back = _run(bench, "loan", "back", "left one", "D1", "--condition", "D4: cracked", "--json")

    assert {"D1": "clean", "D4": "clean; a scratch"} == _conditions(out, "condition_out")
    assert {"D1": None, "D4": "cracked"} == _conditions(back, "condition_back")


@pytest.mark.parametrize("option", ["--condition", "--along"])
def test_what_is_told_of_a_unit_that_does_not_go_out_is_refused(bench: str, engine: Engine, option: str) -> None:
    """Even where one unit goes alone; nothing is written."""
    acts = scalar(engine, "SELECT count(*) FROM act")
    for words in (OUT, (*OUT[:3], *OUT[4:])):
        ran = _run(bench, *words, option, "P1: x")
        assert (1, f'{option} "P1: x" begins with the tag of a unit that is not named here') == (
            ran.code, ran.err.partition(" (")[0],
        )  # fmt: skip

    assert acts == scalar(engine, "SELECT count(*) FROM act")


def test_what_is_told_of_a_unit_that_does_not_come_back_is_refused(bench: str, engine: Engine) -> None:
    """It may have come back in another box; the loan goes on."""
    assert 0 == _run(bench, *OUT).code
    ran = _run(bench, "loan", "back", "D1", "--damage", "left one: lid cracked")

    assert 1 == ran.code
    assert 'Name left one too; or if it is told of D1: --damage "D1: left one: lid cracked".' in ran.err
    assert 0 == scalar(engine, "SELECT count(*) FROM loan_item WHERE back_on IS NOT NULL")
