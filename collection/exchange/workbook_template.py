"""The empty workbook that `import --template` writes: headings the import takes without a question, an example, words.

Every cell is text, so that no word of a book becomes a formula (OWASP, "CSV Injection"; ASVS 5, 1.2.10). Columns of
tags, serials and their like have the format "@": what is typed there stays as typed, "00123" and "1E5" too.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

from collection.errors import Refused
from collection.exchange.new_file import cannot_write
from collection.exchange.no_formula import sheet_text
from collection.exchange.workbook_read import CHOICES
from collection.schema.equipment import DRIVE_TYPES, STANDINGS
from collection.schema.measurement import GRADES, STAGES
from collection.store.place import beside, put_in_place
from collection.store.seed import reference_rows

EXAMPLE = "example: "
_LAST_ROW = 10_000
_INK, _HEADING_FILL = "FF767676", "FFE8EEF4"


class Heading(NamedTuple):
    """A column: heading, example, width in characters, the list that may be chosen from, whether it stays as typed.

    closed: words that are none of the list bring a warning.
    """

    name: str
    example: str
    width: int
    choices: str = ""
    as_typed: bool = False
    closed: bool = False


SHEETS: dict[str, tuple[Heading, ...]] = {
    "units": (
        Heading("tag", f"{EXAMPLE}D1", 14, as_typed=True),
        Heading("maker", "Halverby", 16),
        Heading("model", "DM-8", 16, as_typed=True),
        Heading("kind", "drive", 13, "kinds"),
        Heading("drive type", "belt", 18, "drive types", closed=True),
        Heading("nominal speed", "300", 15),
        Heading("serial no", "0012345", 18, as_typed=True),
        Heading("owner", "Ilse Vanterpool", 20),
        Heading("location", "shelf 2", 18, "locations", as_typed=True),
        Heading("standing", "ready", 15, "standings", closed=True),
        Heading("bought on", "2021-05-12", 13),
        Heading("bought from", "club sale", 18),
        Heading("price", "35.00", 10),
        Heading("currency", "EUR", 10),
        Heading("condition", "good, one scratch", 22),
        Heading("jumpers", "DS0", 14, as_typed=True),
        Heading("rom", "2.1", 10, as_typed=True),
        Heading("modifications", "", 24),
        Heading("accessories", "ribbon cable", 22),
        Heading("note", "", 34),
    ),
    "services": (
        Heading("tag", f"{EXAMPLE}D1", 14, as_typed=True),
        Heading("serviced on", "2024-03-02", 13),
        Heading("work done", "clean head, clean and re-lube rails", 36, "procedures"),
        Heading("supplies used", "2 ml isopropyl alcohol 99 %, 1 foam swab", 42),
        Heading("spindle speed as found", "297.5", 24),
        Heading("spindle speed as left", "300.1", 23),
        Heading("minutes", "40", 10),
        Heading("by", "Ilse Vanterpool", 20),
        Heading("outcome", "ready", 15, "standings"),
        Heading("findings", "belt a little loose", 34),
    ),
    "readings": (
        Heading("tag", f"{EXAMPLE}D1", 14, as_typed=True),
        Heading("taken on", "2024-03-02", 13),
        Heading("measurement", "rail voltage", 24, "measurements"),
        Heading("point", "+5 V", 18, as_typed=True),
        Heading("value", "5.02", 12, "grades"),
        Heading("measured in", "V", 14),
        Heading("stage", "between", 12, "stages", closed=True),
        Heading("instrument", "bench meter", 20),
        Heading("note", "", 34),
    ),
    "supplies": (
        Heading("supply", f"{EXAMPLE}belt 118 x 6", 32, "supplies"),
        Heading("kind", "belt", 13, "kinds of supply"),
        Heading("quantity", "4", 11),
        Heading("measured in", "piece", 14),
        Heading("lot", "B-1", 12, as_typed=True),
        Heading("received on", "2025-01-05", 14),
        Heading("price", "12.00", 10),
        Heading("supplier", "Spindle Post", 20),
        Heading("best before", "2030-01", 14),
        Heading("size", "118 x 6 mm", 14, as_typed=True),
        Heading("fits", "DM-8", 16, as_typed=True),
        Heading("note", "", 34),
    ),
}


def write_template(
    file: Path,
    *,
    measurements: Sequence[str] | None = None,
    procedures: Sequence[str] | None = None,
    supplies: Sequence[str] | None = None,
    locations: Sequence[str] = (),
) -> None:
    """Write the empty workbook to a new file.

    The sequences are the names to choose from, those of the reference data where none are given.
    Raises Refused for an ending other than .xlsx, where a file of this name stands, and where it cannot be written.
    """
    if file.suffix.lower() != ".xlsx":
        raise Refused(f'"{file.name}" does not end in .xlsx.', "Name it my-drives.xlsx, for one.")
    if file.exists():
        raise Refused(f'"{file}" is there already; nothing is overwritten.', "Name another file.")
    named = {
        "measurements": _names("measurement", measurements),
        "procedures": _names("procedure", procedures),
        "supplies": _names("supply", supplies, "supplies"),
        "locations": locations,
    }
    book = _book({**_fixed(), **named})
    try:
        with beside(file) as aside:
            book.save(aside)
            put_in_place(aside, file)
    except OSError as error:
        raise cannot_write(file, error) from None


def _names(column: str, given: Sequence[str] | None, file: str = "") -> Sequence[str]:
    return given if given is not None else [row[column] for row in reference_rows(file or f"{column}s")]


def _fixed() -> dict[str, Sequence[str]]:
    """Return the lists that are the same for every book."""
    kinds = dict.fromkeys(row["kind"] for row in reference_rows("supplies"))
    return {
        "kinds": ("drive", "mechanism", "supply unit", "PC supply", "computer", "test gear"),
        "drive types": DRIVE_TYPES,
        "standings": STANDINGS,
        "stages": STAGES,
        "grades": GRADES,
        "kinds of supply": tuple(kinds),
    }


def _book(lists: dict[str, Sequence[str]]) -> Any:
    """Return the workbook: a sheet per subject, and one that is not shown with the words to choose from."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    sheets = {name: book.create_sheet(name) for name in SHEETS}
    areas = _write_lists(book.create_sheet("choices"), lists)
    for name, headings in SHEETS.items():
        _write_sheet(sheets[name], headings, areas)
    return book


