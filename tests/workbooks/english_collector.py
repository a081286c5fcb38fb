"""A tidy person's list: one sheet, real dates, one heading row, everything in its column."""

from __future__ import annotations

from datetime import date
from typing import Any

from openpyxl import Workbook


def build() -> Workbook:
    """Return the workbook."""
    book = Workbook()
    sheet: Any = book.active
    sheet.title = "Drives"
    sheet["A1"] = "Tag"
    sheet["B1"] = "Maker"
    sheet["C1"] = "Model"
    sheet["D1"] = "Serial no."
    sheet["E1"] = "Bought"
    sheet["F1"] = "From"
    sheet["G1"] = "Price paid"
    sheet["H1"] = "Where"
    sheet["I1"] = "Status"
    sheet["J1"] = "Last serviced"
    sheet["K1"] = "rpm before"
    sheet["L1"] = "rpm after"
    sheet["M1"] = "Notes"
    _two_of_one_maker(sheet)
    _two_of_another(sheet)
    return book


def _two_of_one_maker(sheet: Any) -> None:
    sheet["A2"] = "T-01"
    sheet["B2"] = "Velkari"
    sheet["C2"] = "VK 1"
    sheet["D2"] = "004711"
    sheet["E2"] = date(2019, 4, 6)
    sheet["F2"] = "Oda Brenn"
    sheet["G2"] = 35
    sheet["H2"] = "shelf A"
    sheet["I2"] = "ready"
    sheet["J2"] = date(2024, 11, 2)
    sheet["K2"] = 298.4
    sheet["L2"] = 300.1
    sheet["M2"] = "the first one I had"
    sheet["A3"] = "T-02"
    sheet["B3"] = "Velkari"
    sheet["C3"] = "VK 1"
    sheet["D3"] = "004712"
    sheet["E3"] = date(2020, 9, 19)
    sheet["F3"] = "Oda Brenn"
    sheet["G3"] = 27.5
    sheet["H3"] = "shelf A"
    sheet["I3"] = "in use"
    sheet["J3"] = date(2025, 1, 18)
    sheet["K3"] = 301.9
    sheet["L3"] = 300.0


def _two_of_another(sheet: Any) -> None:
    sheet["A4"] = "T-03"
    sheet["B4"] = "Brakmoor"
    sheet["C4"] = "B 40"
    sheet["D4"] = "40-3317"
    sheet["E4"] = date(2021, 5, 12)
    sheet["F4"] = "flea market Harn"
    sheet["G4"] = 12
    sheet["H4"] = "shelf B"
    sheet["I4"] = "awaiting parts"
    sheet["M4"] = "belt turned to tar, box is missing"
    sheet["A5"] = "T-04"
    sheet["B5"] = "Brakmoor"
    sheet["C5"] = "B 40"
    sheet["D5"] = "40-2980"
    sheet["E5"] = date(2022, 2, 26)
    sheet["G5"] = 0
    sheet["H5"] = "shelf B"
    sheet["I5"] = "donor"
