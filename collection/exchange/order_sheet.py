"""Order sheets: what to send to a supplier, as text, as CSV and as a page to print; and a list to take to a shop."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from itertools import chain, count
from pathlib import Path
from typing import Any, NamedTuple

from collection.errors import Refused
from collection.exchange.new_file import cannot_write
from collection.exchange.no_formula import guarded
from collection.exchange.report_file import plain_name
from collection.exchange.report_page import render
from collection.store.place import beside, put_in_place

_HEADINGS = ("no.", "supply", "packs", "pack of", "price a pack", "sum")
_RIGHT = {"no.", "packs", "price a pack", "sum"}
_ASK = "Prices are those of our notes: please confirm them, the shipping, and the day on which it will arrive."
_BY_HAND = ("From", "Deliver to")  # no address stands in the book


class SheetLine(NamedTuple):
    """One supply on a sheet, all as shown; "" for what nobody knows. quantity: of a pack, else all of it."""

    supply: str
    packs: str
    quantity: str
    price: str
    cost: str
    note: str = ""


class OrderSheet(NamedTuple):
    """What a sheet says. to: the supplier, "" for a shopping list. sums: "shipping" and "total" as shown, or none."""

    to: str
    day: str
    book: str
    currency: str
    lines: tuple[SheetLine, ...]
    sums: tuple[tuple[str, str], ...]

    @property
    def title(self) -> str:
        """What stands above it."""
        return f"Order to {self.to}" if self.to else "Shopping list"


def order_sheets(rows: Sequence[Mapping[str, Any]], day: str, book: str) -> list[OrderSheet]:
    """Return the sheet of the next order to each supplier, and of what nobody offers.

    rows: as the reorder list has them; one with a `group` begins a parcel. What is ordered later of the same
    supplier gets its sheet when its day comes. day: as shown. book: name of the book, or "".
    """
    parcels: list[list[Mapping[str, Any]]] = []
    for row in rows:
        if row.get("group"):
            parcels.append([])
        parcels[-1].append(row)
    sheets: dict[tuple[str, str], OrderSheet] = {}
    for parcel in parcels:
        first = parcel[0]
        key = (first.get("supplier") or "", first.get("currency") or "")
        if first.get("sheet") and key not in sheets:
            sheets[key] = OrderSheet(key[0], day, book, key[1], tuple(map(_line, parcel)), tuple(_sums(first)))
    return list(sheets.values())


def _line(row: Mapping[str, Any]) -> SheetLine:
    wanted = ", ".join(row.get("wanted") or ())
    packs = "" if row.get("packs") is None else str(row["packs"])
    note = f"wanted for {wanted}" if wanted and not row.get("supplier") else ""
    return SheetLine(row["name"], packs, row.get("pack", ""), row.get("each", ""), row.get("goods", ""), note)


def _sums(first: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    if first.get("parcel_cost"):
        yield "shipping", first["parcel_shipping"]
        yield "total", first["parcel_cost"]


def write_sheets(
    folder: Path, sheets: Sequence[OrderSheet], report_dir: Path | None = None, *, paper: str = "A4"
) -> list[list[Path]]:
    """Write each sheet as .txt, .csv and .html into a folder, which is made; return the files. The rest: see as_page.

    Raises Refused, with nothing written, where a file of one of the names stands already, and for a folder that cannot
    be written.
    """
    made: list[dict[Path, str]] = []
    for name, sheet in zip(_names(sheets), sheets, strict=True):
        texts = {".txt": as_text(sheet), ".csv": as_csv(sheet), ".html": as_page(sheet, report_dir, paper=paper)}
        made.append({folder / f"{name}{ending}": text for ending, text in texts.items()})
    for file in (file for files in made for file in files):
        if file.exists():
            raise Refused(
                f'"{file}" is there already; nothing is overwritten.', "Name another folder, or move it away."
            )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for file, text in ((file, text) for files in made for file, text in files.items()):
            with beside(file) as aside:
                aside.write_bytes(text.encode("utf-8-sig" if file.suffix == ".csv" else "utf-8"))
                put_in_place(aside, file)
    except OSError as error:
        raise cannot_write(folder, error) from None
    return [list(files) for files in made]


def _names(sheets: Sequence[OrderSheet]) -> list[str]:
    """Return a name for the files of each sheet; a supplier whose name is made up of other letters gets a number."""
    names: list[str] = []
    for sheet in sheets:
        plain = plain_name(f"{sheet.title} {sheet.currency if sheet.to else ''} {sheet.day}")
        others = (f"{plain}-{number}" for number in count(2))
        names.append(next(name for name in chain((plain,), others) if name not in names))
    return names


def as_text(sheet: OrderSheet) -> str:
    """Return the sheet as a letter in plain text."""
    rows = [_headings(sheet), *(_cells(number, line) for number, line in enumerate(sheet.lines, 1))]
    keep = _filled(sheet)
    widths = {at: max(len(row[at]) for row in rows) for at in keep}
    body = ["  ".join(_pad(row[at], widths[at], _HEADINGS[at]) for at in keep).rstrip() for row in rows]
    notes = [f"{number}: {line.note}" for number, line in enumerate(sheet.lines, 1) if line.note]
    sums = [f"{what}: {amount} {sheet.currency}" for what, amount in sheet.sums]
    parts = [[sheet.title, *(f"{what}: {text}" for what, text in _head(sheet))], body, notes, sums]
    parts += [[_ASK], [f"{what}:" for what in _BY_HAND]] if sheet.to else []
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def as_csv(sheet: OrderSheet) -> str:
    """Return the lines of the sheet as a table for a spreadsheet, shipping as a line of its own."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([*_HEADINGS, "currency"])
    for number, line in enumerate(sheet.lines, 1):
        writer.writerow([*map(guarded, _cells(number, line)), sheet.currency if line.cost else ""])
    for what, amount in sheet.sums:
        writer.writerow(["", what, "", "", "", amount, sheet.currency])
    return text.getvalue()


