"""The rows of an exported workbook's sheets: those of the CSV form, with their versions and what is shown beside."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.folder.form import FORMS
from collection.views.folder.rows import folder_rows
from collection.views.folder.select import Row
from collection.views.unit_list import Wanted, unit_filter
from collection.views.units import open_loans, unit_list

# Whose version a row has. Rows of the other files are only ever added.
_VERSIONED = {
    "measurements.csv": "measurement",
    "models.csv": "model",
    "locations.csv": "location",
    "people.csv": "person",
    "units.csv": "unit",
    "pairings.csv": "pairing",
    "instruments.csv": "instrument_use",
    "limits.csv": "limit_range",
    "supplies.csv": "supply",
    "procedures.csv": "procedure",
    "amounts.csv": "amount",
    "suppliers.csv": "supplier",
    "offers.csv": "offer",
    "lots.csv": "lot",
    "services.csv": "service",
    "parts.csv": "fitted_part",
    "faults.csv": "fault",
    "policies.csv": "policy",
    "loans.csv": "loan_item",
}
_IN_SUPPLY = ("lots.csv", "uses.csv", "counts.csv", "offers.csv", "amounts.csv")
_IN_MEASUREMENT = ("readings.csv", "instruments.csv", "limits.csv")
_BY_UNIT = (
    *("entries.csv", "parts.csv", "services.csv", "readings.csv", "faults.csv", "hours.csv"),
    *("valuations.csv", "loans.csv"),
)
ABOUT_UNITS = ("units.csv", "models.csv", "pairings.csv", "uses.csv", *_BY_UNIT)
# Who is in the book is not among them: a list of names would go with every workbook.
_NAMED = {
    "models": "model",
    "locations": "location",
    "measurements": "measurement",
    "instruments": "instrument",
    "supplies": "supply",
    "suppliers": "supplier",
    "procedures": "procedure",
}


class SheetRow(NamedTuple):
    """A row of a sheet.

    id: of its record. key: its UUID. version: None where rows are only added. cells: the texts of the CSV form, in its
    order. shown: what stands beside and belongs to no file: what a number is measured in, of a unit on loan until when.
    """

    id: int
    key: str
    version: int | None
    cells: Row
    shown: str


def sheet_rows(conn: Connection, file: str, day: date, units: frozenset[int] | None = None) -> Iterator[SheetRow]:
    """Yield what the book holds for the sheet of a file, in the order it was entered.

    day: of which owner, location and standing of a unit are told. units: the ids of those that rows must be about;
    only for ABOUT_UNITS.
    """
    versions = _versions(conn, file)
    shown = _shown(conn, file, day)
    passes = _passes(conn, file, units) if units is not None else None
    by_statement = sorted(units) if units is not None and file in _BY_UNIT else None
    for row in folder_rows(conn, file, day, by_statement):
        record, key, *cells = row
        if passes is None or passes(record, cells):
            yield SheetRow(record, key, versions.get(record, 1) if versions is not None else None, cells, shown(row))


def wanted_units(conn: Connection, day: date, wanted: Wanted) -> frozenset[int]:
    """Return the ids of the wanted units as of a day. Raises Refused for a name that nothing has."""
    units = unit_list(conn, day)
    return frozenset(unit.id for unit in filter(unit_filter(conn, wanted, units), units))


def _versions(conn: Connection, file: str) -> Mapping[int, int] | None:
    """Return the versions of changed rows, all others have 1; None where rows have none."""
    table = _VERSIONED.get(file)
    if table is None:
        return None
    return {row[0]: row[1] for row in fetch(conn, f"SELECT id, version FROM {table} WHERE void = 0 AND version > 1")}


def _shown(conn: Connection, file: str, day: date) -> Callable[[Row], str]:
    columns = ("id", "key", *FORMS[file].columns)
    if file == "units.csv":
        loans = open_loans(conn, day)
        return lambda row: loans[row[0]].due_on if row[0] in loans else ""
    if file in _IN_SUPPLY:
        table, of = "supply", columns.index("supply")
    elif file in _IN_MEASUREMENT:
        table, of = "measurement", columns.index("measurement")
    else:
        return lambda _row: ""
    usual = {row[0]: row[1] for row in fetch(conn, f"SELECT name, measured_in FROM {table} WHERE void = 0")}
    if "measured_in" in columns:
        own = columns.index("measured_in")
        return lambda row: row[own] or usual.get(row[of], "")
    return lambda row: usual.get(row[of], "")


def _passes(conn: Connection, file: str, units: frozenset[int]) -> Callable[[int, Row], bool]:
    """Return what lets pass the rows about the units, where the statement itself does not choose them."""
    if file == "units.csv":
        return lambda record, _cells: record in units
    of_unit = fetch(conn, "SELECT id, tag, model_id FROM unit WHERE void = 0")
    if file == "models.csv":
        models = {model for unit, _tag, model in of_unit if unit in units}
        return lambda record, _cells: record in models
    if file in _BY_UNIT:
        return lambda _record, _cells: True
    tags = {tag for unit, tag, _model in of_unit if unit in units}
    naming = ("drive", "supply_unit") if file == "pairings.csv" else ("tag",)
    places = [FORMS[file].columns.index(name) for name in naming]
    return lambda _record, cells: any(cells[place] in tags for place in places)


def names_offered(conn: Connection) -> dict[str, list[str]]:
    """Return the names of the book that a cell may be filled with, by what they name, in the order of the alphabet."""
    return {
        what: [
            row[0] for row in fetch(conn, f"SELECT DISTINCT name, name_folded FROM {table} WHERE void = 0 ORDER BY 2")
        ]
        for what, table in _NAMED.items()
    }
