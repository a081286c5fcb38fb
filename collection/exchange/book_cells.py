"""The cells of an exported workbook: how each kind looks, and how a text of the book becomes the cell of its column.

A text is a cell of kind "s", which no program runs, whatever it begins with; so it stays, once a person has edited
the cell, by its format "@" or its quotePrefix (ECMA-376 part 1, 18.8.45). A number is a number only where a
spreadsheet keeps all its digits. Dates are serial numbers of the 1900 system (ECMA-376 part 1, 18.17.4.1).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any, NamedTuple

from collection.analysis.row_marks import cell_mark, fits_number
from collection.exchange.book_columns import AS_TYPED, DAY, MONEY, NUMBER, SHOWN, TEXT, WHOLE, YES_NO, SheetColumn
from collection.exchange.no_formula import sheet_text

_Read = tuple["Look", str, str]
_Reader = Callable[[str], _Read]

INK, QUIET, HEADING_INK, HEADING_FILL, SHOWN_FILL = "FF1F2933", "FF6B7680", "FFFFFFFF", "FF33506B", "FF6B7F92"
LINE_POINTS = 15
_LINE = "FFD5DBE1"
_DAY_FORMAT = "yyyy-mm-dd"
_LONGEST_AS_TYPED = 255  # older programs show more than that in the format "@" as ##### (from memory)
_MOST_DECIMALS = 10
_FORMULA = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_KNOWN = 2_000  # texts of a column whose cells are kept: those that come again and again
_FIRST_DAY = date(1900, 3, 1)  # before it, serial numbers of the 1900 system are off by the 29 February that never was
_DAY_ZERO = date(1899, 12, 30).toordinal()


class Look(NamedTuple):
    """How a cell looks: number format, whether it wraps, its side, its ink, and whether it is quoted as text."""

    number_format: str = "General"
    wrap: bool = False
    side: str = "right"
    ink: str = INK
    quoted: bool = False


COLUMN_LOOKS = {
    TEXT: Look("@", wrap=True, side="left"),
    AS_TYPED: Look("@", side="left"),
    YES_NO: Look("@", side="center"),
    DAY: Look(_DAY_FORMAT),
    WHOLE: Look("0"),
    NUMBER: Look(),
    MONEY: Look("#,##0.00"),
    SHOWN: Look("@", side="left", ink=QUIET),
}
_LONG_TEXT = Look(wrap=True, side="left")
_TEXT_FOR_NUMBER = Look("@")


class Said(NamedTuple):
    """A cell, the value it is to hold, its kind ("s" text, "n" number), mark of what it says, and lines."""

    cell: Any
    value: str
    kind: str
    mark: str
    lines: int


class Pen:
    """Writes the cells of one column of one sheet; a cell is written before the next one of its look is asked for.

    width: of the column, in characters.
    """

    def __init__(self, sheet: Any, column: SheetColumn, width: int) -> None:
        self._sheet, self._column, self._width = sheet, column, width
        self._read: _Reader = _READERS[column.kind]
        self._cells: dict[Look, Any] = {}
        self._known: dict[str, Said] = {}

    def said(self, text: str) -> Said:
        """Return the cell of a text, None for an empty one, with its value set."""
        said = self._known.get(text)
        if said is None:
            said = self._said(text)
            if len(self._known) < _KNOWN:
                self._known[text] = said
        if said.cell is not None:
            said.cell.value = said.value
            said.cell.data_type = said.kind  # the line before guesses: a formula where a text begins with "="
        return said

    def _said(self, text: str) -> Said:
        column = self._column
        mark = "" if column.kind == SHOWN else cell_mark(column.said(text))
        if not text:
            return Said(None, "", "", mark, 1)
        look, kind, value = self._read(text)
        if look not in self._cells:
            self._cells[look] = cell_of(self._sheet, look)
        return Said(self._cells[look], value, kind, mark, lines_of(text, self._width) if look.wrap else 1)


def lines_of(text: str, width: int) -> int:
    """Return about how many lines a text takes that wraps; widths are in digits, and letters are narrower."""
    if len(text) <= width and "\n" not in text:
        return 1
    return sum(-(-len(line) * 10 // (width * 11)) or 1 for line in text.split("\n"))


def cell_of(sheet: Any, look: Look, text: str = "") -> Any:
    """Return a cell of a sheet that is written row by row, with a text that no program runs."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    cell: Any = WriteOnlyCell(sheet)
    cell.font = Font(name="Calibri", size=11, color=look.ink)
    dress(cell, look)
    cell.value, cell.data_type = sheet_text(text), "s"
    return cell


def dress(place: Any, look: Look) -> None:
    """Give a cell, or the cells to come of a column, the format and the lines of a look."""
    from openpyxl.styles import Alignment, Border, Side

    place.number_format = look.number_format
    indent = 1 if look.side == "left" else 0  # a little off the number to its left
    place.alignment = Alignment(horizontal=look.side, vertical="top", wrap_text=look.wrap, indent=indent)
    place.border = Border(bottom=Side("thin", _LINE))
    if look.quoted:
        place.quotePrefix = True


def _as_typed(look: Look, longer: Look | None = None) -> _Reader:
    """Read a text; `longer` is the look of one that is longer than the format "@" is good for."""

    def read(text: str) -> _Read:
        own = longer if longer and len(text) > _LONGEST_AS_TYPED else look
        quoted = text.lstrip().startswith(_FORMULA)
        return own._replace(quoted=quoted), "s", sheet_text(text.replace("\0", ""))

    return read


def _number(form: str) -> _Reader:
    """Read a number; decimals are shown as they were written, so that 300.0 does not look as if read to whole ones."""

    def read(text: str) -> _Read:
        bare = text.strip()
        if not fits_number(bare):
            return _as_typed(_TEXT_FOR_NUMBER)(text)
        decimals = min(len(bare.partition(".")[2]), _MOST_DECIMALS)
        return Look(form + ("." + "0" * decimals if decimals else "")), "n", bare.removeprefix("+")

    return read


def _day(text: str) -> _Read:
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        return _as_typed(_TEXT_FOR_NUMBER)(text)
    if day < _FIRST_DAY:
        return _as_typed(_TEXT_FOR_NUMBER)(text)
    return COLUMN_LOOKS[DAY], "n", str(day.toordinal() - _DAY_ZERO)


_READERS: dict[str, _Reader] = {
    TEXT: _as_typed(COLUMN_LOOKS[TEXT], _LONG_TEXT),
    AS_TYPED: _as_typed(COLUMN_LOOKS[AS_TYPED]),
    YES_NO: _as_typed(COLUMN_LOOKS[YES_NO]),
    SHOWN: _as_typed(COLUMN_LOOKS[SHOWN]),
    WHOLE: _number("0"),
    NUMBER: _number("0"),
    MONEY: _number("#,##0"),
    DAY: _day,
}