def as_page(sheet: OrderSheet, report_dir: Path | None = None, *, paper: str = "A4") -> str:
    """Return the sheet as a page to print, complete in one file. report_dir, paper: see report_page.render."""
    keep = _filled(sheet)
    headings = _headings(sheet)
    in_money = {"price a pack", "sum"} if sheet.currency else set[str]()
    places = {
        "title": sheet.title,
        "to": sheet.to,
        "day": sheet.day,
        "book": sheet.book,
        "headings": [
            (f"{headings[at]}, {sheet.currency}" if headings[at] in in_money else headings[at], headings[at] in _RIGHT)
            for at in keep
        ],
        "lines": [
            {"cells": [_cells(number, line)[at] for at in keep], "note": line.note}
            for number, line in enumerate(sheet.lines, 1)
        ],
        "sums": sheet.sums,
        "ask": _ASK if sheet.to else "",
        "by_hand": _BY_HAND if sheet.to else (),
    }
    return render("order-sheet", places, report_dir, paper=paper)


def _headings(sheet: OrderSheet) -> list[str]:
    """Return the headings; where nobody offers packs the whole amount stands in their place."""
    return [name if sheet.to or name != "pack of" else "how much" for name in _HEADINGS]


def _filled(sheet: OrderSheet) -> list[int]:
    """Return the columns in which something stands, by their place."""
    rows = [_cells(number, line) for number, line in enumerate(sheet.lines, 1)]
    return [at for at in range(len(_HEADINGS)) if any(row[at] for row in rows)]


def _head(sheet: OrderSheet) -> Iterator[tuple[str, str]]:
    if sheet.to:
        yield "To", sheet.to
    yield "Date", sheet.day
    if sheet.book:
        yield "For", sheet.book


def _cells(number: int, line: SheetLine) -> Sequence[str]:
    return (str(number), line.supply, line.packs, line.quantity, line.price, line.cost)


def _pad(text: str, width: int, name: str) -> str:
    return text.rjust(width) if name in _RIGHT else text.ljust(width)
