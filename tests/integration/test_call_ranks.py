"""Whom to call first in an emergency is seen in the list of people too, where somebody has such a place."""

from __future__ import annotations

import json

import pytest

from tests.support.cli import run_cli


def _run(book: str, *words: str) -> str:
    ran = run_cli(words, db=book)
    assert 0 == ran.code, ran.err
    return ran.out


def test_a_list_of_people_shows_the_places_in_which_they_are_called(book_url: str) -> None:
    """By number, not by text; nobody's column is there while nobody has a place."""
    for name in ("Ada Field", "Bo Merriam", "Cy Tolland"):
        _run(book_url, "person", "add", name)
    assert "call rank" not in _run(book_url, "person", "list")
    _run(book_url, "person", "edit", "Ada Field", "--call-rank", "10")
    _run(book_url, "person", "edit", "Cy Tolland", "--call-rank", "2")

    assert "call rank" in _run(book_url, "person", "list").splitlines()[0]
    rows = json.loads(_run(book_url, "person", "list", "--sort", "call_rank", "--json"))
    assert [("Cy Tolland", 2), ("Ada Field", 10), ("Bo Merriam", None)] == [
        (row["person"], row["call_rank"]) for row in rows
    ]
    assert "call rank  10\n" in _run(book_url, "person", "show", "Ada Field")
    assert 10 == json.loads(_run(book_url, "person", "show", "Ada Field", "--json"))["call_rank"]


def test_a_place_that_is_taken_away_is_shown_no_more(book_url: str) -> None:
    """As any other value that is emptied."""
    _run(book_url, "person", "add", "Ada Field")
    _run(book_url, "person", "edit", "Ada Field", "--call-rank", "1")
    _run(book_url, "person", "edit", "Ada Field", "--call-rank", "")

    assert "call rank" not in _run(book_url, "person", "list")
    assert "call rank" not in _run(book_url, "person", "show", "Ada Field")


def test_a_person_is_added_with_the_place_in_which_they_are_called(book_url: str) -> None:
    """As in person edit; without one there is none."""
    made = json.loads(_run(book_url, "person", "add", "Ada Field", "--call-rank", "1", "--json"))
    assert 1 == made["call_rank"]
    assert json.loads(_run(book_url, "person", "add", "Bo Merriam", "--json"))["call_rank"] is None


@pytest.mark.parametrize("rank", ["0", "-1", "1.5", "first"])
def test_nobody_is_added_or_changed_with_a_place_that_is_none(book_url: str, rank: str) -> None:
    """One line names the option's value, and nobody is there."""
    _run(book_url, "person", "add", "Bo Merriam")
    for words in (["add", "Ada Field"], ["edit", "Bo Merriam"]):
        ran = run_cli(["person", *words, "--call-rank", rank], db=book_url)
        assert 1 == ran.code
        assert ran.err.startswith(f'call rank "{rank}" ')
    rows = json.loads(_run(book_url, "person", "list", "--json"))
    assert [("Bo Merriam", None)] == [(row["person"], row["call_rank"]) for row in rows]
