"""Read an exported workbook that comes back: of which book it is, and its rows by the form they left in.

Columns are known by their headings, wherever they stand now; rows that are hidden count like the others. A formula
counts as the value that the file keeps for it.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import NamedTuple

from collection.acts.book_back_given import LEFT_OUT, BackColumn, BackRow, BackSheet, Origin
from collection.acts.bring_in.sheet import Finding
from collection.errors import Refused, fold
from collection.exchange import book_columns as form
from collection.exchange.book_about import ABOUT
from collection.exchange.book_columns import SheetColumn, SheetForm
from collection.exchange.workbook_read import EMPTY, Cell, SheetRows, read_workbook, sheet_names
from collection.exchange.workbook_sheet import column_letters
from collection.views.folder.form import FORMS

_HEADING_ROWS = 20
_DIGITS_OF_A_DAY = 5  # from 1927 to 2173; a year has four
_LEAST_SHARE = 0.8  # of the headings of a form, by which a sheet of another name is still known
_WITH_SIGN = re.compile(r"(-?[0-9]+(?:\.[0-9]+)?) (%|[A-Z]{3}|[$€£¥₩₪₴₹₺₽])")  # as workbook_values shows such numbers
_CELL = re.compile(r"([A-Z]+)([0-9]+)")
_AS_NUMBER = (form.WHOLE, form.NUMBER, form.MONEY)
_NO_VALUE = "a formula whose result is not in the file: open and save the workbook in the program that made it"
_ERROR = "an error of the spreadsheet program: put its formula right, or type what it should say"
_MADE_A_DAY = "the spreadsheet program made a day of what was typed: type it again after an apostrophe, as '3/94"
_MERGED = "cells are merged here, so that it is not seen which row it says: undo the merging"
_EMPTIED = "the row was emptied: nothing is deleted by an import, and the book keeps it"


class Found(NamedTuple):
    """A workbook that came back. told: what is to be said of whole sheets and columns that are not read."""

    origin: Origin
    sheets: list[BackSheet]
    told: list[str]


def is_exported(path: Path) -> bool:
    """Say whether a file is a workbook that an export wrote. Raises Refused for a workbook that cannot be read."""
    return form.BOOK_SHEET in sheet_names(path)


def read_exported(path: Path) -> Found:
    """Return what stands in an exported workbook. Raises Refused for what cannot be read or has lost its form."""
    found = Found(Origin("", "", "", ""), [], [])
    taken: dict[str, str] = {}
    said: dict[str, str] = {}
    for rows in read_workbook(path).sheets:
        if rows.name == form.BOOK_SHEET:
            said = {cells[0].text: cells[1].text for _, cells in rows.rows if len(cells) > 1}
            continue
        known = _form_of(rows)
        if known is None:
            if rows.rows and rows.name != ABOUT:
                found.told.append(f'Sheet "{rows.name}" is not one of an export, and is not read.')
            continue
        if known.name in taken:
            raise Refused(
                f'Sheets "{taken[known.name]}" and "{rows.name}" both hold {known.name}.',
                "Delete the one that is not to count.",
            )
        taken[known.name] = rows.name
        sheet = _Reader(rows, known).read(found.told)
        found.sheets.append(sheet)
    if said.get(form.FORM) != str(form.FORM_NUMBER):
        raise Refused(
            f'"{path.name}" was exported in form {said.get(form.FORM, "")[:20] or "unknown"}; this program reads form '
            f"{form.FORM_NUMBER}.",
            "Bring it in with the version of the program that wrote it, or export the book anew.",
        )
    origin = Origin(path.name, *(said.get(name, "") for name in (form.BOOK, form.ACT, form.SEAL)))
    return found._replace(origin=origin)


def _form_of(rows: SheetRows) -> SheetForm | None:
    """Return the form of a sheet: by its name, or where it was given another, by its headings; None for neither."""
    heading = _headings(rows)
    by_name = form.sheets().get(rows.name)
    if heading is None:
        if by_name is not None and rows.rows:
            raise Refused(
                f'Sheet "{rows.name}" has lost its row of headings, or one of its hidden columns "{form.ROW_KEY}" and '
                f'"{form.AS_EXPORTED}".',
                "Export the book anew and make the changes there.",
            )
        return None
    if by_name is not None:
        return by_name
    headings = {cell.text.strip() for cell in heading[1]}
    shares = {each.name: _share(each, headings) for each in form.sheets().values()}
    best = max(shares.values())
    alike = [name for name, share in shares.items() if share == best]
    if len(alike) != 1 or best < _LEAST_SHARE:
        names = ", ".join(form.sheets())
        raise Refused(f'It is not known what sheet "{rows.name}" holds.', f"Give it its name back, one of: {names}.")
    return form.sheets()[alike[0]]


def _share(known: SheetForm, headings: set[str]) -> float:
    """Return which part of the columns of a form has its heading among those."""
    return sum(column.heading in headings for column in known.marked) / len(known.marked)


def _headings(rows: SheetRows) -> tuple[int, tuple[Cell, ...]] | None:
    """Return the row of headings with its number: the one that names both hidden columns."""
    for number, cells in rows.rows[:_HEADING_ROWS]:
        if {form.ROW_KEY, form.AS_EXPORTED} <= {cell.text for cell in cells}:
            return number, cells
    return None


class _Reader:
    """Reads the rows of one sheet."""

    def __init__(self, rows: SheetRows, known: SheetForm) -> None:
        self._rows, self._form = rows, known
        self._first, headings = _headings(rows) or (0, ())
        self._headings = [cell.text.strip() for cell in headings]
        self.findings: list[Finding] = []

    def read(self, told: list[str]) -> BackSheet:
        """Return the rows below the headings; told: gets what is to be said of columns."""
        places = self._places(told)
        columns = tuple(
            BackColumn(each.column, f"{column_letters(at)} {each.heading}" if at is not None else "", each.said)
            for each, at in places
        )
        shown = next((each.heading for each in self._form.columns if each.kind == form.SHOWN), "")
        beside = self._headings.index(shown) if shown in self._headings else None
        rows = list(self._back_rows(places, beside))
        self._refuse_merged()
        self._refuse_without_value([at for _, at in places if at is not None])
        where = f"{column_letters(beside)} {shown}" if beside is not None else ""
        return BackSheet(self._form.file, self._rows.name, columns, rows, self.findings, where)

    def _places(self, told: list[str]) -> list[tuple[SheetColumn, int | None]]:
        """Return each column of the form with its place in the sheet, None for one that is not there."""
        twice = [name for name, number in Counter(filter(None, self._headings)).items() if number > 1]
        if twice:
            raise Refused(
                f'Sheet "{self._rows.name}" has the heading "{twice[0]}" twice.', "Delete the column that was added."
            )
        at = {fold(name): place for place, name in enumerate(self._headings) if name}
        places = [(column, at.get(fold(column.heading))) for column in self._form.marked]
        known = {fold(column.heading) for column in self._form.columns} | {form.ROW_KEY, form.AS_EXPORTED}
        strange = [name for name in self._headings if name and fold(name) not in known]
        lost = [column.heading for column, place in places if place is None]
        if strange and lost:
            raise Refused(
                f'Sheet "{self._rows.name}": the heading "{strange[0]}" is new, and "{lost[0]}" is not there any more.',
                "Give each column its heading back; a column of your own may stand beside them.",
            )
        where = f'Sheet "{self._rows.name}"'
        told += [f'{where}: your own column "{name}" is not read.' for name in strange]
        told += [f'{where}: there is no column "{name}" any more; the book keeps what it has.' for name in lost]
        return places

    def _back_rows(self, places: Sequence[tuple[SheetColumn, int | None]], beside: int | None) -> Iterator[BackRow]:
        key_at, mark_at = (self._headings.index(name) for name in (form.ROW_KEY, form.AS_EXPORTED))
        at = [place if place is not None else -1 for _, place in places]
        beside = -1 if beside is None else beside
        typed = [place for column, place in places if place is not None and column.kind == form.AS_TYPED]
        numbers = [place for column, place in places if place is not None and column.kind in _AS_NUMBER]
        days = [place for column, place in places if place is not None and column.kind == form.DAY]
        kinds = {place: column for column, place in places if place is not None}
        width = max((key_at, mark_at, beside, *at)) + 1
        waiting = self._rows.rows
        waiting.reverse()
        while waiting:  # the cells of a row are let go as soon as it is read: both forms of all rows are much
            number, written = waiting.pop()
            if number <= self._first:
                continue
            cells = written if len(written) >= width else written + (EMPTY,) * (width - len(written))
            texts = [cell.text for cell in cells]
            if _odd(cells, typed, numbers, days):
                self._mend(number, cells, kinds, texts)
            texts.append("")  # what a lost column says
            told = tuple([texts[place] for place in at])
            key = texts[key_at]
            if not key.islower():
                key = key.strip().lower()
            if any(told):
                yield BackRow(number, key, texts[mark_at], told, texts[beside])
            elif key:
                self.findings.append(self._finding(LEFT_OUT, number, None, "", _EMPTIED))

    def _mend(self, number: int, cells: Sequence[Cell], kinds: Mapping[int, SheetColumn], texts: list[str]) -> None:
        """Read what a spreadsheet program did to cells, and refuse what cannot be told from it."""
        for place, column in kinds.items():
            cell = cells[place]
            if cell.kind == "error":
                self._refuse(number, place, cell.text, _ERROR)
            elif column.kind == form.AS_TYPED and cell.kind == "date":
                self._refuse(number, place, cell.text, _MADE_A_DAY)
            elif column.kind in _AS_NUMBER and cell.kind == "text":
                texts[place] = _bare(cell.text)
            elif column.kind == form.DAY and cell.kind == "number":
                texts[place] = _day(cell.text)

    def _refuse_without_value(self, places: Sequence[int]) -> None:
        letters = {column_letters(place): place for place in places}
        for name in self._rows.no_value:
            column, row = _CELL.fullmatch(name).groups()  # type: ignore[union-attr]
            if column in letters and int(row) > self._first:
                self._refuse(int(row), letters[column], "", _NO_VALUE)

    def _refuse_merged(self) -> None:
        for name in self._rows.merged:
            first, _, last = name.partition(":")
            if int(_CELL.fullmatch(last)[2]) > self._first:  # type: ignore[index]
                row = max(int(_CELL.fullmatch(first)[2]), self._first + 1)  # type: ignore[index]
                self.findings.append(self._finding("refused", row, name, "", _MERGED))

    def _refuse(self, row: int, place: int, value: str, rule: str) -> None:
        shown = f"{column_letters(place)} {self._headings[place]}"
        self.findings.append(self._finding("refused", row, shown, value, rule))

    def _finding(self, kind: str, row: int, column: str | None, value: str, rule: str) -> Finding:
        record = FORMS[self._form.file].record
        return Finding(kind, record, self._form.file, row, column, value or None, rule, self._rows.name)


def _odd(cells: Sequence[Cell], typed: Sequence[int], numbers: Sequence[int], days: Sequence[int]) -> bool:
    """Say whether cells of a row are not of the kind that their column was written with, and need a closer look."""
    return (
        any(cells[place].kind == "date" for place in typed)
        or any(cells[place].kind == "text" for place in numbers)
        or any(cells[place].kind == "number" for place in days)
        or any(cell.kind == "error" for cell in cells)
    )


def _bare(text: str) -> str:
    """Return the number of a cell that shows it with a currency or as a percentage; any other text as it is."""
    found = _WITH_SIGN.fullmatch(text.strip())
    if found is None:
        return text
    if found[2] != "%":
        return found[1]
    return format(Decimal(found[1]) / 100, "f")


def _day(number: str) -> str:
    """Return the day of a cell that shows it as a plain number, as a program counts days; a year as it is.

    Counted from 1899-12-30 on, as in the 1900 date system after its false leap day (ECMA-376 part 1, 18.17.4.1).
    """
    if not (number.isdigit() and len(number) == _DIGITS_OF_A_DAY):
        return number
    return (date(1899, 12, 30) + timedelta(days=int(number))).isoformat()
