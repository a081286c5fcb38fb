"""Read a person's own file, a workbook or one CSV file, into sheets of cells, and find the tables in them.

Encoding of a CSV file: a byte-order mark decides between UTF-8 and UTF-16; without one it is what the person declares,
else UTF-8. Separator: comma, semicolon or tab, whichever parts the lines most evenly. Quoting as in RFC 4180.
"""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from collection.errors import Refused
from collection.exchange.sheets_map import WORDS, TableMap, propose_table, with_units
from collection.exchange.sheets_tables import LeftOut, find_blocks
from collection.exchange.workbook_read import EMPTY, Cell, read_workbook
from collection.exchange.workbook_sheet import SheetRows

NO_TABLE = "no table is seen in this sheet"
NO_VALUE = "a formula whose result is not in the file; open and save it in the program that made it"
_SEPARATORS = (",", ";", "\t")
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
_NUMBER = re.compile(r"-?(0|[1-9][0-9]{0,14})(\.[0-9]+)?", re.ASCII)
_LOOKED_AT = 200
_LARGEST = 50_000_000
_LONGEST_CELL = 100_000


@dataclass
class Tables:
    """The tables of a file with what they seem to hold, what is in none of them, and what is to be said of sheets."""

    tables: list[TableMap] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    told: list[str] = field(default_factory=list)


def read_tables(path: Path, encoding: str | None = None) -> Tables:
    """Return the tables of a workbook (.xlsx) or a CSV file. Raises Refused for what cannot be read."""
    if not path.exists():
        raise Refused(f'"{path}" does not exist.', "Name your workbook (.xlsx), a CSV file, or a folder of CSV files.")
    sheets = (
        read_workbook(path).sheets
        if path.suffix.lower() not in (".csv", ".txt", ".tsv")
        else [read_csv(path, encoding)]
    )
    found = Tables()
    for sheet in sheets:
        blocks, left_out = find_blocks(sheet, WORDS)
        found.tables += map(propose_table, blocks)
        if not blocks and left_out:
            left_out = [each._replace(rule=NO_TABLE) for each in left_out]
            found.told.append(f"Sheet {sheet.name}: {NO_TABLE}.")
        for name in sheet.no_value:
            letters, digits = re.fullmatch(r"([A-Z]+)([0-9]+)", name).groups()  # type: ignore[union-attr]
            left_out.append(LeftOut(sheet.name, int(digits), letters, "", NO_VALUE))
        found.left_out += left_out
    found.tables = with_units(found.tables)
    if not found.tables:
        raise Refused(
            f'"{path.name}" has no table that can be recognised.',
            "Give its columns headings as tag, maker, model, serial no.; spindlebook import --template FILE has them.",
        )
    return found


def read_csv(path: Path, encoding: str | None) -> SheetRows:
    """Return a CSV file as a sheet of its name. Raises Refused where it is no text of its encoding."""
    if path.stat().st_size > _LARGEST:
        raise Refused(f'"{path.name}" has more than {_LARGEST:,} bytes.', "Split it into several files.")
    raw = path.read_bytes()
    used = next((name for mark, name in _MARKS if raw.startswith(mark)), encoding or "utf-8")
    try:
        text = raw.decode(used)
    except LookupError:
        raise Refused(f'Encoding "{used}" is not known.', "Type it as cp1252, latin-1 or utf-16-le.") from None
    except UnicodeError:
        hint = "Add --encoding cp1252, or whatever the program that wrote it uses."
        raise Refused(f'"{path.name}" is not {used} text.', hint) from None
    if "\0" in text:
        hint = "If it is UTF-16 without a mark, add --encoding utf-16-le."
        raise Refused(f'"{path.name}" has a NUL character, which no text has.', hint)
    lines = text.splitlines(keepends=True)
    csv.field_size_limit(_LONGEST_CELL)
    try:
        rows = list(csv.reader(lines, delimiter=_separator(lines[:_LOOKED_AT]), strict=True))
    except csv.Error as trouble:
        hint = "A quotation mark is missing or not doubled."
        raise Refused(f'"{path.name}" cannot be read: {trouble}.', hint) from None
    cells = [(number, tuple(map(_cell, row))) for number, row in enumerate(rows, 1) if any(map(str.strip, row))]
    return SheetRows(path.stem, cells)


def _separator(lines: list[str]) -> str:
    """Return the separator by which most lines have as many cells as others, of two or more."""

    def even(separator: str) -> tuple[int, int]:
        try:
            widths = Counter(len(row) for row in csv.reader(lines, delimiter=separator) if len(row) > 1)
        except csv.Error:
            return 0, 0
        width, rows = max(widths.items(), key=lambda one: (one[1], one[0]), default=(0, 0))
        return rows, width

    return max(_SEPARATORS, key=even)


def _cell(text: str) -> Cell:
    if not text.strip():
        return EMPTY
    return Cell(text, "number" if _NUMBER.fullmatch(text.strip()) else "text")
