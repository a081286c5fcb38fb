"""One sheet of an exported workbook: its heading, widths, rows, filter, and the words to choose from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from collection.exchange.book_cells import (
    COLUMN_LOOKS,
    HEADING_FILL,
    HEADING_INK,
    LINE_POINTS,
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
_FOR_FILTER = 3  # characters that the button of a filter takes of a heading
_HEADING_POINTS = 33  # two lines
_MOST_POINTS = 409  # of a row: the most that a row can have (common practice, no source)
_PAGE = 230  # characters that fit on a landscape page at a size that can be read
_TEXTS = (TEXT, AS_TYPED, SHOWN)
_A4 = 9  # ECMA-376 part 1, 18.3.1.63, paperSize
_TABS = {
    "FF33506B": "units models locations entries pairings parts",
    "FF2E7D5B": "services readings faults hours uses",
    "FFB7791F": "supplies lots counts suppliers offers orders",
    "FF8A4F7D": "valuations loans policies people",
    "FF6B7680": "procedures amounts measurements instruments limits",
}
_TAB_OF = {name: color for color, names in _TABS.items() for name in names.split()}


class DataSheet:
    """A sheet that rows are appended to; each has its key and what it says hidden behind its first cell.

    sample: the rows that widths are fitted to: they stand in the file before the first row.
    """

    def __init__(self, book: Any, form: SheetForm, sample: Sequence[SheetRow]) -> None:
        self.form, self.rows = form, 0
        self._sheet = book.create_sheet(form.name)
        widths = _widths(form, sample)
        self._pens = [Pen(self._sheet, column, width) for column, width in zip(form.columns, widths, strict=True)]
        self._key, self._exported = cell_of(self._sheet, Look()), cell_of(self._sheet, Look())
        _lay_out(self._sheet, form, widths)

    def append(self, row: SheetRow) -> None:
        """Write a row, as high as its texts are."""
        self.rows += 1
        said = [pen.said(text) for pen, text in zip(self._pens, texts_of(self.form, row), strict=True)]
        version = "" if row.version is None else row.version
        self._key.value, self._exported.value = row.key, f"{version}:{''.join([each.mark for each in said])}"
        first, *others = [each.cell for each in said]
        lines = max([each.lines for each in said])
        if lines > 1:
            self._sheet.row_dimensions[self.rows + 1].height = min(lines * LINE_POINTS, _MOST_POINTS)
        self._sheet.append([first, self._key, self._exported, *others])
        if lines > 1:
            del self._sheet.row_dimensions[self.rows + 1]  # it is written; thousands of them would take much memory

    def close(self, areas: Mapping[str, str]) -> None:
        """Put the filter over all rows, and offer words to choose from in them and below.

        areas: where the names of the book stand that may be chosen from.
        """
        last = _letter(len(self.form.columns) - 1 + _HIDDEN)
        self._sheet.auto_filter.ref = f"A1:{last}{self.rows + 1}"
        for place, column in enumerate(self.form.columns):
            letter = _letter(_moved(place))
            cells = f"{letter}2:{letter}{self.rows + 1 + _MORE_ROWS}"
            if column.words:
                _offer(self._sheet, cells, f'"{",".join(column.words)}"', column.heading, closed=True)
            elif column.names in areas:
                _offer(self._sheet, cells, areas[column.names], column.heading, closed=False)


def texts_of(form: SheetForm, row: SheetRow) -> list[str]:
    """Return the texts of a row in the order of the sheet's columns, as they are seen."""
    texts = list(row.cells)
    for place, column in enumerate(form.columns):
        if column.kind == SHOWN:
            texts.insert(place, row.shown)
    return texts


def _widths(form: SheetForm, sample: Sequence[SheetRow]) -> list[int]:
    texts = zip(*(texts_of(form, row) for row in sample), strict=True) if sample else [()] * len(form.columns)
    return [_width(column, seen) for column, seen in zip(form.columns, texts, strict=True)]


def _lay_out(sheet: Any, form: SheetForm, widths: Sequence[int]) -> None:
    """Set all that stands in a sheet before its rows, and write its heading."""
    sheet.sheet_properties.tabColor = _TAB_OF[form.name]
    sheet.freeze_panes = f"{_letter(1 + _HIDDEN)}2"
    sheet.row_dimensions[1].height = _HEADING_POINTS
    for place, (column, width) in enumerate(zip(form.columns, widths, strict=True)):
        dimension = sheet.column_dimensions[_letter(_moved(place))]
        dimension.width = width
        dress(dimension, COLUMN_LOOKS[column.kind])
    for place in range(1, 1 + _HIDDEN):
        sheet.column_dimensions[_letter(place)].hidden = True
    _for_print(sheet, sum(widths))
    first, *others = [_heading(sheet, column.heading, column.kind) for column in form.columns]
    sheet.append([first, *(_heading(sheet, name, SHOWN) for name in (ROW_KEY, AS_EXPORTED)), *others])


def _offer(sheet: Any, cells: str, words: str, heading: str, *, closed: bool) -> None:
    """Offer words in cells: others bring a warning where there are no others, and are taken as they are elsewhere."""
    from openpyxl.worksheet.datavalidation import DataValidation

    offer = DataValidation(type="list", formula1=words, allow_blank=True, errorStyle="warning")
    offer.showErrorMessage = closed
    offer.errorTitle, offer.error = heading[:32], f"This is none of the words for {heading}. Keep it all the same?"
    offer.add(cells)
    sheet.data_validations.append(offer)


def _heading(sheet: Any, text: str, kind: str) -> Any:
    from openpyxl.styles import Alignment, Font, PatternFill

    cell = cell_of(sheet, Look("@"), text)
    cell.font = Font(name="Calibri", size=11, bold=True, color=HEADING_INK)
    cell.fill = PatternFill("solid", fgColor=SHOWN_FILL if kind == SHOWN else HEADING_FILL)
    side = "left" if kind in _TEXTS else "center"
    cell.alignment = Alignment(horizontal=side, vertical="center", wrap_text=True, indent=int(side == "left"))
    return cell


def _width(column: SheetColumn, seen: Sequence[str]) -> int:
    """Return the width that the texts take: of texts at most the declared one, of numbers and days at least."""
    heading = _two_lines(column.heading) + _FOR_FILTER
    longest = max((len(line) for text in seen for line in text.split("\n")), default=0) + 2
    if column.kind in _TEXTS or column.kind == YES_NO:
        return max(heading, min(longest, column.width))
    return max(heading, longest, column.width)


def _two_lines(heading: str) -> int:
    """Return the characters of the longer line where a heading is broken into the two that are most alike."""
    words = heading.split()
    breaks = (max(len(" ".join(words[:at])), len(" ".join(words[at:]))) for at in range(1, len(words)))
    return min(breaks, default=len(heading))


def _for_print(sheet: Any, width: int) -> None:
    """Print on landscape A4, on as many pages side by side as keep it legible, heading and first column on each."""
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", _A4
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = -(-width // _PAGE), 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows, sheet.print_title_cols = "1:1", "A:A"
    sheet.page_margins.left = sheet.page_margins.right = 0.4
    sheet.page_margins.top, sheet.page_margins.bottom, sheet.page_margins.footer = 0.5, 0.6, 0.3
    sheet.oddFooter.left.text, sheet.oddFooter.right.text = "&A", "&P / &N"


def _moved(place: int) -> int:
    """Return where a column of the form stands in the sheet, the hidden ones being between."""
    return place + _HIDDEN if place else 0


def _letter(place: int) -> str:
    from openpyxl.utils import get_column_letter

    return get_column_letter(place + 1)
