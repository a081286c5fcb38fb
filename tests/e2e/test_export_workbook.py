"""The demo's book as a workbook: what another program makes of it, and what the command says."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from collection.exchange.book_columns import AS_EXPORTED, ROW_KEY, SHOWN, sheets
from collection.exchange.workbook_read import read_workbook
from tests.support.cli import run_cli
from tests.support.paper import opened_by_office


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of the demo's book with its workbook."""
    folder = tmp_path_factory.mktemp("demo")
    assert run_cli(["demo"], db=folder / "book.sqlite3").code == 0
    ran = run_cli(["export", "workbook", str(folder / "demo.xlsx")], db=folder / "book.sqlite3")
    assert ran.code == 0, ran.err
    assert "spindlebook import" in ran.out
    assert "names and addresses" in ran.err
    return folder


def said(file: Path) -> dict[str, list[dict[str, str]]]:
    """Return what each row of each sheet says, by heading and in one spelling."""
    found = {}
    for sheet in read_workbook(file).sheets:
        if (form := sheets().get(sheet.name)) is None:
            continue
        (_, heading), *rows = sheet.rows
        by_heading = {column.heading: column for column in form.columns if column.kind != SHOWN}
        names = [cell.text for cell in heading]
        found[sheet.name] = [
            {
                name: by_heading[name].said(cell.text)
                for name, cell in zip(names, cells, strict=False)
                if name in by_heading
            }
            for _, cells in rows
        ]
    return found


def test_an_office_program_opens_and_saves_it_without_a_loss(demo: Path) -> None:
    """LibreOffice sees what the book says in every sheet, and what it saves has nothing to bring in."""
    (saved,) = opened_by_office([demo / "demo.xlsx"], "xlsx", demo / "saved")

    before, after = said(demo / "demo.xlsx"), said(saved)
    for name, rows in before.items():
        full = [{key: text for key, text in row.items() if text} for row in rows]
        assert full == [{key: text for key, text in row.items() if text} for row in after[name]], name
    ran = run_cli(["import", str(saved)], db=demo / "book.sqlite3")
    assert (0, True) == (ran.code, "nothing to do" in ran.out), ran.out + ran.err


def test_pandas_reads_days_and_numbers_without_being_told(demo: Path) -> None:
    """Two lines of Python make columns of their kinds of it."""
    lots = pd.read_excel(demo / "demo.xlsx", sheet_name="lots", engine="openpyxl")
    readings = pd.read_excel(demo / "demo.xlsx", sheet_name="readings", engine="openpyxl")

    assert ("datetime64", "M") == (str(lots["received on"].dtype)[:10], lots["received on"].dtype.kind)
    assert {"f"} == {lots[name].dtype.kind for name in ("price",)}
    assert {"i", "f"} >= {lots["quantity"].dtype.kind}
    assert {ROW_KEY, AS_EXPORTED} <= set(readings.columns)
    assert readings.loc[readings["in"] == "r/min", "value"].astype(float).between(200, 400).any()


def test_the_command_says_what_it_does_not_know(demo: Path) -> None:
    """A sheet that is none, and a file that is there, are refused with what to type; nothing is written."""
    book = demo / "book.sqlite3"
    unknown = run_cli(["export", "workbook", str(demo / "x.xlsx"), "--only", "unit"], db=book)
    there = run_cli(["export", "workbook", str(demo / "demo.xlsx")], db=book)

    assert (1, 'There is no sheet "unit".') == (unknown.code, unknown.err.splitlines()[0])
    assert "units" in unknown.err
    assert (1, True) == (there.code, "--replace" in there.err)
    assert not (demo / "x.xlsx").exists()
