"""Read a folder of CSV files into tables of cells, and say of each file what keeps it from being read.

Encoding: a byte-order mark decides between UTF-8 and UTF-16; without one it is UTF-8, or what the person declares.
Separator: comma, semicolon or tab, whichever finds most of the file's known column names in its heading. Quoting as in
RFC 4180.
"""

from __future__ import annotations

import codecs
import csv
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from io import TextIOWrapper
from itertools import islice
from operator import itemgetter
from pathlib import Path

from collection.acts.bring_in.sheet import Finding
from collection.acts.bring_in.tables import Table
from collection.errors import Refused, fold, nearest
from collection.exchange.no_formula import unguarded
from collection.views.folder.form import FORMS, KEY, FileForm

SEPARATORS = (",", ";", "\t")
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_CHUNK = 50
_OFTEN = 10_000
_BLOCK = 1 << 20
_FIRST = itemgetter(0)
_LONGEST_CELL = 100_000


@dataclass(frozen=True, slots=True)
class Folder:
    """What a folder held: tables, refusals of what could not be read, and files that are no CSV files."""

    tables: Sequence[Table]
    refused: Sequence[Finding]
    left_out: Sequence[str]


class _UnreadableError(Exception):
    """Why a file cannot be read, and where."""

    def __init__(self, rule: str, row: int | None = None, column: str | None = None, value: str | None = None) -> None:
        super().__init__(rule)
        self.rule, self.row, self.column, self.value = rule, row, column, value


def read_folder(folder: Path, *, encoding: str | None = None, tick: Callable[[int, int], None] | None = None) -> Folder:
    """Read all files of a folder; `encoding` is that of files without a byte-order mark.

    tick: called with the bytes read and those of all files.
    Raises Refused where there is no folder, nothing to read in it, or no such encoding.
    """
    if encoding is not None:
        _known_encoding(encoding)
    files = _files(folder)
    count = _Count(sum(path.stat().st_size for path in files), tick)
    tables: list[Table] = []
    refused: list[Finding] = []
    left_out: list[str] = []
    for path in files:
        form = FORMS.get(fold(path.name))
        if path.suffix.lower() != ".csv" or not path.is_file():
            left_out.append(path.name)
        elif form is None:
            refused.append(_refusal(path.name, _unknown_file(path.name)))
        elif any(table.file == form.file for table in tables):
            refused.append(_refusal(path.name, _UnreadableError("this file is there twice, in other capitals")))
        else:
            try:
                tables.append(_read_file(path, form, encoding, count))
            except _UnreadableError as reason:
                refused.append(_refusal(form.file, reason))
            except _SeveralError as reasons:
                refused += [_refusal(form.file, reason) for reason in reasons.all]
        count.add(path.stat().st_size)
    if not tables and not refused:
        known = ", ".join(list(FORMS)[:5])
        raise Refused(f'"{folder}" has no CSV file.', f"It may have {known} and others: see docs/csv-folder.md.")
    return Folder(tables, refused, left_out)


@dataclass(slots=True)
class _Count:
    """How much of all files has been read, in bytes, and whom to tell."""

    total: int
    tick: Callable[[int, int], None] | None
    done: int = 0

    def add(self, size: int) -> None:
        """Count a file that is done."""
        self.done += size
        self.inside(0)

    def inside(self, size: int) -> None:
        """Tell how far the reading of one more file is."""
        if self.tick:
            self.tick(self.done + size, self.total)


class _SeveralError(Exception):
    """Several reasons why a file cannot be read."""

    def __init__(self, reasons: list[_UnreadableError]) -> None:
        super().__init__(str(reasons[0]))
        self.all = reasons


def _files(folder: Path) -> list[Path]:
    if folder.suffix.lower() in (".xlsx", ".xlsm", ".ods"):
        raise Refused(
            f'"{folder}" is a workbook; a folder of CSV files is brought in.',
            "Save each of its sheets as CSV into a folder, then: spindlebook import FOLDER",
        )
    if not folder.is_dir():
        what = "is a file, not a folder" if folder.exists() else "does not exist"
        raise Refused(f'"{folder}" {what}.', "Name the folder that holds the CSV files.")
    return sorted(folder.iterdir(), key=lambda path: path.name)


