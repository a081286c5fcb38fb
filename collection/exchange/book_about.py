"""The first sheet of an exported workbook: what it is, of which book and day, how it comes back, what columns mean."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from collection.exchange.book_cells import HEADING_FILL, HEADING_INK, INK, LINE_POINTS, QUIET, Look, cell_of, lines_of
from collection.exchange.book_columns import (
    AS_TYPED,
    DAY,
    MONEY,
    NUMBER,
    SHOWN,
    TEXT,
    WHOLE,
    YES_NO,
    SheetColumn,
    SheetForm,
)

ABOUT = "about"
_WIDTHS = (17, 24, 40, 84)
_TITLE, _SECTION = 18, 13  # points
_AROUND = 1.4  # the height of a line, in sizes of its letters
_A4 = 9  # ECMA-376 part 1, 18.3.1.63, paperSize
_HOW = """
Change cells and add rows wherever you like; sort, filter, hide and move columns as you need.
Keep the headings, and the two hidden columns of every sheet: by them each row is known again.
Save it as .xlsx, then type:  spindlebook import FILE.xlsx
Every change is shown with its sheet, row and column before anything is written; spindlebook undo takes it back.
A row that you delete here stays in the book: nothing is taken out by being left out.
Where only the month or year of a day is known, put an apostrophe before it:  '2025-10
Gray columns are only shown. A row that you add leaves them empty.
"""
_PERSONAL = "The sheet people holds names and addresses: mind who gets this workbook."
_KINDS = {
    TEXT: "text",
    AS_TYPED: "text, kept as typed",
    WHOLE: "whole number",
    NUMBER: "number",
    MONEY: "sum of money",
    DAY: "day, or month or year as text",
    YES_NO: "yes or no",
    SHOWN: "only shown",
}
_WRAPPED = Look("@", wrap=True, side="left")
_PLAIN = Look("@", side="left")


class About:
    """The first sheet; made before the others, so that it stands first, and filled when they are written."""

    def __init__(self, book: Any) -> None:
        self._sheet, self._row = book.create_sheet(ABOUT), 0
        for letter, width in zip("ABCD", _WIDTHS, strict=True):
            self._sheet.column_dimensions[letter].width = width
        self._sheet.sheet_view.showGridLines = False
        self._sheet.page_setup.orientation, self._sheet.page_setup.paperSize = "landscape", _A4
        self._sheet.page_setup.fitToHeight = 0
        self._sheet.sheet_properties.pageSetUpPr.fitToPage = True
        self._sheet.oddFooter.right.text = "&P / &N"

    def write(
        self, title: str, facts: Mapping[str, str], written: Sequence[tuple[SheetForm, int]], left_out: Sequence[str]
    ) -> None:
        """Write it.

        facts: of the workbook, in words. written: the sheets with their rows. left_out: those that would be empty.
        """
        self._title(title, _TITLE)
        for name, value in facts.items():
            self._add(self._text(name, QUIET), self._text(value))
        self._section("Change the book with it")
        for line in _HOW.strip().split("\n"):
            self._add(self._text(f"\N{BULLET} {line}"))
        if any(form.name == "people" for form, _rows in written):
            self._add(self._text(f"\N{BULLET} {_PERSONAL}", bold=True))
        self._section("Sheets", "sheet", "rows", "what it tells", "")
        for form, rows in written:
            self._add(self._link(form.name), self._text(f"{rows:,}"), self._text(form.tells))
        if left_out:
            self._add(None, None, self._text(f"Left out, for they would be empty: {', '.join(left_out)}.", QUIET))
        self._section("Columns", "sheet", "column", "what stands in it", "what it means")
        for form, _rows in written:
            for column in form.columns:
                self._column(form.name, column)

    def _column(self, name: str, column: SheetColumn) -> None:
        may_hold = ", ".join(column.words) if column.words else _KINDS[column.kind]
        texts = (name, column.heading, may_hold, column.meaning)
        lines = max(map(lines_of, texts, _WIDTHS))
        self._add(*(cell_of(self._sheet, _WRAPPED, text) for text in texts), height=lines * LINE_POINTS)

    def _title(self, text: str, size: int) -> None:
        self._add(self._text(text, size=size, bold=True), height=size * _AROUND)

    def _section(self, text: str, *headings: str) -> None:
        """Leave a line free, and write a title and the heading of the table below it."""
        from openpyxl.styles import PatternFill

        self._add()
        self._title(text, _SECTION)
        cells = [self._text(heading, HEADING_INK, bold=True) for heading in headings]
        for cell in cells:
            cell.fill = PatternFill("solid", fgColor=HEADING_FILL)
        if cells:
            self._add(*cells)

    def _text(self, text: str, ink: str = INK, **font: Any) -> Any:
        """Return a cell of running text, without lines."""
        from openpyxl.styles import Alignment, Border, Font

        cell = cell_of(self._sheet, _PLAIN, text)
        cell.font, cell.border = Font(name="Calibri", **{"size": 11, "color": ink, **font}), Border()
        cell.alignment = Alignment(vertical="top")
        return cell

    def _link(self, name: str) -> Any:
        """Return a cell that leads to a sheet of the same workbook."""
        from openpyxl.worksheet.hyperlink import Hyperlink

        cell = self._text(name, underline="single")
        cell.hyperlink = Hyperlink(ref="", location=f"'{name}'!A1")
        return cell

    def _add(self, *cells: Any, height: float = LINE_POINTS) -> None:
        self._row += 1
        if height > LINE_POINTS:
            self._sheet.row_dimensions[self._row].height = height
        self._sheet.append(cells)
