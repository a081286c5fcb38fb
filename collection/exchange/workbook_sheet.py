"""One sheet of a workbook in one pass over its XML: cells, merged ranges, hidden rows, formulas without a value.

Coordinates and elements: ECMA-376 part 1, clause 18.3.1. What is read is bounded (`MOST_ROWS`, `MOST_COLUMNS`,
`MOST_CELLS` and so on), and the bound is met before memory is spent.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NoReturn, TypeVar
from xml.parsers.expat import ParserCreate

from collection.errors import Refused
from collection.exchange.workbook_check import DEEPEST, Parts
from collection.exchange.workbook_values import EMPTY, Cell, Formats, as_written, iso_cell

MOST_ROWS = 100_000
MOST_COLUMNS = 200
MOST_EMPTY_ROWS = 10_000  # one after the other, each written in the file
MOST_CELLS = 1_000_000
MOST_CHARACTERS = 20_000_000
MOST_MERGES = 10_000
LARGEST_MERGE = 100_000
LONGEST_TEXT = 32_767  # characters in a cell, the most that a spreadsheet program takes (common practice, no source)
_LAST_ROW, _LAST_COLUMN = 1_048_576, 16_384  # same
_DIGITS = "0123456789"
_TRUE = {"1", "true"}
_MOST_KEPT = 50_000
_Key = TypeVar("_Key")
_KINDS = {
    "b": lambda stored: Cell("yes" if stored in _TRUE else "no", "yes_no"),
    "e": lambda stored: Cell(stored, "error"),
    "d": iso_cell,
}


def column_letters(column: int) -> str:
    """Return the letters of a column by its number from 0 on: A, Z, AA."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


_NAMES = [column_letters(column) for column in range(MOST_COLUMNS)]


@dataclass(frozen=True, slots=True)
class SheetRows:
    """What stands in a sheet.

    rows: number as the spreadsheet shows it, and the cells from column A on; rows with nothing in them are left out.
    hidden_rows: those of `rows` that are hidden. merged: ranges such as "A1:D1". no_value: formula cells such as "C7"
    for which the file holds no result; they read as empty.
    """

    name: str
    rows: list[tuple[int, tuple[Cell, ...]]]
    hidden: bool = False
    hidden_rows: tuple[int, ...] = ()
    merged: tuple[str, ...] = ()
    no_value: tuple[str, ...] = ()


@dataclass(slots=True)
class Budget:
    """How many cells of a workbook have been read, in all its sheets, and how many characters stand in them."""

    file: str
    cells: int = 0
    characters: int = 0

    def spend(self, cells: int, characters: int = 0) -> None:
        """Count what was read; Refused beyond what memory is meant for."""
        self.cells += cells
        self.characters += characters
        if self.cells > MOST_CELLS or self.characters > MOST_CHARACTERS:
            what = f"{MOST_CELLS:,} cells" if self.cells > MOST_CELLS else f"{MOST_CHARACTERS:,} characters"
            raise Refused(f"{self.file} holds more than {what}.", "Split the table over several workbooks.")


