"""What a row of an exported workbook said when it was written: one short mark a cell.

A workbook that comes back is compared three ways: the sheet now, the book now, and what both once agreed on. Only the
last is not at hand any more; its marks are, in a hidden column, and they are made of what a cell means, so that
"12.50" written as a number and read back as "12.5" is no change.
"""

from __future__ import annotations

from base64 import urlsafe_b64encode
from collections.abc import Iterable
from functools import lru_cache
from hashlib import blake2b

from collection.errors import Refused, fold
from collection.quantity import parse_number, show_number

TEXT, NUMBER, DAY, YES_NO = "text", "number", "day", "yes_no"
_WIDTH = 4  # three bytes in base 64: one edit in 16 million looks like none, and only where the book moved on too
_MOST_DIGITS = 15  # what a spreadsheet program keeps of a number (common practice, no source)


def plain(kind: str, text: str) -> str:
    """Return what a cell says in one spelling, so that equal texts mean the same; "" for an empty one.

    kind: TEXT (blanks around it and the kind of line ends do not count), NUMBER (zeros at its ends do not; what is
    no number stays as text), DAY or YES_NO (capitals do not).
    """
    bare = text.strip()
    if kind == NUMBER:
        return _number(bare)
    return fold(bare) if kind == YES_NO else bare.replace("\r\n", "\n").replace("\r", "\n")


@lru_cache(maxsize=20_000)
def _number(bare: str) -> str:
    try:
        return show_number(parse_number(bare))
    except Refused:
        return bare


def fits_number(text: str) -> bool:
    """Say whether a spreadsheet keeps every digit of a number, so that it may be written as one and not as text."""
    digits = _number(text.strip()).lstrip("-")
    return digits.replace(".", "", 1).isdecimal() and len(digits.replace(".", "").lstrip("0")) <= _MOST_DIGITS


@lru_cache(maxsize=100_000)
def cell_mark(said: str) -> str:
    """Return the mark of what a cell says (`plain`)."""
    return urlsafe_b64encode(blake2b(said.encode(), digest_size=3).digest()).decode()


def row_mark(said: Iterable[str]) -> str:
    """Return the marks of a row's cells, in the order of its columns in the form, one after another."""
    return "".join(map(cell_mark, said))


def cell_marks(mark: str, columns: int) -> list[str] | None:
    """Return the mark of each cell of a row, or None where this is no mark of so many columns."""
    if len(mark) != columns * _WIDTH:
        return None
    return [mark[start : start + _WIDTH] for start in range(0, len(mark), _WIDTH)]
