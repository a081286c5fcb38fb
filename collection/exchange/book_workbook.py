"""The book as a workbook that comes back: `import` of the same file finds what a person changed in it.

One sheet a file of the CSV form. Beside what is seen, each row has its key and what it said, hidden; a hidden sheet
says of which book and state the workbook is. Written row by row into a file beside its place, named when it is whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import chain, islice
from pathlib import Path
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection import __version__
from collection.errors import Refused, fold, nearest
from collection.exchange import book_columns
from collection.exchange.book_about import About
from collection.exchange.book_columns import SheetForm, sheets
from collection.exchange.book_hidden import areas_of, write_book_sheet, write_choices
from collection.exchange.book_sheet import DataSheet
from collection.exchange.new_file import new_file, refuse_place
from collection.exchange.workbook_sheet import MOST_CELLS, MOST_CHARACTERS, MOST_ROWS
from collection.quantity import show_day
from collection.store.book import Book, open_book
from collection.store.engine import fetch
from collection.views.book_sheets import ABOUT_UNITS, SheetRow, names_offered, sheet_rows, wanted_units
from collection.views.unit_list import Wanted

_SAMPLE = 400  # rows whose texts the widths of columns are fitted to
_FULL = 1_048_575  # rows of a sheet below its heading (common practice, no source)
_BESIDE = 3  # cells of a row that stand in no file: its key, what it says, what is shown
_HEAD_SQL = "SELECT act_id, hash FROM seal ORDER BY id DESC LIMIT 1"

Tick = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Choice:
    """What goes into a workbook: names of sheets, none for all; and which units its rows are to be about."""

    only: tuple[str, ...] = ()
    units: Wanted = field(default_factory=Wanted)

    @property
    def some_units(self) -> bool:
        """Whether the rows are to be about some units only."""
        return self.units != Wanted()


class Written(NamedTuple):
    """The rows of each sheet that was written, and why `import` would not read the workbook again, if so."""

    rows: dict[str, int]
    too_large: str


def write_workbook(
    conn: Connection, file: Path, choice: Choice, *, today: date, replace: bool = False, tick: Tick | None = None
) -> Written:
    """Write what is chosen of the book into an .xlsx file.

    today: the day of which owner, location and standing are told. replace: whether a file of the name is written over.
    tick: called with the sheets done and how many there are. Raises Refused for another ending, a file that is there,
    names that nothing has, a sheet with more rows than one can have, and a place that cannot be written.
    """
    refuse_file(file, replace=replace)
    forms = _chosen(choice)
    units = wanted_units(conn, today, choice.units) if choice.some_units else None
    book = _Workbook(conn, choice, today)
    try:
        for number, form in enumerate(forms):
            book.write(form, sheet_rows(conn, form.file, today, units), keep_empty=bool(choice.only))
            if tick:
                tick(number + 1, len(forms))
        book.close()
    except BaseException:
        book.give_up()
        raise
    with new_file(file, replace=replace) as aside:
        book.book.save(aside)
    return Written({form.name: rows for form, rows in book.written}, book.too_large())


def refuse_file(file: Path, *, replace: bool = False) -> None:
    """Refuse beforehand a file that could not be written."""
    if file.suffix.lower() != ".xlsx":
        raise Refused(f"{file.name} does not end in .xlsx.", "Name it book.xlsx, for one.")
    refuse_place(file, replace=replace)


def _chosen(choice: Choice) -> list[SheetForm]:
    """Return the sheets to write, in their order."""
    known = sheets()
    chosen = set()
    for name in choice.only:
        if fold(name) not in known:
            near = nearest(name, known) or known
            raise Refused(f'There is no sheet "{name}".', f"Type one of: {', '.join(near)}.")
        if choice.some_units and known[fold(name)].file not in ABOUT_UNITS:
            about = ", ".join(form.name for form in known.values() if form.file in ABOUT_UNITS)
            raise Refused(f"The sheet {fold(name)} is not about single units.", f"Of chosen units there are: {about}.")
        chosen.add(fold(name))
    if not chosen:
        chosen = {name for name, form in known.items() if not choice.some_units or form.file in ABOUT_UNITS}
    return [form for name, form in known.items() if name in chosen]


class _Workbook:
    """The workbook while it is written."""

    def __init__(self, conn: Connection, choice: Choice, today: date) -> None:
        from openpyxl import Workbook

        self.book: Any = Workbook(write_only=True)
        self.written: list[tuple[SheetForm, int]] = []
        self._about = About(self.book)
        self._whose, self._choice, self._today = open_book(conn), choice, today
        self._head: Sequence[Any] = fetch(conn, _HEAD_SQL)[0]
        # A workbook of some units may go to their owner; the names of everything else stay at home.
        self._names = {} if choice.some_units else names_offered(conn)
        self._areas = areas_of(self._names)
        self._empty: list[str] = []
        self._cells = self._characters = 0

    def write(self, form: SheetForm, rows: Iterator[SheetRow], *, keep_empty: bool) -> None:
        """Write a sheet, if there is anything for it."""
        sample = list(islice(rows, _SAMPLE))
        if not sample and not keep_empty:
            self._empty.append(form.name)
            return
        sheet = DataSheet(self.book, form, sample)
        for row in chain(sample, rows):
            if sheet.rows == _FULL:
                raise Refused(
                    f"The sheet {form.name} would have more than {_FULL:,} rows, the most that a sheet can have.",
                    "Choose units by --standing, --location or --owner, or type: spindlebook export folder FOLDER",
                )
            sheet.append(row)
            self._cells += len(row.cells) - row.cells.count("") + _BESIDE
            self._characters += sum(map(len, row.cells))
        sheet.close(self._areas)
        self.written.append((form, sheet.rows))

    def close(self) -> None:
        """Write the first sheet and the hidden ones."""
        self._about.write(_title(self._whose), self._facts(), self.written, self._empty)
        write_book_sheet(self.book, self._marks())
        write_choices(self.book, self._names)
        self.book.properties.creator, self.book.properties.title = "Spindlebook", _title(self._whose)

    def give_up(self) -> None:
        """End the sheets that were begun: what writes them would complain later that it was left alone."""
        for sheet in self.book.worksheets:
            if not sheet.closed:
                sheet.close()

    def too_large(self) -> str:
        """Return why the workbook is larger than what is read again, empty if it is not."""
        if any(rows >= MOST_ROWS for _form, rows in self.written):
            return f"a sheet of more than {MOST_ROWS:,} rows"
        if self._cells > MOST_CELLS:
            return f"more than {MOST_CELLS:,} cells"
        return f"more than {MOST_CHARACTERS:,} characters" if self._characters > MOST_CHARACTERS else ""

    def _facts(self) -> Mapping[str, str]:
        settings = self._whose.settings
        return {
            "as of": show_day(self._today.isoformat(), settings.date_form),
            "holds": _in_words(self._choice),
            "book": f"{self._whose.key}, as it stood after act {self._head[0]}",
            "written by": f"Spindlebook {__version__}",
        }

    def _marks(self) -> Mapping[str, str]:
        return {
            book_columns.FORM: str(book_columns.FORM_NUMBER),
            book_columns.BOOK: self._whose.key,
            book_columns.ACT: str(self._head[0]),
            book_columns.SEAL: self._head[1],
            book_columns.PROGRAM: __version__,
            book_columns.TODAY: self._today.isoformat(),
            book_columns.ONLY: "; ".join(form.name for form, _rows in self.written),
            book_columns.OF_UNITS: _of_units(self._choice.units),
        }


def _title(whose: Book) -> str:
    return whose.settings.name or "The book of a collection"


def _in_words(choice: Choice) -> str:
    what = f"the sheets {', '.join(choice.only)}" if choice.only else "everything"
    return f"{what}, of units: {_of_units(choice.units)}" if choice.some_units else f"{what} of the book"


def _of_units(wanted: Wanted) -> str:
    told = {"standing": wanted.standing, "location": wanted.location, "owner": wanted.owner}
    return ", ".join(f"{what} {word}" for what, word in told.items() if word)
