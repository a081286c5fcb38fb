"""One sheet of an exported workbook: its heading, widths, rows, filter and the words to choose from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from collection.exchange.book_cells import (
    COLUMN_LOOKS,
    HEADING_FILL,
    HEADING_INK,
    SHOWN_FILL,
    Look,
    Pen,
    cell_of,
    dress,
)
from collection.exchange.book_columns import AS_EXPORTED, AS_TYPED, ROW_KEY, SHOWN, TEXT, YES_NO, SheetColumn, SheetForm
from collection.views.book_sheets import SheetRow

_HIDDEN = 2  # columns, between the first one that is seen and the others
_MORE_ROWS = 5_000  # below the last one, that the words to choose from are offered in
_FOR_FILTER = 4  # characters that the button of a filter takes of a heading
_LONGEST_HEADING = 14  # characters of a line, where a heading has more than one word
_HEADING_POINTS = 33  # two lines
_A4 = 9  # ECMA-376 part 1, 18.3.1.63, paperSize
_TABS = {
    "FF33506B": "units models locations entries pairings parts",
    "FF2E7D5B": "services readings faults hours uses",
    "FFB7791F": "supplies lots counts suppliers offers orders",
    "FF8A4F7D": "valuations loans policies people",
    "FF6B7680": "procedures amounts measurements instruments limits",
}
_TAB_OF = {name: color for color, names in _TABS.items() for name in names.split()}


def open_sheet(book: Any, form: SheetForm, sample: Sequence[SheetRow]) -> Any:
    """Return a new sheet of a workbook with its heading: widths and formats stand before the first row is written.

    sample: the rows that widths are fitted to.
    """
    sheet = book.create_sheet(form.name)
    sheet.sheet_properties.tabColor = _TAB_OF[form.name]
    sheet.freeze_panes = f"{_letter(1 + _HIDDEN)}2"
    sheet.row_dimensions[1].height = _HEADING_POINTS
    texts = zip(*(texts_of(form, row) for row in sample), strict=True) if sample else [()] * len(form.columns)
    for place, (column, seen) in enumerate(zip(form.columns, texts, strict=True)):
        dimension = sheet.column_dimensions[_letter(_moved(place))]
        dimension.width = _width(column, seen)
        dress(dimension, COLUMN_LOOKS[column.kind])
    for place in range(1, 1 + _HIDDEN):
        sheet.column_dimensions[_letter(place)].hidden = True
    _for_print(sheet)
    headings = [_heading(sheet, column.heading, SHOWN_FILL if column.kind == SHOWN else "") for column in form.columns]
    hidden = [_heading(sheet, name, SHOWN_FILL) for name in (ROW_KEY, AS_EXPORTED)]
    sheet.append([headings[0], *hidden, *headings[1:]])
    return sheet


def append_rows(sheet: Any, form: SheetForm, rows: Iterable[SheetRow]) -> None:
    """Write rows, each with its key and what it says hidden behind its first cell."""
    pens = [Pen(sheet, column) for column in form.columns]
    key, exported = cell_of(sheet, Look()), cell_of(sheet, Look())
    for row in rows:
        said = [pen.said(text) for pen, text in zip(pens, texts_of(form, row), strict=True)]
        version = "" if row.version is None else row.version
        key.value, exported.value = row.key, f"{version}:{''.join([each.mark for each in said])}"
        first, *others = [each.cell for each in said]
        sheet.append([first, key, exported, *others])


def texts_of(form: SheetForm, row: SheetRow) -> list[str]:
    """Return the texts of a row in the order of the sheet's columns, as they are seen."""
    texts = list(row.cells)
    for place, column in enumerate(form.columns):
        if column.kind == SHOWN:
            texts.insert(place, row.shown)
    return texts


def close_sheet(sheet: Any, form: SheetForm, rows: int, areas: Mapping[str, str]) -> None:
    """Put the filter over all rows, and offer words to choose from in them and below.

    areas: where the names of the book stand that may be chosen from.
    """
    last = _letter(len(form.columns) - 1 + _HIDDEN)
    sheet.auto_filter.ref = f"A1:{last}{rows + 1}"
    for place, column in enumerate(form.columns):
        letter = _letter(_moved(place))
        cells = f"{letter}2:{letter}{rows + 1 + _MORE_ROWS}"
        if column.words:
            _offer(sheet, cells, f'"{",".join(column.words)}"', column.heading, closed=True)
        elif column.names in areas:
            _offer(sheet, cells, areas[column.names], column.heading, closed=False)


def _offer(sheet: Any, cells: str, words: str, heading: str, *, closed: bool) -> None:
    """Offer words in cells: others bring a warning where there are no others, and are taken as they are elsewhere."""
    from openpyxl.worksheet.datavalidation import DataValidation

    offer = DataValidation(type="list", formula1=words, allow_blank=True, errorStyle="warning")
    offer.showErrorMessage = closed
    offer.errorTitle, offer.error = heading[:32], f"This is none of the words for {heading}. Keep it all the same?"
    offer.add(cells)
    sheet.data_validations.append(offer)


def _heading(sheet: Any, text: str, fill: str = "") -> Any:
    from openpyxl.styles import Alignment, Font, PatternFill

    cell = cell_of(sheet, Look("@"), text)
    cell.font = Font(name="Calibri", size=11, bold=True, color=HEADING_INK)
    cell.fill = PatternFill("solid", fgColor=fill or HEADING_FILL)
    cell.alignment = Alignment(vertical="center", wrap_text=True)
    return cell


def _width(column: SheetColumn, seen: Sequence[str]) -> int:
    """Return the width that the texts take: of texts at most the declared one, of numbers and days at least."""
    words = column.heading.split()
    lines = [max(map(len, words)), min(len(column.heading), _LONGEST_HEADING)]
    heading = max(lines) + _FOR_FILTER
    longest = max((len(line) for text in seen for line in text.split("\n")), default=0) + 2
    if column.kind in (TEXT, AS_TYPED, YES_NO, SHOWN):
        return max(heading, min(longest, column.width))
    return max(heading, longest, column.width)


def _for_print(sheet: Any) -> None:
    """Print on landscape A4, all columns on one page's width, the heading on every page."""
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", _A4
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows = "1:1"
    sheet.oddFooter.left.text, sheet.oddFooter.right.text = "&A", "&P / &N"


def _moved(place: int) -> int:
    """Return where a column of the form stands in the sheet, the hidden ones being between."""
    return place + _HIDDEN if place else 0


def _letter(place: int) -> str:
    from openpyxl.utils import get_column_letter

    return get_column_letter(place + 1)
