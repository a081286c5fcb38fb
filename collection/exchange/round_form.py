"""The small form of a round, as a workbook or a CSV file: what is known of each unit, and a column to fill in.

A few lines say what the round is of, then a table follows. Whatever else a person writes above the table or beside it
does not matter, since lines and columns are found by their words. Tags stand in cells of the format text, so that no
spreadsheet makes a number or a day of them.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from collection.errors import Refused, fold
from collection.exchange.folder_read import SEPARATORS
from collection.exchange.no_formula import guarded, sheet_text, unguarded
from collection.schema.measurement import GRADES
from collection.store.place import beside, put_in_place

HEAD = ("round of", "point", "procedure", "instrument", "disk", "day")
_COLUMNS = ("tag", "location", "last", "last day", "limit", "value", "note")
_WIDTHS = (12, 18, 14, 14, 20, 14, 30)
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")


class FormLine(NamedTuple):
    """What the form shows of one unit before it is filled in."""

    tag: str
    location: str
    last: str
    last_day: str
    limit: str


class Filled(NamedTuple):
    """A line of a filled form; row: its number as a spreadsheet shows it. An empty value: not visited."""

    row: int
    tag: str
    value: str
    note: str


@dataclass(frozen=True, slots=True)
class FilledForm:
    """A form as it came back; head: the words of HEAD that are told, by themselves."""

    head: dict[str, str]
    lines: tuple[Filled, ...]


def write_form(
    file: Path, head: dict[str, str], measured_in: str, lines: Sequence[FormLine], cautions: Sequence[str] = ()
) -> None:
    """Write the form of a round to a new file; its ending says which form: .xlsx or .csv.

    measured_in: what the values are kept in, "graded", or "" for a procedure that is done or not. cautions: what
    stands before the work. Raises Refused for another ending and where a file of this name stands.
    """
    rows: list[Sequence[str]] = [(name, head[name]) for name in HEAD if name in head]
    rows += [("caution", text) for text in cautions]
    rows += [("value", _asks(measured_in)), (), _COLUMNS, *((*line, "", "") for line in lines)]
    write = {".xlsx": _write_workbook, ".csv": _write_csv}.get(file.suffix.lower())
    if write is None:
        raise Refused(f'"{file.name}" ends in neither .xlsx nor .csv.', "Name it round.xlsx or round.csv.")
    if file.exists():
        raise Refused(f'"{file}" is there already; nothing is overwritten.', "Name another file.")
    with beside(file) as aside:
        write(aside, rows, measured_in)
        put_in_place(aside, file)


def read_form(file: Path) -> FilledForm:
    """Return a filled form. Raises Refused where it cannot be read, or has no column "tag" beside one "value"."""
    rows, comma = _rows_of_csv(file) if file.suffix.lower() == ".csv" else (_rows_of_workbook(file), False)
    head: dict[str, str] = {}
    lines: list[Filled] = []
    places: dict[str, int] = {}
    for number, cells in rows:
        names = [fold(cell) for cell in cells]
        if not places and "tag" in names and "value" in names:
            places = {name: at for at, name in reversed(list(enumerate(names)))}
        elif not places:
            if len(cells) > 1 and names[0] in HEAD and cells[1].strip():
                head[names[0]] = cells[1].strip()
        elif any(cell.strip() for cell in cells):
            tag, value, note = (_cell(cells, places.get(name)) for name in ("tag", "value", "note"))
            lines.append(Filled(number, tag, _with_point(value) if comma else value, note))
    if not places:
        raise Refused(
            f'"{file.name}" has no row with the headings "tag" and "value".',
            "Write a form with: spindlebook round --of MEASUREMENT --write FILE.xlsx",
        )
    return FilledForm(head, tuple(lines))


def _asks(measured_in: str) -> str:
    if not measured_in:
        return "yes where it was done"
    return f"one of {', '.join(GRADES)}" if measured_in == "graded" else f"in {measured_in}"


def _write_csv(file: Path, rows: Iterable[Sequence[str]], _measured_in: str) -> None:
    with file.open("w", encoding="utf-8-sig", newline="") as stream:
        csv.writer(stream, lineterminator="\r\n").writerows(map(guarded, row) for row in rows)


def _write_workbook(file: Path, rows: Sequence[Sequence[str]], measured_in: str) -> None:
    from openpyxl import Workbook
    from openpyxl.styles import Font, PatternFill

    book = Workbook()
    sheet: Any = book.active
    sheet.title = "round"
    heading = rows.index(_COLUMNS) + 1
    for at, cells in enumerate(rows, start=1):
        for place, text in enumerate(cells, start=1):
            cell = sheet.cell(at, place)
            if text:
                cell.value, cell.data_type = sheet_text(text), "s"
            if place != _COLUMNS.index("value") + 1 or at <= heading:
                cell.number_format = "@"
            if at == heading or (at < heading and place == 1):
                cell.font = Font(bold=True)
            if at > heading and place == _COLUMNS.index("value") + 1:
                cell.fill = PatternFill("solid", fgColor="FFF7D6")
    for place, width in enumerate(_WIDTHS):
        sheet.column_dimensions["ABCDEFG"[place]].width = width
    sheet.freeze_panes = sheet.cell(heading + 1, 2)
    sheet.print_title_rows = f"{heading}:{heading}"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    _offer(sheet, measured_in, heading + 1, len(rows))
    book.save(file)


def _offer(sheet: Any, measured_in: str, first: int, last: int) -> None:
    """Give the value column a drop-down where only a few words are meant."""
    from openpyxl.worksheet.datavalidation import DataValidation

    words = GRADES if measured_in == "graded" else () if measured_in else ("yes", "no")
    if words and last >= first:
        choice = DataValidation(type="list", formula1=f'"{",".join(words)}"', allow_blank=True)
        sheet.add_data_validation(choice)
        choice.add(f"F{first}:F{last}")


def _rows_of_workbook(file: Path) -> list[tuple[int, list[str]]]:
    """Return the rows of the first sheet that has the headings, else of the first sheet."""
    from collection.exchange.workbook_read import read_workbook

    sheets = [[(at, [cell.text for cell in cells]) for at, cells in each.rows] for each in read_workbook(file).sheets]
    for rows in sheets:
        if any({"tag", "value"} <= {fold(cell) for cell in cells} for _, cells in rows):
            return rows
    return sheets[0] if sheets else []


def _rows_of_csv(file: Path) -> tuple[list[tuple[int, list[str]]], bool]:
    """Return the rows, and whether a comma may be a decimal point: where the semicolon separates."""
    data = file.read_bytes()
    try:
        text = data.decode("utf-16" if data[:2] in _UTF_16 else "utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refused(f'"{file.name}": byte {error.start + 1} is no UTF-8.', "Save the file as UTF-8.") from None
    found: list[tuple[int, list[str]]] = []
    for separator in SEPARATORS:
        try:
            reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
            rows = [(at, list(map(unguarded, cells))) for at, cells in enumerate(reader, start=1)]
        except csv.Error as error:
            raise Refused(f'"{file.name}" cannot be read: {error}.', "Save it as CSV again.") from None
        if any({"tag", "value"} <= {fold(cell) for cell in cells} for _, cells in rows):
            return rows, separator == ";"
        found = found or rows
    return found, False


def _cell(cells: Sequence[str], place: int | None) -> str:
    return cells[place].strip() if place is not None and place < len(cells) else ""


def _with_point(value: str) -> str:
    """Return "300,1" as "300.1"; anything but one comma between digits stays as it is."""
    left, _, right = value.partition(",")
    plain = value.count(",") == 1 and left.lstrip("+-").isdecimal() and right[:1].isdecimal()
    return f"{left}.{right}" if plain else value
