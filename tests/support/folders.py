"""Folders of CSV files in a few lines of text, and what bringing them in comes to."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sqlalchemy.engine import Engine

from collection.acts.bring_in.plan import Plan, plan_import
from collection.acts.bring_in.sheet import Finding
from collection.acts.bring_in.state import Options
from collection.acts.bring_in.tables import Table
from collection.acts.bring_in.write import bring_in
from collection.store.engine import fetch, reading
from tests.support.times import NOW, TODAY

# A unit with what it stands on; tests add to it.
SMALL = {
    "models": "model,maker,kind,drive_type,nominal_speed\nVK 1,Velkari,drive,belt,300\n",
    "units": "tag,model,maker\nD1,VK 1,Velkari\nD2,VK 1,Velkari\n",
    "instruments": "instrument,measurement\ncounter,spindle speed\nmeter,rail voltage\nloupe,head condition\n",
}


def tables(files: Mapping[str, str]) -> list[Table]:
    """Return the tables that texts of CSV make; names without their ending."""
    made = []
    for name, text in files.items():
        heading, *rows = csv.reader(io.StringIO(text, newline=""))
        made.append(Table.of(f"{name}.csv", heading, rows))
    return made


def plan(engine: Engine, files: Mapping[str, str], options: Options | None = None) -> Plan:
    """Compare a folder with the book."""
    with reading(engine) as conn:
        return plan_import(conn, tables(files), today=TODAY, options=options)


def bring(engine: Engine, files: Mapping[str, str], options: Options | None = None) -> Plan:
    """Bring a folder in, which must refuse nothing, and return what it did."""
    made = plan(engine, files, options)
    assert made.writable, refusals(made)
    if not made.changes_nothing:
        bring_in(engine, made, today=TODAY, now=NOW, where="folder")
    return made


def findings(made: Plan, kind: str) -> list[Finding]:
    """Return the findings of one kind."""
    return [finding for finding in made.rows() if finding.kind == kind]


def refusals(made: Plan) -> list[tuple[str | None, int | None, str | None, str | None]]:
    """Return file, row, column and rule of everything refused."""
    return [(each.file, each.row, each.column, each.rule) for each in findings(made, "refused")]


def rows(engine: Engine, sql: str, **given: Any) -> list[tuple[Any, ...]]:
    """Return rows of the book."""
    with reading(engine) as conn:
        return fetch(conn, sql, **given)


def write_files(folder: Path, files: Mapping[str, str]) -> Path:
    """Write texts of CSV as a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8", newline="")
    return folder
