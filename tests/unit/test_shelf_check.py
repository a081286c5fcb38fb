"""The book against a shelf: what is told of each unit, and what to type about it."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest

from collection.analysis.shelf_check import Book, Finding, compare
from collection.errors import Refused, fold
from collection.exchange.tag_file import read_tags, tags_from

BOOKS = (
    Book("D1", "shelf A", True, "ready", ""),
    Book("D2", "shelf A", True, "in use", ""),
    Book("D3", "shelf B", False, "ready", ""),
    Book("D4", "shelf A", True, "on loan", "Wen Salloway"),
    Book("D5", "shelf A", True, "missing", ""),
    Book("D6", "", False, "ready", ""),
    Book("D7", "shelf B", False, "gone", ""),
    Book("D8", "shelf B", False, "on loan", "Wen Salloway"),
)
UNITS = {fold(book.tag): book for book in BOOKS} | {"old one": BOOKS[0]}
AT_A = '--to "shelf A"'


def _of(found: list[str]) -> dict[str, Finding]:
    return {row.tag: row for row in compare("shelf A", UNITS, found)}


def test_what_agrees_has_nothing_to_do_and_what_is_not_looked_for_is_not_missed() -> None:
    """Units on loan, missing and gone are nowhere to be found, and the book says so already."""
    rows = compare("shelf A", UNITS, ["d1", "D2"])

    assert [("D1", "here", (), True), ("D2", "here", (), True)] == [(r.tag, r.finding, r.do, r.seen) for r in rows]
    assert not any(row.differs or row.misplaced for row in rows)


def test_a_unit_is_found_once_however_often_and_by_whatever_name() -> None:
    """A scanner reads a label twice, and an alias names the same unit."""
    assert ["D1", "D2"] == list(_of(["D1", " d1", "Old  One", "D2"]))


def test_nothing_found_means_that_all_the_book_has_there_is_not_here() -> None:
    """Each is to be looked for, or called missing; the commands say how."""
    rows = _of([])

    assert ["D1", "D2"] == list(rows)
    assert ("not here", "shelf A", False) == (*rows["D1"][1:3], rows["D1"].seen)
    assert (
        "look for it; where it is: spindlebook unit move D1 --to LOCATION",
        "if it is nowhere: spindlebook unit enter D1 --standing missing",
    ) == rows["D1"].do


@pytest.mark.parametrize(
    ("tag", "finding", "book", "do", "misplaced"),
    [
        ("D3", "here, and elsewhere in the book", "shelf B", (f"spindlebook unit move D3 {AT_A}",), True),
        ("D6", "here, and elsewhere in the book", "no location", (f"spindlebook unit move D6 {AT_A}",), True),
        ("D4", "here, and on loan in the book", "on loan to Wen Salloway", ("spindlebook loan back D4",), False),
        (
            "D8",
            "here, and on loan in the book",
            "on loan to Wen Salloway",
            ("spindlebook loan back D8", f"spindlebook unit move D8 {AT_A}"),
            True,
        ),
        (
            "D5",
            "here, and missing in the book",
            "missing",
            ('spindlebook unit enter D5 --standing "on the bench"',),
            False,
        ),
        (
            "D7",
            "here, and gone in the book",
            "gone",
            ('spindlebook unit enter D7 --standing "on the bench"', f"spindlebook unit move D7 {AT_A}"),
            True,
        ),
        (
            "D33",
            "not known",
            "",
            (
                "if it is a slip, nearest: D3",
                'if it is new: spindlebook unit add D33 --model MODEL --location "shelf A"',
            ),
            False,
        ),
    ],
)
def test_each_difference_is_told_with_what_to_type(
    tag: str, finding: str, book: str, do: tuple[str, ...], misplaced: bool
) -> None:
    """What the book says stands beside it, and a move is the last thing to type."""
    assert Finding(tag, finding, book, do, True, misplaced) == _of(["D1", "D2", tag])[tag]


def test_the_nearest_tags_are_looked_up_for_twenty_texts_that_are_no_tag_and_no_more() -> None:
    """A file of another kind would take hours otherwise."""
    rows = compare("shelf A", UNITS, [f"D1{chr(97 + at)}" for at in range(21)])

    assert [2] * 20 + [1] == [len(row.do) for row in rows if row.finding == "not known"]


def test_tags_are_read_a_line_each_with_or_without_a_mark_at_the_beginning(tmp_path: Path) -> None:
    """As scanners and Windows leave a text; blank lines say nothing."""
    (tmp_path / "tags.txt").write_bytes(b"\xef\xbb\xbfD1\r\n\r\n D 2 \r\nD1")

    assert ["D1", "D 2", "D1"] == read_tags(tmp_path / "tags.txt")
    assert [] == tags_from(BytesIO(), "Standard input")
    assert ["D1"] == tags_from(BytesIO(b"D1".ljust(4_000_000)), "Standard input")


@pytest.mark.parametrize(
    ("content", "says"), [(b"D1\n\xff", "is no text in UTF-8"), (b"D" * 4_000_001, "more than 4000000 bytes, too many")]
)
def test_what_is_no_list_of_tags_is_refused(tmp_path: Path, content: bytes, says: str) -> None:
    """A picture, or a file that is far too large."""
    (tmp_path / "tags").write_bytes(content)
    for file, words in ((tmp_path / "tags", says), (tmp_path, "cannot be read: Is a directory")):
        with pytest.raises(Refused, match=words):
            read_tags(file)
