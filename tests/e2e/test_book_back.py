"""export workbook, an edit in a spreadsheet program, import: what a person changed comes back, and nothing else."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from collection.store.engine import open_engine
from tests.support.came_back import SHELF
from tests.support.cli import Ran, run_cli
from tests.support.folders import bring
from tests.support.office_script import edited_by_office


@pytest.fixture(scope="module")
def shelf(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a book with a small shelf, made once."""
    file = Path(shutil.copy(sqlite_template, tmp_path_factory.mktemp("shelf") / "book.sqlite3"))
    engine = open_engine(str(file))
    bring(engine, SHELF)
    engine.dispose()
    return file


@pytest.fixture
def book(shelf: Path, tmp_path: Path) -> Path:
    """Return a book with that shelf, a file of this test alone."""
    return Path(shutil.copy(shelf, tmp_path / "shelf.sqlite3"))


def _exported(book: Path, file: Path, *more: str) -> Path:
    ran = run_cli(["export", "workbook", str(file), *more], db=book)
    assert ran.code == 0, ran.err
    return file


def _edited(file: Path, edit: Callable[[Any], None]) -> Path:
    """Edit a workbook with openpyxl."""
    from openpyxl import load_workbook

    workbook = load_workbook(file)
    edit(workbook)
    workbook.save(file)
    return file


def _at(sheet: Any, row: int, heading: str) -> Any:
    """Return a cell by the heading of its column."""
    return sheet.cell(row, next(cell.column for cell in sheet[1] if cell.value == heading))


def _import(book: Path, file: Path, *more: str) -> Ran:
    return run_cli(["import", str(file), *more], db=book)


def _cells(ran: Ran, *kinds: str) -> set[tuple[Any, ...]]:
    """Return (record, heading, in the book, in the sheet) of findings told as JSON; without the column's letters."""
    found = (row for row in json.loads(ran.out)["rows"] if row["kind"] in kinds)
    return {(row["record"], (row["column"] or "").partition(" ")[2], row["old"], row["value"]) for row in found}


OFFICE = """
  units = doc.Sheets.getByName("units")
  CellOf(units, 2, "note").String = "by office"
  CellOf(units, 2, "acquired on").Formula = "2019-06-07"
  CellOf(units, 3, "price").Formula = "=20+7.5"
  CellOf(units, 3, "serial").String = "00123"
  units.Rows.insertByIndex(2, 1)
  CellOf(units, 3, "tag").String = "D3"
  CellOf(units, 3, "model").String = "VK 1"
  SortBy units, "tag"
  MoveFirst units, "note"
  units.Columns.getByIndex(5).IsVisible = False
  units.Rows.getByIndex(1).IsVisible = False
  readings = doc.Sheets.getByName("readings")
  SortBy readings, "value"
  CellOf(readings, 2, "note").String = "=1+1"
"""


def test_a_workbook_edited_by_libreoffice_comes_back_as_just_those_changes(book: Path, tmp_path: Path) -> None:
    """Sorted, a column moved, a row added, one hidden, a formula, a date and a serial typed: each cell and no other."""
    exported = _exported(book, tmp_path / "book.xlsx", "--only", "units", "--only", "readings")
    file = edited_by_office(exported, OFFICE, tmp_path)

    ran = _import(book, file, "--json", "--yes", "--reason", "tidied")

    assert _cells(ran, "changed") == {
        ("unit D1", "note", "first", "by office"),
        ("unit D1", "acquired on", "2019-05", "2019-06-07"),
        ("unit D2", "price", "30.00", "27.5"),
        ("unit D2", "serial", "70-2", "00123"),
        ("reading D1 head condition 2025-02-01", "note", "", "=1+1"),
    }
    assert _cells(ran, "new") == {("unit D3", "", None, None)}
    totals = json.loads(ran.out)["totals"]
    assert (ran.code, sum(totals.values()) - totals["same"]) == (0, 6)
    assert "nothing to do" in _import(book, file).out


def test_export_then_import_has_nothing_to_do(book: Path, tmp_path: Path) -> None:
    """All of the book, or the rows of one unit's owner: with no edit there is nothing to write."""
    whole = _import(book, _exported(book, tmp_path / "book.xlsx"))
    part = _import(book, _exported(book, tmp_path / "part.xlsx", "--owner", "Mirel Tosk"))

    assert [whole.out.splitlines()[-1][-15:], part.out.splitlines()[-1][-15:]] == [" nothing to do."] * 2
    assert (whole.code, whole.err, part.code, part.err) == (0, "", 0, "")


