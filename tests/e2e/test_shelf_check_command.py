"""shelf-check as it is typed, piped, read from a file and scanned at a terminal."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from collection.cli import shelf_check
from tests.support.cli import Ran, run_cli


@pytest.fixture
def book(built_demo: Path, tmp_path: Path) -> Path:
    """Return a copy of the demo's book for this test alone."""
    return Path(shutil.copy(built_demo, tmp_path / "demo.sqlite3"))


def _check(book: Path, *more: str, answers: str | None = None) -> Ran:
    return run_cli(["shelf-check", "shelf A", *more], db=book, answers=answers)


def test_tags_typed_piped_and_in_a_file_tell_the_same(book: Path, tmp_path: Path) -> None:
    """Differences alone are listed unless all is asked for; a program gets what to type as a list."""
    (tmp_path / "tags.txt").write_text("D1\nD6\n\nD1\n", encoding="utf-8")
    ways: tuple[list[str], ...] = (["--tags", "D1, D6"], ["--file", str(tmp_path / "tags.txt")], [])

    told = [_check(book, *way, "--dry-run", "--json", answers="D1\nD6\n").out for way in ways]

    assert told[0] == told[1] == told[2]
    rows = json.loads(told[0])
    assert {"tag": "D6", "finding": "here, and elsewhere in the book", "book": "bench"} == {
        key: value for key, value in rows[0].items() if key != "do"
    }
    assert ['spindlebook unit move D6 --to "shelf A"'] == rows[0]["do"]
    assert {"not here"} == {row["finding"] for row in rows[1:]}
    assert "D1" in [row["tag"] for row in json.loads(_check(book, *ways[0], "--dry-run", "--all", "--json").out)]


def test_what_is_proposed_can_be_typed_and_leaves_nothing_to_do(book: Path) -> None:
    """After the move that was named, book and shelf agree; code 3 is only for who asks for it."""
    here = [row["tag"] for row in json.loads(run_cli(["unit", "list", "--location", "shelf A", "--json"], db=book).out)]
    lent = {row["tag"] for row in json.loads(run_cli(["loan", "list", "--json"], db=book).out)}
    tags = ",".join([*(tag for tag in here if tag not in lent), "D6"])
    first = _check(book, "--tags", tags, "--exit-code", "--json")
    assert (3, 1) == (first.code, len(json.loads(first.out)))

    moved = run_cli(["unit", "move", "D6", "--to", "shelf A"], db=book)
    again = _check(book, "--tags", tags, "--exit-code")

    assert ("D6: location bench -> shelf A\n", 0) == (moved.out, again.code)
    assert f"shelf A: {len(tags.split(','))} are as the book says, 0 not.\n" in again.out


def test_a_person_at_a_terminal_scans_until_an_empty_line_and_hears_at_once_what_is_odd(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The tags that follow the empty line are no longer read."""
    monkeypatch.setattr(shelf_check, "has_person", lambda: True)

    ran = _check(book, "--dry-run", answers="D1\nD6\nX9\n\nD2\n")

    assert ran.code == 0
    assert "  here, and elsewhere in the book: bench\n" in ran.err
    assert "  not known\n" in ran.err
    assert "D2    not here" in ran.out or "D2   not here" in ran.out


@pytest.mark.parametrize(
    ("given", "code", "says"),
    [
        (["--tags", "D1", "--file", "x"], 2, "Give --tags or --file, not both."),
        (["--file", "no-such-file"], 1, "no-such-file cannot be read: No such file or directory."),
        (["--tags", " , "], 1, "No tag was typed or scanned."),
    ],
)
def test_a_shelf_check_that_cannot_be_made_says_why(book: Path, given: list[str], code: int, says: str) -> None:
    """One or two lines, and nothing is written."""
    ran = _check(book, *given)

    assert code == ran.code
    assert says in ran.err
    assert "[\n]\n" == run_cli(["sighting", "list", "--json"], db=book).out
