"""A diary of the bench: first what is there, then one row for each evening, in the words of the moment."""

from __future__ import annotations

from datetime import date
from typing import Any

from openpyxl import Workbook


def build() -> Workbook:
    """Return the workbook."""
    book = Workbook()
    _drives(book.active)
    _diary(book.create_sheet("evenings"))
    return book


def _drives(sheet: Any) -> None:
    sheet.title = "what I have"
    sheet["A1"] = "drive no"
    sheet["B1"] = "make"
    sheet["C1"] = "model"
    sheet["D1"] = "s/n"
    sheet["E1"] = "got it"
    sheet["A2"] = "D1"
    sheet["B2"] = "Velkari"
    sheet["C2"] = "VK 2"
    sheet["D2"] = "2-0091"
    sheet["E2"] = date(2018, 6, 1)
    sheet["A3"] = "D2"
    sheet["B3"] = "Velkari"
    sheet["C3"] = "VK 2"
    sheet["D3"] = "2-0107"
    sheet["E3"] = "spring 2020"
    sheet["A4"] = "D3"
    sheet["B4"] = "Tannwald"
    sheet["C4"] = "T 525"
    sheet["D4"] = "9931"
    sheet["E4"] = "2021"


def _diary(sheet: Any) -> None:
    sheet["A1"] = "Bench diary, newest at the bottom"
    sheet["A3"] = "date"
    sheet["B3"] = "drive"
    sheet["C3"] = "rpm before"
    sheet["D3"] = "rpm after"
    sheet["E3"] = "what I did"
    sheet["F3"] = "used"
    sheet["G3"] = "time"
    sheet["H3"] = "found"
    sheet["A4"] = date(2025, 1, 11)
    sheet["B4"] = "D1"
    sheet["C4"] = 297.8
    sheet["D4"] = 300.2
    sheet["E4"] = "cleaned head, greased rails"
    sheet["F4"] = "5 ml alcohol, 3 swabs"
    sheet["G4"] = "40 min"
    sheet["H4"] = "rails were dry"
    sheet["A5"] = date(2025, 1, 11)
    sheet["B5"] = "D2"
    sheet["C5"] = "301,4 rpm"
    sheet["D5"] = "299.9"
    sheet["E5"] = "cleaned head"
    sheet["F5"] = "2 swabs and some alcohol"
    sheet["G5"] = "1h10"
    sheet["A6"] = "2 Feb 2025"
    sheet["B6"] = "D3"
    sheet["C6"] = "too noisy to say"
    sheet["E6"] = "swapped the eject spring"
    sheet["F6"] = "one spring from the jar"
    sheet["G6"] = 25
    sheet["H6"] = "spring had snapped"
    sheet["A7"] = "15.03.2025"
    sheet["B7"] = "D1"
    sheet["C7"] = "300.0"
    sheet["D7"] = "300.0"
    sheet["E7"] = "checked speed"
    sheet["G7"] = "an evening"