def test_the_changes_are_shown_before_they_are_written(book: Path, tmp_path: Path) -> None:
    """With row, column, old and new; a reason is asked for where the past is corrected; undo takes all of it back."""

    def edit(workbook: Any) -> None:
        _at(workbook["units"], 2, "note").value = "second"
        _at(workbook["readings"], 3, "value").value = 300.4

    file = _edited(_exported(book, tmp_path / "book.xlsx"), edit)
    shown, refused = _import(book, file), _import(book, file, "--yes")

    assert "row  record   column  in the book  in the sheet" in shown.out
    assert " note  first        second" in shown.out
    assert (shown.out.splitlines()[-1], shown.code) == ("Nothing was written.", 0)
    assert "  reading D1 spindle speed 2025-02-01 is corrected\n" in shown.err
    assert (refused.code, "needs a reason" in refused.err) == (1, True)
    written = _import(book, file, "--yes", "--reason", "misread")
    assert "Written: 2 changed. To take it back: spindlebook undo" in written.out
    assert run_cli(["verify"], db=book).code == 0
    assert run_cli(["undo"], db=book).code == 0
    assert _import(book, file, "--json").out == _import(book, file, "--json").out
    assert "changed 2" in _import(book, file).out


def test_a_conflict_leaves_with_its_own_code_and_either_side_may_stand(book: Path, tmp_path: Path) -> None:
    """The record moved on: exit code 4, unless it is said which counts."""
    file = _edited(_exported(book, tmp_path / "book.xlsx"), lambda w: _put(w, "units", 2, "note", "sheet"))
    assert run_cli(["unit", "edit", "D1", "--note", "book"], db=book).code == 0

    assert [_import(book, file, *more, "--yes").code for more in ([], ["--conflicts", "book"])] == [4, 0]
    assert "Written: 1 changed" in _import(book, file, "--conflicts", "sheet", "--yes").out


def _put(workbook: Any, sheet: str, row: int, heading: str, value: Any) -> None:
    _at(workbook[sheet], row, heading).value = value


def _merge(workbook: Any) -> None:
    workbook["units"].merge_cells("A2:D2")


def _rename(workbook: Any) -> None:
    _at(workbook["units"], 1, "note").value = "remarks"


def _drop_keys(workbook: Any) -> None:
    workbook["units"].delete_cols(_at(workbook["units"], 1, "row key").column)


def _copy_sheet(workbook: Any) -> None:
    workbook.copy_worksheet(workbook["units"])


ODD: list[tuple[Callable[[Any], None], str]] = [
    (lambda w: _put(w, "units", 2, "price", "=1+1"), "a formula whose result is not in the file"),
    (lambda w: _put(w, "units", 2, "serial", __import__("datetime").date(1994, 3, 1)), "made a day of what was typed"),
    (lambda w: _put(w, "units", 2, "price", "#REF!"), "an error of the spreadsheet program"),
    (_merge, "cells are merged here"),
    (_rename, 'the heading "remarks" is new, and "note" is not there any more'),
    (_drop_keys, "has lost its row of headings, or one of its hidden columns"),
    (_copy_sheet, "both hold units"),
    (lambda w: _put(w, "spindlebook", 2, "form", "2"), "was exported in form"),
]


def test_what_cannot_be_read_for_sure_is_refused_and_nothing_is_written(book: Path, tmp_path: Path) -> None:
    """Formulas without a value, cells a program turned into days or errors, merged cells, a lost heading or key."""
    for number, (edit, told) in enumerate(ODD[:-1]):
        file = _edited(_exported(book, tmp_path / f"odd-{number}.xlsx", "--only", "units"), edit)
        ran = _import(book, file, "--yes")
        assert (ran.code, told in ran.out + ran.err) == (1, True), (told, ran)


def test_what_a_person_adds_beside_is_left_alone(book: Path, tmp_path: Path) -> None:
    """A column and a sheet of their own, an emptied row, a deleted column, a renamed sheet, a sum with its currency."""

    def edit(workbook: Any) -> None:
        units = workbook["units"]
        workbook["locations"].cell(1, workbook["locations"].max_column + 1).value = "seen?"
        for cell in units[3]:
            cell.value = cell.value if cell.column in (2, 3) else None
        units.delete_cols(_at(units, 1, "marks").column)
        _at(units, 2, "price").value = 31.5
        _at(units, 2, "price").number_format = '0.00 "EUR"'
        units.title = "our drives"
        workbook.create_sheet("sums").append(["total", 3])

    exported = _exported(book, tmp_path / "book.xlsx", "--only", "units", "--only", "locations")
    ran = _import(book, _edited(exported, edit), "--json")

    assert _cells(ran, "changed") == {("unit D1", "price", "25.00", "31.50")}
    assert [row["row"] for row in json.loads(ran.out)["rows"] if row["kind"] == "left out"] == [3]
    for told in ('your own column "seen?"', 'no column "marks"', 'Sheet "sums" is not one of an export'):
        assert told in ran.err


def test_options_of_other_imports_are_refused(book: Path, tmp_path: Path) -> None:
    """A map of columns and a time before the book are nothing for a workbook of the book itself, nor the reverse."""
    file = _exported(book, tmp_path / "book.xlsx", "--only", "units")
    assert [_import(book, file, *more).code for more in (["--map", "m"], ["--spread", "3"])] == [2, 2]
    assert [_import(book, tmp_path, *more).code for more in (["--conflicts", "book"], ["--reason", "x"])] == [2, 2]
