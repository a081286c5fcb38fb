"""Everything on one sheet: drives above, the drawer beside them, a list of troubles below; gaps and a hidden row."""

from __future__ import annotations

from datetime import date
from typing import Any

from openpyxl import Workbook


def build() -> Workbook:
    """Return the workbook."""
    book = Workbook()
    sheet: Any = book.active
    sheet.title = "all my stuff"
    sheet["A1"] = "STUFF as of new year"
    sheet["B3"] = "what"
    sheet["C3"] = "made by"
    sheet["D3"] = "S/N"
    sheet["E3"] = "kept in"
    sheet["F3"] = "remarks"
    sheet["G3"] = "smell"
    sheet["B4"] = "PL 11"
    sheet["C4"] = "Pellworth"
    sheet["D4"] = "11-20045"
    sheet["E4"] = "loft"
    sheet["F4"] = "works after a knock"
    sheet["G4"] = "attic"
    sheet["B5"] = "PL 11"
    sheet["C5"] = "Pellworth"
    sheet["D5"] = "11-20046"
    sheet["E5"] = "loft"
    sheet["B7"] = "PL 12 s"
    sheet["C7"] = "Pellworth"
    sheet["D7"] = "12-1"
    sheet["E7"] = "desk"
    sheet["F7"] = "slow"
    sheet["B8"] = "PL 12 s"
    sheet["C8"] = "Pellworth"
    sheet["D8"] = "12-2"
    sheet["E8"] = "desk"
    sheet["G8"] = "burnt"
    sheet.row_dimensions[8].hidden = True
    _drawer(sheet)
    _troubles(sheet)
    letters = book.create_sheet("letters")
    letters["A1"] = "Dear Ilse, thank you for the manual."
    return book


def _drawer(sheet: Any) -> None:
    sheet["J3"] = "item"
    sheet["K3"] = "how much"
    sheet["L3"] = "best before"
    sheet["M3"] = "bought from"
    sheet["N3"] = "price"
    sheet["J4"] = "isopropyl alcohol 99 %"
    sheet["K4"] = "1 bottle 250 ml"
    sheet["L4"] = "12/2027"
    sheet["M4"] = "Fennel Row Supplies"
    sheet["N4"] = "9,50"
    sheet["J5"] = "foam swabs"
    sheet["K5"] = "2 bags of 25"
    sheet["M5"] = "Fennel Row Supplies"
    sheet["N5"] = 8.4
    sheet["J6"] = "belt PL 11"
    sheet["K6"] = 3
    sheet["J7"] = "white grease"
    sheet["K7"] = "half a tin"


def _troubles(sheet: Any) -> None:
    sheet["B12"] = "Troubles"
    sheet["B13"] = "S/N"
    sheet["C13"] = "symptom"
    sheet["D13"] = "noticed"
    sheet["E13"] = "cause"
    sheet["F13"] = "fixed"
    sheet["B14"] = "11-20045"
    sheet["C14"] = "squeals when cold"
    sheet["D14"] = date(2024, 12, 1)
    sheet["E14"] = "dry rail"
    sheet["F14"] = date(2024, 12, 8)
    sheet["B15"] = "12-1"
    sheet["C15"] = "motor never stops"
    sheet["D15"] = "Jan 2025"
