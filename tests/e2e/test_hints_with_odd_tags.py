"""What is to be typed next is what a shell takes: every hint that names a unit is typed as it stands."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from collection.acts.units import add_unit
from collection.store.engine import open_engine
from tests.support.bench import set_up_bench
from tests.support.cli import Ran, run_cli
from tests.support.times import NOW, TODAY

TAGS = ("-D1", "D 1", 'D"1', "D'1", "$HOME", "D`1", "D\\1", "D;1", "-$ 1", "D!1", "D*1")
BRAM = "Bram Oakhollow"


@pytest.fixture
def book(sqlite_book: Path) -> Path:
    """Return a book with a small shelf and, beside it, a unit of each odd tag."""
    engine = open_engine(str(sqlite_book))
    set_up_bench(engine, TODAY, NOW)
    for tag in TAGS:
        add_unit(engine, tag, {"model": "DM-8", "standing": "ready"}, today=TODAY, now=NOW)
    engine.dispose()
    return sqlite_book


def _type(book: Path, line: str) -> Ran:
    """Type a command as a shell would hand it over."""
    return run_cli(tuple(shlex.split(line)), db=book)


def _next(ran: Ran, about: str) -> str:
    """Return the command that an answer says to type."""
    found = [line for line in (ran.out + ran.err).splitlines() if f"spindlebook {about}" in line]
    assert found, (about, ran)
    return found[-1].partition("spindlebook ")[2].rstrip(".")


@pytest.mark.parametrize("tag", TAGS)
def test_a_loan_of_an_odd_tag_goes_by_its_own_hints_to_the_end(book: Path, tag: str) -> None:
    """Out, refused a second time, back by the hint of either; what is not out says where to look."""
    given = tag if not tag.startswith("-") else f" {tag}"
    out = run_cli(("loan", "out", given, "--to", BRAM, "--due", "2026-03-20"), db=book)
    again = run_cli(("loan", "out", given, "--to", BRAM, "--due", "2026-03-20"), db=book)
    left = run_cli(("unit", "dispose", given, "--how", "scrapped", "--reason", "rust"), db=book)
    hints = [_next(ran, "loan back") for ran in (out, again)]

    assert 1 == len(set(hints))
    back, if_lost = _next(left, "loan back").split("; if it is lost: spindlebook ")
    assert [hints[0], f'{hints[0]} --lost "WHAT BECAME OF IT"'] == [back, if_lost]
    assert 0 == _type(book, hints[0]).code
    assert 0 == run_cli(("loan", "in", given, "--from", BRAM, "--due", "2026-03-20"), db=book).code
    twice = run_cli(("loan", "in", given, "--from", BRAM, "--due", "2026-03-20"), db=book)
    assert 0 == _type(book, _next(twice, "loan give-back")).code
    gone = run_cli(("condition", "add", given, "--condition", "good"), db=book)
    assert 0 == _type(book, _next(gone, "unit enter")).code


@pytest.mark.parametrize("tag", TAGS)
def test_a_disposal_and_a_fault_of_an_odd_tag_say_what_to_type(book: Path, tag: str) -> None:
    """Each hint is one line that the program takes."""
    given = tag if not tag.startswith("-") else f" {tag}"
    assert 0 == run_cli(("fault", "add", given, "rattles"), db=book).code
    twice = run_cli(("fault", "add", given, "rattles"), db=book)
    listed = _type(book, _next(twice, "fault list"))
    assert "rattles" in listed.out
    assert 0 == run_cli(("unit", "dispose", given, "--how", "scrapped", "--reason", "rust"), db=book).code
    gone = run_cli(("unit", "dispose", given, "--how", "scrapped", "--reason", "rust"), db=book)
    assert 0 == _type(book, f"{_next(gone, 'unit edit-disposal')} --note again --reason told").code


FOLDERS = ("plain", "two words", 'a "name"', "$HOME `x`", "it's")


@pytest.mark.parametrize("folder", FOLDERS)
def test_a_file_that_was_written_is_named_as_a_shell_takes_it(book: Path, tmp_path: Path, folder: str) -> None:
    """A workbook, a template, a form, a book and a copied report, each by the line that says what to do with it."""
    place = tmp_path / folder
    place.mkdir()
    for words, file, option in (
        (("export", "workbook"), "book.xlsx", "import"),
        (("import", "--template"), "mine.xlsx", "import"),
        (("round", "--of", "spindle speed", "--write"), "form.xlsx", "round --from"),
    ):
        ran = run_cli((*words, str(place / file)), db=book)
        assert 0 == ran.code, ran.err
        assert [*option.split(), str(place / file)] == shlex.split(_next(ran, option))
    moved = run_cli(("move-to", str(place / "moved.sqlite3")), db=book)
    assert ["--db", str(place / "moved.sqlite3"), "where"] == shlex.split(_next(moved, "--db"))
    copied = run_cli(("report", "copy", "bench-sheet", str(place / "ours")), db=book)
    assert ["--report-dir", str(place / "ours")] == shlex.split(copied.out.splitlines()[-1])[-2:]
    assert ('"' in copied.out or "'" in copied.out) is (folder != "plain")