class SheetReader:
    """Handlers for one sheet's XML; `read` runs them once."""

    def __init__(self, parts: Parts, name: str, formats: Formats, strings: list[Cell], budget: Budget) -> None:
        self._parts, self._name, self._formats, self._strings, self._budget = parts, name, formats, strings, budget
        self._part = ""
        self._parser = ParserCreate()
        self._rows: dict[int, tuple[Cell, ...]] = {}
        self._hidden_rows: list[int] = []
        self._merged: list[str] = []
        self._no_value: list[str] = []
        self._seen_rows = 0
        self._empty_rows = 0
        self._depth = 0
        self._row = 0
        self._row_name = "0"
        self._row_hidden = False
        self._cells: list[Cell] = []
        self._column = -1
        self._in_cell = False
        self._attrs: dict[str, str] = {}
        self._formula = False
        self._phonetic = 0
        self._pieces: list[str] = []
        self._numbers: dict[tuple[str | None, str], Cell] = {}
        self._texts: dict[str, Cell] = {}
        self._starts = {
            "c": self._start_cell,
            "v": self._start_text,
            "t": self._start_text,
            "row": self._start_row,
            "f": self._start_formula,
            "rPh": self._start_phonetic,
            "mergeCell": self._start_merge,
        }
        self._ends = {
            "c": self._end_cell,
            "v": self._end_text,
            "t": self._end_text,
            "row": self._end_row,
            "rPh": self._end_phonetic,
        }

    def read(self, part: str, *, hidden: bool) -> SheetRows:
        """Return the sheet that a part holds; Refused where it is damaged or beyond the bounds."""
        self._part = part
        self._parts.parse(part, self._start, self._end, self._parser, self._after)
        return SheetRows(
            self._name,
            sorted(self._rows.items()),
            hidden,
            tuple(sorted(self._hidden_rows)),
            tuple(self._merged),
            tuple(self._no_value),
        )

    def _start(self, name: str, attrs: dict[str, str]) -> None:
        self._depth += 1
        if self._depth > DEEPEST:
            self._parts.too_deep(self._part)
        handler = self._starts.get(name)
        if handler is None and ":" in name:
            handler = self._starts.get(name.rpartition(":")[2])
        if handler is not None:
            handler(attrs)

    def _end(self, name: str) -> None:
        self._depth -= 1
        handler = self._ends.get(name)
        if handler is None and ":" in name:
            handler = self._ends.get(name.rpartition(":")[2])
        if handler is not None:
            handler()

    def _after(self) -> None:
        if sum(map(len, self._pieces)) > LONGEST_TEXT:
            self._short("".join(self._pieces))

    def _start_text(self, _attrs: dict[str, str]) -> None:
        if self._in_cell and not self._phonetic:
            self._parser.CharacterDataHandler = self._pieces.append

    def _end_text(self) -> None:
        self._parser.CharacterDataHandler = None

    def _start_formula(self, _attrs: dict[str, str]) -> None:
        self._formula = True

    def _start_phonetic(self, _attrs: dict[str, str]) -> None:
        self._phonetic += 1

    def _end_phonetic(self) -> None:
        self._phonetic -= 1

    def _start_row(self, attrs: dict[str, str]) -> None:
        self._seen_rows += 1
        if self._seen_rows > MOST_ROWS:
            self._refuse_length(f"{MOST_ROWS:,} rows")
        number = attrs.get("r")
        self._row = self._row + 1 if number is None else self._whole(number, _LAST_ROW)
        self._row_name = str(self._row)
        self._row_hidden = attrs.get("hidden") in _TRUE
        self._cells = []
        self._column = -1

    def _end_row(self) -> None:
        cells = self._cells
        if not cells:
            self._empty_rows += 1
            if self._empty_rows > MOST_EMPTY_ROWS:
                self._refuse_length(f"{MOST_EMPTY_ROWS:,} rows with nothing in them one after the other")
            return
        self._empty_rows = 0
        self._budget.spend(len(cells))
        if self._row in self._rows:
            self._damaged(f"row {self._row} stands there twice")
        self._rows[self._row] = tuple(cells)
        if self._row_hidden:
            self._hidden_rows.append(self._row)

    def _start_cell(self, attrs: dict[str, str]) -> None:
        self._column += 1
        place = attrs.get("r")
        if place is not None and place != self._next_name():
            self._go_to(place)
        self._attrs = attrs
        self._in_cell = True
        self._formula = False

    def _next_name(self) -> str:
        """Return the name of the cell that stands at the running column, the cheapest way to know a place."""
        return _NAMES[self._column] + self._row_name if self._column < MOST_COLUMNS else ""

    def _go_to(self, place: str) -> None:
        letters = place.rstrip(_DIGITS)
        if place[len(letters) :] != self._row_name:
            self._damaged(f"cell {place[:20]} stands in row {self._row}")
        self._column = self._number_of(letters)

    def _end_cell(self) -> None:
        self._in_cell = False
        if not self._pieces and not self._formula:
            return
        kind = self._attrs.get("t")
        cell = self._value(kind, "".join(self._pieces))
        self._pieces.clear()
        if cell is EMPTY:
            if self._formula and kind != "str":
                self._budget.spend(1)
                self._no_value.append(self._place())
            return
        if self._column >= MOST_COLUMNS or self._row > MOST_ROWS:
            self._refuse_far(cell)
        missing = self._column - len(self._cells)
        if missing < 0:
            self._put_back(cell)
            return
        if missing:
            self._cells.extend([EMPTY] * missing)
        self._cells.append(cell)

    def _put_back(self, cell: Cell) -> None:
        """Put a cell before one that was stored earlier."""
        if self._cells[self._column] is not EMPTY:
            self._damaged(f"cell {self._place()} stands there twice")
        self._cells[self._column] = cell

    def _value(self, kind: str | None, stored: str) -> Cell:
        """Return the cell of a stored value by its type; EMPTY where nothing is stored."""
        if not stored:
            return EMPTY
        if kind == "s":
            return self._shared(stored)
        if kind is None or kind == "n":
            return self._number(stored)
        make = _KINDS.get(kind)
        return self._text(as_written(stored)) if make is None else make(self._short(stored).strip())

    def _shared(self, stored: str) -> Cell:
        place = int(stored) if stored.isdecimal() and len(stored) < 10 else len(self._strings)
        if place >= len(self._strings):
            self._damaged(f"cell {self._place()} points to a text that is not there")
        return self._strings[place]

    def _number(self, stored: str) -> Cell:
        style = self._attrs.get("s")
        key = (style, stored)
        cell = self._numbers.get(key)
        if cell is None:
            self._budget.spend(0, len(stored))
            cell = self._formats.cell(style, self._short(stored).strip())
            _keep(self._numbers, key, cell)
        return cell

    def _text(self, text: str) -> Cell:
        cell = self._texts.get(text)
        if cell is None:
            self._budget.spend(0, len(text))
            cell = Cell(self._short(text), "text") if text else EMPTY
            _keep(self._texts, text, cell)
        return cell

    def _short(self, text: str) -> str:
        if len(text) > LONGEST_TEXT:
            refuse_long(f"{self._where()} cell {self._place()},", text)
        return text

    def _start_merge(self, attrs: dict[str, str]) -> None:
        ref = attrs.get("ref", "")
        if len(self._merged) == MOST_MERGES:
            raise Refused(
                f"{self._where()} has more than {MOST_MERGES:,} merged ranges of cells.",
                "Undo the merging (select the whole sheet, unmerge), save the workbook and import it again.",
            )
        found = re.fullmatch(r"\$?([A-Z]{1,3})\$?([0-9]{1,7}):\$?([A-Z]{1,3})\$?([0-9]{1,7})", ref)
        if found is None:
            self._damaged(f"it merges {ref[:40]!r}, which is no range of cells")
        columns = self._number_of(found[3]) - self._number_of(found[1]) + 1
        rows = int(found[4]) - int(found[2]) + 1
        if rows * columns > LARGEST_MERGE:
            raise Refused(
                f"{self._where()} has {rows * columns:,} cells merged into one, {ref}; at most {LARGEST_MERGE:,} are.",
                "Undo the merging (select the range, unmerge), save the workbook and import it again.",
            )
        self._merged.append(ref.replace("$", ""))

    def _number_of(self, letters: str) -> int:
        """Return a column's number from 0 on, by its letters."""
        number = 0
        if letters.isascii() and letters.isalpha() and len(letters) <= 3:
            for letter in letters.upper():
                number = number * 26 + ord(letter) - 64
        if not 1 <= number <= _LAST_COLUMN:
            self._damaged(f"{letters[:20]!r} is no column")
        return number - 1

    def _whole(self, text: str, most: int) -> int:
        if not (text.isascii() and text.isdigit() and len(text) <= 7 and 1 <= int(text) <= most):
            self._damaged(f"{text[:20]!r} is no row")
        return int(text)

    def _place(self) -> str:
        return f"{column_letters(self._column)}{self._row}"

    def _where(self) -> str:
        return f"{self._parts.file}, sheet {self._name!r},"

    def _damaged(self, why: str) -> NoReturn:
        self._parts.damaged(self._part, f"in sheet {self._name!r} {why}")

    def _refuse_far(self, cell: Cell) -> NoReturn:
        raise Refused(
            f"{self._where()} has {cell.text[:40]!r} in cell {self._place()}, far from any table; rows are read up to "
            f"{MOST_ROWS:,} and columns up to {column_letters(MOST_COLUMNS - 1)}.",
            "Delete that cell or copy the table into a new workbook; a table that long or wide must be split.",
        )

    def _refuse_length(self, what: str) -> NoReturn:
        last = max(self._rows, default=0)
        filled = f"the last with something in it so far is row {last:,}" if last else "none so far has anything in it"
        raise Refused(
            f"{self._where()} has more than {what}; {filled}.",
            "Delete the empty rows below the table (the rows, not only their contents) or copy the table into a new "
            "workbook; a table that long must be split.",
        )


def _keep(kept: dict[_Key, Cell], key: _Key, cell: Cell) -> None:
    """Keep a cell for the next of its like; all are let go when they are many, for then few come again."""
    if len(kept) >= _MOST_KEPT:
        kept.clear()
    kept[key] = cell


def refuse_long(where: str, text: str) -> NoReturn:
    """Refuse a cell with more text than a spreadsheet program takes."""
    raise Refused(
        f"{where} begins {text[:30]!r} and has more than {LONGEST_TEXT:,} characters, the most that a cell holds.",
        "Shorten what stands in it, save the workbook and import it again.",
    )
