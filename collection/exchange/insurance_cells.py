"""The cells of an insurance workbook: what they hold and how they look."""

from __future__ import annotations

from copy import copy
from datetime import date
from decimal import Decimal
from typing import Any, Literal

from collection.exchange.no_formula import sheet_text
from collection.quantity import Money, minor_digits, parse_day

DAY = "yyyy-mm-dd"
HEADING, FLAG, INPUT = "FFE8EEF4", "FFFFF2CC", "FFFFF9E5"
_RULE = "FF7F8C99"
_FACE = "Calibri"  # named, since a font without a name is anybody's guess

Side = Literal["left", "center", "right", ""]


class Cells:
    """Fills the cells of a sheet. Those that look alike share their style: openpyxl is slow at making one."""

    def __init__(self, sheet: Any) -> None:
        self.sheet = sheet
        self._looks: dict[tuple[str, str, str, bool], Any] = {}

    def put(self, row: int, column: int, value: Any, *, side: Side = "", fill: str = "") -> None:
        """Fill a cell: a text that is never run, a number, money in the digits of its currency, or a day.

        None and "" fill nothing. side: to which it is set, else texts to the left and numbers to the right. fill: the
        colour behind it. A text without a side is wrapped.
        """
        if value is None or value == "":
            return
        cell, form = self.sheet.cell(row, column), ""
        text = isinstance(value, str)
        if text:
            cell.value, cell.data_type, form = sheet_text(value), "s", "@"
        elif isinstance(value, Money):
            cell.value, form = Decimal(value.minor).scaleb(-minor_digits(value.currency)), money_form(value.currency)
        elif isinstance(value, date):
            cell.value, form = value, DAY
        else:
            cell.value = value
        self._look(cell, side, fill, form, wrap=text and not side)

    def formula(self, row: int, column: int, formula: str, form: str) -> Any:
        """Fill a cell with a formula of ours."""
        cell = self.sheet.cell(row, column, f"={formula}")
        self._look(cell, "right", "", form, wrap=False)
        return cell

    def heading(self, row: int, column: int, text: str, *, side: Side = "left") -> None:
        """Fill a cell with a heading: bold, on a colour, above a rule."""
        from openpyxl.styles import Alignment, Border, PatternFill
        from openpyxl.styles import Side as Edge

        self.put(row, column, text)
        cell = self.sheet.cell(row, column)
        cell.fill = PatternFill("solid", fgColor=HEADING)
        cell.font, cell.border = bold(), Border(bottom=Edge("thin", color=_RULE))
        cell.alignment = Alignment(horizontal=side or None, vertical="bottom", wrap_text=column > 1)

    def total(self, row: int, columns: int) -> None:
        """Make the first cells of a row look like a sum."""
        from openpyxl.styles import Border
        from openpyxl.styles import Side as Edge

        for column in range(1, columns + 1):
            cell = self.sheet.cell(row, column)
            cell.font, cell.border = bold(), Border(top=Edge("thin", color=_RULE))

    def lie_down(self, wide: int) -> None:
        """Set the sheet on paper that lies on its side, so many pages wide."""
        sheet = self.sheet
        sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", sheet.PAPERSIZE_A4
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = wide, 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.page_margins.left = sheet.page_margins.right = 0.5
        sheet.page_margins.top, sheet.page_margins.bottom, sheet.page_margins.footer = 0.6, 0.7, 0.3
        sheet.oddFooter.right.text = "&A, page &P of &N"

    def _look(self, cell: Any, side: str, fill: str, form: str, *, wrap: bool) -> None:
        look = (side, fill, form, wrap)
        if look in self._looks:
            cell._style = copy(self._looks[look])  # noqa: SLF001  the public way makes and compares each style anew
            return
        from openpyxl.styles import Alignment, PatternFill

        cell.alignment = Alignment(vertical="top", horizontal=side or None, wrap_text=wrap)
        if fill:
            cell.fill = PatternFill("solid", fgColor=fill)
        if form:
            cell.number_format = form
        self._looks[look] = copy(cell._style)  # noqa: SLF001  see above


def bold(size: float = 11) -> Any:
    """Return the font of headings and sums."""
    from openpyxl.styles import Font

    return Font(name=_FACE, bold=True, size=size)


def money_form(currency: str) -> str:
    """Return the number format of a currency."""
    digits = minor_digits(currency)
    return "#,##0" + ("." + "0" * digits if digits else "")


def day_cell(text: str) -> date | str:
    """Return a whole day as a day, a partial one as it is."""
    return parse_day(text).first if text and parse_day(text).full else text
