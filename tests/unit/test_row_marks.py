"""The marks of an exported row: what a cell says in one spelling, and what tells later that it said so."""

from __future__ import annotations

import pytest

from collection.analysis.row_marks import DAY, NUMBER, TEXT, YES_NO, cell_mark, cell_marks, fits_number, plain, row_mark


@pytest.mark.parametrize(
    ("kind", "text", "said"),
    [
        (NUMBER, "12.50", "12.5"),
        (NUMBER, " 300 ", "300"),
        (NUMBER, "-0.0", "0"),
        (NUMBER, "12,5", "12,5"),
        (NUMBER, "300; 360", "300; 360"),
        (TEXT, "0012.50", "0012.50"),
        (TEXT, " two\r\nlines\r", "two\nlines"),
        (DAY, "2025-10 ", "2025-10"),
        (YES_NO, "YES", "yes"),
        (TEXT, "YES", "YES"),
        (NUMBER, "  ", ""),
    ],
)
def test_a_cell_says_one_thing_however_it_is_spelt(kind: str, text: str, said: str) -> None:
    """Numbers by their value, words of yes and no without capitals, texts as they stand."""
    assert plain(kind, text) == said


def test_a_mark_tells_each_cell_and_its_place() -> None:
    """The marks of a row are those of its cells one after another; of another number of columns it is no mark."""
    mark = row_mark(["D1", "", "300"])

    assert cell_marks(mark, 3) == [cell_mark("D1"), cell_mark(""), cell_mark("300")]
    assert cell_marks(mark, 2) is None
    assert len({cell_mark(str(number)) for number in range(1000)}) == 1000


@pytest.mark.parametrize(
    ("text", "fits"),
    [
        ("12345678901234", True),
        ("-123456789012.345", True),
        ("1234567890123.456", False),
        ("0.00000123456789012345", True),
        ("0.000001234567890123456", False),
        ("12345678901234.5000", True),
        ("pass", False),
        ("", False),
        ("300; 360", False),
    ],
)
def test_a_number_fits_as_long_as_a_spreadsheet_keeps_its_digits(text: str, fits: bool) -> None:
    """Fifteen digits from the first that is not zero: below, at and above."""
    assert fits_number(text) is fits
