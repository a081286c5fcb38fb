"""Workbooks for tests: cells typed in, and an independent look at whether a book has all of them."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any, NamedTuple

from openpyxl import Workbook, load_workbook

from collection.exchange.no_formula import unguarded
from tests.support.cli import Ran, run_cli


class Told(NamedTuple):
    """A finding as a test names it: kind, sheet, row, column and the cell's value."""

    kind: str
    sheet: str | None
    row: int | None
    column: str | None
    value: str | None


def saved(path: Path, **sheets: Sequence[Sequence[Any]]) -> Path:
    """Write a workbook of these sheets, rows from row 1 on; texts stay texts, a leading "=" too."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for number, row in enumerate(rows, 1):
            for place, value in enumerate(row, 1):
                cell = sheet.cell(number, place, value)
                if isinstance(value, str):
                    cell.data_type = "s"
    book.save(path)
    return path


def brought(book: Path, file: Path, *options: str) -> Ran:
    """Run import in this process."""
    return run_cli(["import", str(file), *options], db=book)


def told(ran: Ran) -> list[dict[str, Any]]:
    """Return the rows of a run with --json."""
    rows: list[dict[str, Any]] = json.loads(ran.out)["rows"]
    return rows


def named(rows: Sequence[Mapping[str, Any]], *kinds: str) -> set[Told]:
    """Return the findings of some kinds by where they stand."""
    return {Told(*(row[key] for key in Told._fields)) for row in rows if row["kind"] in kinds}


def lost(
    workbook: Path,
    book: Path,
    rows: Sequence[Mapping[str, Any]],
    screen: str,
    folder: Path,
    read_as: Mapping[str, str] | None = None,
) -> list[str]:
    """Return the cells of a workbook whose text is in no cell of the book's export and named by no finding.

    read_as: by cell text, what the book must have instead where a person's form was read. Headings are what the
    screen shows as columns. The workbook is read by openpyxl, the book through its export.
    """
    assert run_cli(["export", "folder", str(folder)], db=book).code == 0
    kept = _exported(folder)
    findings = {str(row["value"]) for row in rows if row["value"]}
    headings = set(re.findall(r"^[A-Z] (\S.*?)  +", screen, re.MULTILINE))
    return [
        f"{sheet.title}!{cell.coordinate} {cell.value}"
        for sheet in load_workbook(workbook).worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None and not _is_kept(cell.value, kept, findings | headings, read_as or {})
    ]


def _exported(folder: Path) -> set[str]:
    """Return every cell of an export, and the lines and labelled values of its notes."""
    kept: set[str] = set()
    for file in folder.glob("*.csv"):
        with file.open(encoding="utf-8-sig", newline="") as stream:
            for row in csv.DictReader(stream):
                for column, text in ((name, unguarded(cell)) for name, cell in row.items()):
                    if column != "key":
                        kept |= {text, *text.splitlines(), *(line.partition(": ")[2] for line in text.splitlines())}
    return kept | {_number(text) for text in kept}


def _is_kept(value: Any, kept: set[str], told: set[str], read_as: Mapping[str, str]) -> bool:
    if isinstance(value, datetime | date):
        return value.strftime("%Y-%m-%d") in kept
    if isinstance(value, int | float):
        return _number(str(value)) in kept
    return value in kept or value in told or read_as.get(value, "\0") in kept


def _number(text: str) -> str:
    """Return a number's text in one form; other text as it is."""
    try:
        return f"{float(text):g}" if re.fullmatch(r"-?\d+(\.\d+)?", text) else text
    except ValueError:
        return text