def _known_encoding(name: str) -> None:
    try:
        codecs.lookup(name)
    except LookupError:
        raise Refused(f'Encoding "{name}" is not known.', "Type it as cp1252, latin-1 or utf-16-le.") from None


def _unknown_file(name: str) -> _UnreadableError:
    near = nearest(name, FORMS, 1)
    advice = f"rename it to {near[0]}" if near else "take it out of the folder"
    return _UnreadableError(f"no file of the folder is called so; {advice}")


def _refusal(file: str, reason: _UnreadableError) -> Finding:
    return Finding("refused", f"file {file}", file, reason.row, reason.column, reason.value, reason.rule)


def _read_file(path: Path, form: FileForm, declared: str | None, count: _Count) -> Table:
    encoding = _encoding(path, declared)
    try:
        _refuse_nul(path, encoding)
        with path.open(encoding=encoding, newline="") as stream:
            heading = stream.readline()
            while heading and not heading.strip(" \r\n\t,;"):
                heading = stream.readline()
        if not heading:
            raise _UnreadableError("is empty: not even a heading row")
        separator = _separator(heading, form)
        with path.open("rb") as raw, TextIOWrapper(raw, encoding=encoding, newline="") as stream:
            return _read_rows(stream, form, separator, lambda: count.inside(raw.tell()))
    except UnicodeError:
        shown = "UTF-16" if encoding == "utf-16" else declared or "UTF-8"
        raise _UnreadableError(
            f"is not {shown} text; add --encoding cp1252, or whatever the program that wrote it uses"
        ) from None


def _encoding(path: Path, declared: str | None) -> str:
    with path.open("rb") as stream:
        start = stream.read(4)
    for mark, encoding in _MARKS:
        if start.startswith(mark):
            return encoding
    return declared or "utf-8"


def _separator(heading: str, form: FileForm) -> str:
    """Return the separator that finds most known names; a comma where none finds any."""
    known = {*form.columns, KEY}

    def found(separator: str) -> int:
        cells = next(csv.reader([heading], delimiter=separator), [])
        return sum(fold(cell) in known for cell in cells)

    return max(SEPARATORS, key=found)


def _refuse_nul(path: Path, encoding: str) -> None:
    """Read the text once, which shows whether it is of its encoding, and refuse what no text has."""
    lines = 1
    with path.open(encoding=encoding, newline="") as stream:
        while text := stream.read(_BLOCK):
            if "\0" in text:
                lines += text[: text.index("\0")].count("\n")
                advice = "if it is UTF-16 without a mark, add --encoding utf-16-le"
                raise _UnreadableError(f"has a NUL character on line {lines}; {advice}")
            lines += text.count("\n")


def _read_rows(stream: Iterable[str], form: FileForm, separator: str, tick: Callable[[], None]) -> Table:
    csv.field_size_limit(_LONGEST_CELL)
    reader = csv.reader(stream, delimiter=separator, strict=True)
    try:
        number, cells = next((at, cells) for at, cells in enumerate(reader, 1) if any(cell.strip() for cell in cells))
        return _Gatherer(form.file, _columns(cells, form), len(cells)).gather(reader, number, tick)
    except csv.Error as trouble:
        rule = f"cannot be read: {trouble}; a quotation mark is missing or not doubled"
        if "limit" in str(trouble):
            rule = f"has a cell of more than {_LONGEST_CELL} characters; a quotation mark is missing"
        raise _UnreadableError(rule, reader.line_num) from None


