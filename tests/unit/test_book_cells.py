"""How a text of the book becomes a cell of an exported workbook, and what a reader makes of the cell."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
from openpyxl import Workbook

from collection.exchange.book_cells import Pen
from collection.exchange.book_columns import AS_TYPED, DAY, MONEY, NUMBER, TEXT, WHOLE, SheetColumn
from collection.exchange.workbook_read import Cell, read_workbook
from tests.support.hostile_texts import HOSTILE_TEXTS

WIDTH = 20


def written(file: Path, kind: str, *texts: str) -> Path:
    """Return a workbook with a column of cells of one kind below a heading."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet("s")
    sheet.append(["text"])
    pen = Pen(sheet, SheetColumn("text", "text", kind, WIDTH, ""), WIDTH)
    for text in texts:
        sheet.append([pen.said(text).cell])
    book.save(file)
    return file


def cells(file: Path) -> list[Any]:
    """Return the cells below the heading, as openpyxl sees them."""
    return [row[0] for row in openpyxl.load_workbook(file)["s"].iter_rows(min_row=2)]


def read_back(file: Path) -> list[Cell]:
    """Return the cells below the heading, as the import sees them."""
    return [row[0] for _, row in read_workbook(file).sheets[0].rows[1:]]


@pytest.mark.parametrize("kind", [TEXT, AS_TYPED])
def test_hostile_texts_stay_texts_and_come_back_letter_by_letter(kind: str, tmp_path: Path) -> None:
    """No cell is a formula, a number or an error for openpyxl or pandas, and the import reads what the book says."""
    file = written(tmp_path / "hostile.xlsx", kind, *HOSTILE_TEXTS)

    assert {"s"} == {cell.data_type for cell in cells(file)}
    assert [*HOSTILE_TEXTS] == [cell.text for cell in read_back(file)]
    frame = pd.read_excel(file, engine="openpyxl", keep_default_na=False)
    assert {str} == set(map(type, frame["text"]))


def test_a_text_that_looks_like_a_formula_stays_one_when_it_is_edited(tmp_path: Path) -> None:
    """Its format or its quote keeps a program from taking it for a formula once a person has been in the cell."""
    long = "=" + "1+" * 200 + "1"

    short, longer, plain = cells(written(tmp_path / "a.xlsx", TEXT, "=1+1", long, "plain"))

    assert [("@", True), ("General", True), ("@", False)] == [
        (cell.number_format, cell.quotePrefix) for cell in (short, longer, plain)
    ]


def test_a_cell_is_what_the_book_means(tmp_path: Path) -> None:
    """Numbers of at most 15 digits and whole days from 1 March 1900 are such, all else is text; nothing is lost."""
    means = {
        (NUMBER, "300.0"): (300, "0.0"),
        (NUMBER, "-12.503"): (-12.503, "0.000"),
        (NUMBER, "123456789012345"): (123456789012345, "0"),
        (NUMBER, "1234567890123456"): ("1234567890123456", "@"),
        (NUMBER, "pass"): ("pass", "@"),
        (WHOLE, "24"): (24, "0"),
        (MONEY, "1250.00"): (1250, "#,##0.00"),
        (MONEY, "9"): (9, "#,##0"),
        (DAY, "2025-10-03"): (datetime(2025, 10, 3), "yyyy-mm-dd"),  # noqa: DTZ001  a cell has no time zone
        (DAY, "2025-10"): ("2025-10", "@"),
        (DAY, "2025"): ("2025", "@"),
        (DAY, "1900-03-01"): (datetime(1900, 3, 1), "yyyy-mm-dd"),  # noqa: DTZ001
        (DAY, "1900-02-28"): ("1900-02-28", "@"),
        (DAY, "someday"): ("someday", "@"),
    }
    for kind in (NUMBER, WHOLE, MONEY, DAY):
        texts = [text for of, text in means if of == kind]
        file = written(tmp_path / f"{kind}.xlsx", kind, *texts)
        column = SheetColumn("text", "text", kind, WIDTH, "")

        assert [means[kind, text] for text in texts] == [(cell.value, cell.number_format) for cell in cells(file)]
        assert list(map(column.said, texts)) == [column.said(cell.text) for cell in read_back(file)]


def test_one_cell_after_another_has_its_own_value(tmp_path: Path) -> None:
    """A cell object is used again for the next row: texts, empty cells and numbers do not leak into one another."""
    texts = ["5", "pass", "", "5.0", "5", "fail", ""]

    file = written(tmp_path / "a.xlsx", NUMBER, *texts, "end")

    assert [5, "pass", None, 5, 5, "fail", None, "end"] == [cell.value for cell in cells(file)]


def test_a_text_longer_than_old_programs_show_in_the_text_format_has_none(tmp_path: Path) -> None:
    """At 255 letters the format is "@", above it none."""
    short, longer = cells(written(tmp_path / "a.xlsx", TEXT, "x" * 255, "x" * 256))

    assert [("@", 255), ("General", 256)] == [(cell.number_format, len(cell.value)) for cell in (short, longer)]