def _write_lists(sheet: Any, lists: dict[str, Sequence[str]]) -> dict[str, str]:
    """Write each list into a column below the line by which the import knows the sheet; return where each stands."""
    from openpyxl.utils import get_column_letter

    sheet.sheet_state = "veryHidden"
    _text(sheet, 1, 1, CHOICES)
    areas: dict[str, str] = {}
    for column, (name, words) in enumerate(lists.items(), 1):
        for row, word in enumerate(words, 2):
            _text(sheet, row, column, word).number_format = "@"
        if words:
            letter = get_column_letter(column)
            areas[name] = f"'choices'!${letter}$2:${letter}${len(words) + 1}"
    return areas


def _write_sheet(sheet: Any, headings: Sequence[Heading], areas: dict[str, str]) -> None:
    """Write the heading and the example; give the columns their widths, formats and lists."""
    from openpyxl.styles import Font, PatternFill
    from openpyxl.utils import get_column_letter

    for column, heading in enumerate(headings, 1):
        letter = get_column_letter(column)
        sheet.column_dimensions[letter].width = heading.width
        if heading.as_typed:
            sheet.column_dimensions[letter].number_format = "@"
        top = _text(sheet, 1, column, heading.name)
        top.font, top.fill = Font(bold=True), PatternFill("solid", fgColor=_HEADING_FILL)
        example = _text(sheet, 2, column, heading.example)
        example.font, example.number_format = Font(italic=True, color=_INK), "@"
        if heading.choices in areas:
            _offer(sheet, f"{letter}2:{letter}{_LAST_ROW}", areas[heading.choices], heading)
    sheet.freeze_panes = "B2"


def _offer(sheet: Any, cells: str, area: str, heading: Heading) -> None:
    """Offer a list in cells: other words bring a warning where it is closed, and are taken as they are elsewhere."""
    from openpyxl.worksheet.datavalidation import DataValidation

    offer = DataValidation(type="list", formula1=area, allow_blank=True, errorStyle="warning")
    offer.showErrorMessage = heading.closed
    offer.errorTitle, offer.error = heading.name, f"This is none of the words for {heading.name}. Keep it all the same?"
    offer.add(cells)
    sheet.add_data_validation(offer)


def _text(sheet: Any, row: int, column: int, text: str) -> Any:
    """Return a cell that holds a text and never a formula."""
    cell = sheet.cell(row, column)
    if text:
        cell.value, cell.data_type = sheet_text(text), "s"
    return cell
