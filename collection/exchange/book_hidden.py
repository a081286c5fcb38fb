"""The two sheets of an exported workbook that nobody sees: of which book it is, and the names to choose from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import zip_longest
from typing import Any

from collection.exchange.book_cells import Look, cell_of
from collection.exchange.book_columns import BOOK_SHEET
from collection.exchange.workbook_read import CHOICES

_CHOICES_SHEET = "choices"
_VERY_HIDDEN = "veryHidden"


def write_book_sheet(book: Any, told: Mapping[str, str]) -> None:
    """Write name and value of each thing that tells the workbook apart, a row each."""
    sheet = book.create_sheet(BOOK_SHEET)
    sheet.sheet_state = _VERY_HIDDEN
    for name, value in told.items():
        sheet.append([cell_of(sheet, Look("@"), name), cell_of(sheet, Look("@"), value)])


def areas_of(names: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """Return where each list of names will stand, as a formula; none for a list without names."""
    from openpyxl.utils import get_column_letter

    letters = {name: get_column_letter(place) for place, name in enumerate(names, 1)}
    return {
        name: f"'{_CHOICES_SHEET}'!${letters[name]}$2:${letters[name]}${len(listed) + 1}"
        for name, listed in names.items()
        if listed
    }


def write_choices(book: Any, names: Mapping[str, Sequence[str]]) -> None:
    """Write each list of names into a column, below the line by which the import passes the sheet over."""
    sheet = book.create_sheet(_CHOICES_SHEET)
    sheet.sheet_state = _VERY_HIDDEN
    sheet.append([cell_of(sheet, Look("@"), CHOICES)])
    for row in zip_longest(*names.values()):
        sheet.append([None if name is None else cell_of(sheet, Look("@"), name) for name in row])
