"""A list of what is lent out, with all that goes wrong in one: twice, unknown, impossible, and numbers as text."""

from __future__ import annotations

from datetime import date
from typing import Any

from openpyxl import Workbook


def build() -> Workbook:
    """Return the workbook."""
    book = Workbook()
    _shelf(book.active)
    _loans(book.create_sheet("lent"))
    return book


def _shelf(sheet: Any) -> None:
    sheet.title = "shelf"
    sheet["A1"] = "no."
    sheet["B1"] = "model"
    sheet["C1"] = "manufacturer"
    sheet["D1"] = "serial number"
    sheet["E1"] = "purchased"
    sheet["F1"] = "condition"
    sheet["A2"] = "X1"
    sheet["B2"] = "Kessel 9"
    sheet["C2"] = "Arnvik"
    sheet["D2"] = "00123"
    sheet["E2"] = date(2020, 1, 5)
    sheet["F2"] = "scratched lid"
    sheet["A3"] = "X2"
    sheet["B3"] = "Kessel 9"
    sheet["C3"] = "Arnvik"
    sheet["D3"] = "1E5"
    sheet["E3"] = "31.02.2021"
    sheet["F3"] = "good"
    sheet["A4"] = "X3"
    sheet["B4"] = "Kessel 9"
    sheet["C4"] = "Arnvik"
    sheet["D4"] = "+4711"
    sheet["E4"] = "2021-06"
    sheet["F4"] = "yellowed"
    sheet["A5"] = "X4"
    sheet["B5"] = "Kessel 9"
    sheet["C5"] = "Arnvik"
    sheet["D5"] = "=x"
    sheet["D5"].data_type = "s"
    sheet["E5"] = "2021-07"
    sheet["A6"] = "X5"
    sheet["B6"] = "Kessel 9"
    sheet["C6"] = "Arnvik"
    sheet["D6"] = "00123"
    sheet["E6"] = "2021-08"
    sheet["F6"] = "same label as X1?"


def _loans(sheet: Any) -> None:
    sheet["A1"] = "drive"
    sheet["B1"] = "lent to"
    sheet["C1"] = "lent on"
    sheet["D1"] = "due back"
    sheet["E1"] = "returned"
    sheet["F1"] = "condition out"
    sheet["G1"] = "remarks"
    sheet["A2"] = "X1"
    sheet["B2"] = "Ferun Aask"
    sheet["C2"] = date(2025, 3, 1)
    sheet["D2"] = date(2025, 4, 1)
    sheet["E2"] = date(2025, 3, 30)
    sheet["F2"] = "clean"
    sheet["A3"] = "X3"
    sheet["B3"] = "Mila Oest"
    sheet["C3"] = "1 Dec 2025"
    sheet["D3"] = "1 Apr 2026"
    sheet["G3"] = "wants to copy old disks"
    sheet["A4"] = "X99"
    sheet["B4"] = "Ferun Aask"
    sheet["C4"] = "2025-05-02"
    sheet["D4"] = "2025-06-02"
    sheet["E4"] = "2025-06-01"
    sheet["A5"] = "X4"
    sheet["B5"] = "Mila Oest"
    sheet["C5"] = "2025-08-01"
    sheet["D5"] = "2025-13-01"