def _columns(heading: Sequence[str], form: FileForm) -> list[str]:
    """Return the columns of a heading as the form spells them. Raises all that is wrong with it at once."""
    known = (*form.columns, KEY)
    names = [fold(cell) for cell in heading]
    while names and not names[-1]:
        names.pop()
    wrong: list[_UnreadableError] = []
    for place, name in enumerate(names):
        if not name:
            wrong.append(_UnreadableError(f"column {place + 1} has no heading; give it one or take it out", 1))
        elif name not in known:
            near = nearest(name, known)
            advice = f"nearest: {', '.join(near)}" if near else f"known: {', '.join(form.columns)}"
            wrong.append(_UnreadableError(f"is no column of {form.file}; {advice}", 1, name, heading[place].strip()))
        elif name in names[:place]:
            wrong.append(_UnreadableError("this column stands twice", 1, name, heading[place].strip()))
    missing = [name for name in form.required if name not in names]
    wrong += [_UnreadableError(f"{form.file} needs this column", 1, name) for name in missing]
    if wrong:
        raise _SeveralError(wrong)
    return names


class _Gatherer:
    """Gathers rows column by column; equal cells are one text, so that a million rows fit into memory.

    Few rows at a time: their texts are still in the processor's cache when they are looked up.
    """

    def __init__(self, file: str, columns: list[str], width: int) -> None:
        self.file, self.columns, self.width = file, columns, width
        self.cells: list[list[str]] = [[] for _ in columns]
        self.numbers: Sequence[int] = ()
        self.wrong: list[_UnreadableError] = []
        self._takers = [(cells.extend, _same(name)) for name, cells in zip(columns, self.cells, strict=True)]

    def gather(self, reader: Iterable[list[str]], heading: int, tick: Callable[[], None]) -> Table:
        """Read all rows after the heading; row numbers count blank rows too, as a spreadsheet does."""
        rows, number, plain = iter(reader), heading, True
        numbers: list[int] = []
        width = {self.width}
        while chunk := list(islice(rows, _CHUNK)):
            found = range(number + 1, number + 1 + len(chunk))
            number = found[-1]
            if set(map(len, chunk)) != width or not all(map(str.strip, map(_FIRST, chunk))):
                kept = [(at, row) for at, row in zip(found, chunk, strict=True) if self._is_row(row, at)]
                if plain and len(kept) < len(chunk):
                    plain, numbers = False, list(range(heading + 1, found[0]))
                chunk, found = [row for _, row in kept], [at for at, _ in kept]  # type: ignore[assignment]
            if not plain:
                numbers += found
            self._take(chunk, found)
            if number % _OFTEN < _CHUNK:
                tick()
        if self.wrong:
            raise _SeveralError(self.wrong)
        return Table(self.file, tuple(self.columns), self.cells, range(heading + 1, number + 1) if plain else numbers)

    def _is_row(self, row: list[str], number: int) -> bool:
        """Say whether a row is one, and not blank; note what is wrong with it."""
        if not any(cell.strip() for cell in row):
            return False
        if len(row) != self.width:
            cells = "1 cell" if len(row) == 1 else f"{len(row)} cells"
            rule = f"has {cells} where the heading has {self.width}; quote cells that hold the separator"
            self.wrong.append(_UnreadableError(rule, number))
            return False
        return True

    def _take(self, chunk: list[list[str]], numbers: Sequence[int]) -> None:
        for (extend, same), column in zip(self._takers, zip(*chunk, strict=True), strict=False):
            extend(map(same, column) if same else column)
        if self.width > len(self.columns):
            for number, row in zip(numbers, chunk, strict=True):
                if any(cell.strip() for cell in row[len(self.columns) :]):
                    rule = f"has a cell beyond the last heading, {self.columns[-1]}"
                    self.wrong.append(_UnreadableError(rule, number, None, row[len(self.columns)]))


class _Texts(dict[str, str]):
    """The text of each cell; the guard against formulas is taken off where a cell is first met."""

    def __missing__(self, cell: str) -> str:
        self[cell] = text = unguarded(cell)
        return text


def _same(column: str) -> Callable[[str], str] | None:
    """Return what gives the text of a cell, equal ones of a column as one; keys are never equal and have no guard."""
    return None if column == KEY else _Texts().__getitem__
