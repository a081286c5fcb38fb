"""A club's ledger in German: title lines, days with points, prices with a dash, a row of sums at the end."""

from __future__ import annotations

from typing import Any

from openpyxl import Workbook


def build() -> Workbook:
    """Return the workbook."""
    book = Workbook()
    sheet: Any = book.active
    sheet.title = "Bestand 2025"
    sheet["A1"] = "Laufwerksverein Oberhain e.V."
    sheet.merge_cells("A1:I1")
    sheet["A2"] = "Bestandsliste, Stand Dezember"
    sheet["A4"] = "Inventarnr"
    sheet["B4"] = "Hersteller"
    sheet["C4"] = "Modell"
    sheet["D4"] = "Seriennr."
    sheet["E4"] = "gekauft am"
    sheet["F4"] = "Kaufpreis"
    sheet["G4"] = "Standort"
    sheet["H4"] = "Zustand"
    sheet["I4"] = "Bemerkungen"
    _cupboard(sheet)
    _cellar(sheet)
    sheet["A10"] = "Summe"
    sheet["F10"] = "1.353,50"
    return book


def _cupboard(sheet: Any) -> None:
    sheet["A5"] = "L7"
    sheet["B5"] = "Quendt"
    sheet["C5"] = "Q 80"
    sheet["D5"] = "00815"
    sheet["E5"] = "12.05.2021"
    sheet["F5"] = "35,-"
    sheet["G5"] = "Schrank 1"
    sheet["H5"] = "geht"
    sheet["A6"] = "L8"
    sheet["B6"] = "Quendt"
    sheet["C6"] = "Q 80"
    sheet["D6"] = "00816"
    sheet["E6"] = "03.11.19"
    sheet["F6"] = "28,50"
    sheet["G6"] = "Schrank 1"
    sheet["H6"] = "defekt"
    sheet["I6"] = "Riemen fehlt"


def _cellar(sheet: Any) -> None:
    sheet["A7"] = "L9"
    sheet["B7"] = "Marlen & Tau"
    sheet["C7"] = "MT 3"
    sheet["D7"] = "unbekannt"
    sheet["E7"] = "März 2022"
    sheet["F7"] = "geschenkt"
    sheet["G7"] = "Keller"
    sheet["H7"] = "ungetestet"
    sheet["I7"] = "von Familie Dorn"
    sheet["A8"] = "L10"
    sheet["B8"] = "Marlen & Tau"
    sheet["C8"] = "MT 3"
    sheet["D8"] = "MT3-118"
    sheet["E8"] = "2022"
    sheet["F8"] = "ca. 40 €"
    sheet["G8"] = "Keller"
    sheet["H8"] = "rattert etwas"
    sheet["A9"] = "L11"
    sheet["B9"] = "Quendt"
    sheet["C9"] = "Q 40"
    sheet["D9"] = "77120"
    sheet["E9"] = "01.02.2023"
    sheet["F9"] = "1.250,00"
    sheet["G9"] = "Vitrine"
    sheet["H9"] = "läuft"
    sheet["I9"] = "Leihgabe möglich"
