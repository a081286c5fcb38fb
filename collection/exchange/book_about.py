"""The first sheet of an exported workbook: what it is, of which book and day, how it comes back, what columns mean."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from collection.exchange.book_cells import HEADING_FILL, HEADING_INK, INK, QUIET, Look, cell_of
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
_TITLE, _SECTION = 18, 13
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
_COUNT = Look("#,##0", side="right")


def open_about(book: Any) -> Any:
    """Return the first sheet, still empty: what it tells is known when the others are written."""
    sheet = book.create_sheet(ABOUT)
    for letter, width in zip("ABCD", _WIDTHS, strict=True):
        sheet.column_dimensions[letter].width = width
    sheet.sheet_view.showGridLines = False
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", _A4
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.oddFooter.right.text = "&P / &N"
    return sheet


def write_about(
    sheet: Any, title: str, facts: Mapping[str, str], written: Sequence[tuple[SheetForm, int]], left_out: Sequence[str]
) -> None:
    """Write the first sheet.

    facts: of the workbook, in words. written: the sheets with their rows. left_out: sheets that would be empty.
    """
    _line(sheet, title, size=_TITLE)
    for name, value in facts.items():
        sheet.append([_plain(sheet, name, QUIET), _plain(sheet, value)])
    _section(sheet, "Change the book with it")
    for line in _HOW.strip().split("\n"):
        _line(sheet, f"\N{BULLET} {line}")
    if any(form.name == "people" for form, _rows in written):
        _line(sheet, _PERSONAL, bold=True)
    _section(sheet, "Sheets")
    _headings(sheet, "sheet", "rows", "what it tells", "")
    for form, rows in written:
        sheet.append([_link(sheet, form.name), _count(sheet, rows), _plain(sheet, form.tells)])
    if left_out:
        sheet.append([None, None, _plain(sheet, f"The book has nothing yet for: {', '.join(left_out)}.", QUIET)])
    _section(sheet, "Columns")
    _headings(sheet, "sheet", "column", "what stands in it", "what it means")
    for form, _rows in written:
        for column in form.columns:
            told = (form.name, column.heading, _may_hold(column), column.meaning)
            sheet.append([cell_of(sheet, _WRAPPED, text) for text in told])


def _may_hold(column: SheetColumn) -> str:
    return ", ".join(column.words) if column.words else _KINDS[column.kind]


def _plain(sheet: Any, text: str, ink: str = INK, **font: Any) -> Any:
    """Return a cell of running text, without lines."""
    from openpyxl.styles import Border, Font

    cell = cell_of(sheet, Look("@"), text)
    cell.font, cell.border = Font(name="Calibri", **{"size": 11, "color": ink, **font}), Border()
    return cell


def _line(sheet: Any, text: str, **font: Any) -> None:
    if "size" in font:
        font["bold"] = True
    sheet.append([_plain(sheet, text, **font)])


def _section(sheet: Any, text: str) -> None:
    sheet.append([])
    _line(sheet, text, size=_SECTION)


def _headings(sheet: Any, *texts: str) -> None:
    from openpyxl.styles import PatternFill

    cells = [_plain(sheet, text, HEADING_INK, bold=True) for text in texts]
    for cell in cells:
        cell.fill = PatternFill("solid", fgColor=HEADING_FILL)
    sheet.append(cells)


def _count(sheet: Any, rows: int) -> Any:
    cell = cell_of(sheet, _COUNT)
    cell.value = rows
    return cell


def _link(sheet: Any, name: str) -> Any:
    """Return a cell that leads to a sheet of the same workbook."""
    from openpyxl.worksheet.hyperlink import Hyperlink

    cell = _plain(sheet, name, underline="single")
    cell.hyperlink = Hyperlink(ref="", location=f"'{name}'!A1")
    return cell
