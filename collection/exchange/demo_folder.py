"""The invented club in the form of a folder of CSV files, with every day counted from a given today."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path

from collection.acts.bring_in.tables import Table
from collection.analysis.fleet import Tables, Truth, history
from collection.analysis.fleet_dice import days_from_today
from collection.store.seed import reference_rows
from collection.store.shipped import shipped

DEMO_NAME = "Quillmarsh Drive Circle (an invented club)"

_ONLY_FOR_THE_GENERATOR = ("roles.csv", "visits.csv")
_DAY = re.compile(r"today(?:[+-][0-9]+)?(?:/(month|quarter|year))?", re.ASCII)


def demo_tables(today: date) -> tuple[Tables, Truth]:
    """Return the demo's rows by file name, in the columns of the CSV folder, and the truth behind them.

    The same day gives the same rows; another day moves the days in them and nothing else.
    """
    written = _demo_files()
    made, truth = history(generator_tables())
    tables = {name: rows for name, rows in written.items() if name not in _ONLY_FOR_THE_GENERATOR}
    for name, rows in made.items():
        tables[name] = rows if name in ("lots.csv", "uses.csv") else [*rows, *_joined(written, name, made)]
    return {name: [_dated(row, today) for row in rows] for name, rows in sorted(tables.items())}, truth


def demo_import(today: date) -> list[Table]:
    """Return the demo's rows as a reader of its folder would hand them over."""
    tables, _truth = demo_tables(today)
    return [Table.of(name, list(rows[0]), [list(row.values()) for row in rows]) for name, rows in tables.items()]


def generator_tables() -> Tables:
    """Return what the generator is given: the demo's tables, with the reference data that they rest on.

    Supplies and amounts are those of both, procedures those of the reference data; days count from today.
    """
    demo = _demo_files()
    for name in ("supplies", "amounts"):
        demo[f"{name}.csv"] = reference_rows(name) + demo[f"{name}.csv"]
    return {**demo, "procedures.csv": reference_rows("procedures")}


def _demo_files() -> Tables:
    """Return the shipped tables of the demo, their days still counted from today."""
    return {path.name: _rows(path) for path in sorted(shipped("seed_data", "demo").glob("*.csv"))}


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, strict=True))


def _joined(written: Tables, name: str, made: Tables) -> list[dict[str, str]]:
    """Return the written rows of a file that is made as well, in its columns, each tied to its service."""
    services = {(row["tag"], row["opened_on"]): row["service"] for row in made["services.csv"]}
    columns = list(made[name][0])
    rows = []
    for row in written.get(name, []):
        joined = {column: row.get(column, "") for column in columns}
        if name == "readings.csv":
            joined["service"] = services[row["tag"], row["taken_on"]]
        rows.append(joined)
    return rows


def _dated(row: Mapping[str, str], today: date) -> dict[str, str]:
    return {column: _day(text, today) for column, text in row.items()}


def _day(text: str, today: date) -> str:
    """Return "today-420" as a day, with /month as 2023-05, with /quarter as 2/23; any other text as it is."""
    match = _DAY.fullmatch(text)
    if match is None:
        return text
    day = today + timedelta(days=days_from_today(text))
    quarter = f"{(day.month + 2) // 3}/{day.year % 100:02}"
    forms = {"month": day.isoformat()[:7], "year": day.isoformat()[:4], "quarter": quarter}
    return forms.get(match[1], day.isoformat())
