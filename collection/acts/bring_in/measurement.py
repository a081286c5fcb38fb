"""Measurements, instruments and limits."""

from __future__ import annotations

from typing import Any

from collection.acts.bring_in.match import (
    IDENTITY,
    Field,
    Rule,
    add_fresh,
    fields_of,
    merge_records,
    named_rows,
    ref_of,
)
from collection.acts.bring_in.models import models
from collection.acts.bring_in.prepare import book_sheet, joint
from collection.acts.bring_in.sheet import CHANGED, NEW, SAME, Sheet
from collection.acts.bring_in.state import State
from collection.errors import fold
from collection.store.engine import fetch

_USED = "cannot change once it is used: enter another"
MEASUREMENT = Rule(
    "measurement",
    (
        Field("measurement", (("name", None), ("name_folded", fold))),
        *fields_of("measured_in", "ratio", "points", "source", "note"),
    ),
    frozenset({"measurement"}),
)
INSTRUMENT_USE = Rule(
    "instrument_use",
    fields_of(
        "instrument:instrument_id", "measurement:measurement_id", "from_date", "reference", "resolution", "uncertainty"
    ),
    frozenset({"instrument", "measurement", "from_date"}),
)
LIMIT = Rule(
    "limit_range",
    (
        *fields_of("tag:unit_id", "model:model_id", "class:class_name", "measurement:measurement_id"),
        Field("point", (("point", None),), default=""),
        *fields_of("nominal", "lower", "upper", "source", "from_date"),
    ),
    frozenset({"tag", "model", "class", "measurement", "point", "from_date"}),
)
_OF_INSTRUMENT = {"kind": "kind", "tag": "unit_id", "host": "host", "version": "made_version", "note": "note"}


def plan_measurements(state: State, sheet: Sheet) -> None:
    """Measurements by name; what they are measured in stays once there are readings."""
    stored = book_sheet(state, "measurements.csv")
    for each in (sheet, stored):
        each.values[IDENTITY] = [None if name is None else fold(name) for name in each.values["measurement"]]
    fresh = merge_records(state, sheet, stored, MEASUREMENT)
    add_fresh(state, sheet, fresh, MEASUREMENT)
    _keep_units(state, sheet, stored)
    names = state.names("measurement")
    for row, name in named_rows(sheet, "measurement"):
        if sheet.kinds[row] in (NEW, CHANGED) or names.find(name) is None:
            names.add(name, ref_of(state, sheet, row, "measurement"))
    told = state.shared
    told["measured_in"] = {sheet.refs[row]: sheet.values["measured_in"][row] for row in sheet.open_rows()}
    points = {sheet.refs[row]: sheet.values["points"][row] for row in sheet.open_rows()}
    told["points"] = {ref: several for ref, several in points.items() if several}


def _keep_units(state: State, sheet: Sheet, stored: Sheet) -> None:
    used = {row[0] for row in fetch(state.conn, "SELECT DISTINCT measurement_id FROM series")}
    for row, match in enumerate(sheet.match):
        if match is None or sheet.kinds[row] != CHANGED or stored.ids[match] not in used:
            continue
        if sheet.values["measured_in"][row] != stored.values["measured_in"][match]:
            sheet.refuse(row, "measured_in", f"was {stored.table.cell('measured_in', match)}; it {_USED}")


def plan_instruments(state: State, sheet: Sheet) -> None:
    """Instruments by name, and what each is used for; a later from_date starts a new period."""
    stored = book_sheet(state, "instruments.csv")
    refs = _instrument_refs(state, sheet)
    _agree(sheet)
    for each in (sheet, stored):
        each.values["named"] = each.values["instrument"]
        each.values["instrument"] = [refs.get(fold(name)) if name else None for name in each.values["named"]]
        each.values[IDENTITY] = list(
            zip(*(each.values[name] for name in ("instrument", "measurement", "from_date")), strict=True)
        )
    fresh = merge_records(state, sheet, stored, INSTRUMENT_USE)
    _write_instruments(state, sheet)
    add_fresh(state, sheet, fresh, INSTRUMENT_USE)


def _instrument_refs(state: State, sheet: Sheet) -> dict[str, int]:
    """Return the instrument of every folded name; a name the book has not becomes a new one."""
    names = state.names("instrument")
    for _row, name in named_rows(sheet, "instrument"):
        if names.find(name) is None:
            names.add(name, state.refs("instrument", 1)[0])
    return dict(names.items())


def _agree(sheet: Sheet) -> None:
    """Refuse rows that say different things of one instrument; what one row leaves empty another may say.

    Notes are no contradiction: the instrument's note is all of them, one a line.
    """
    said: dict[tuple[str, str], tuple[Any, int]] = {}
    for row in sheet.open_rows():
        for column in set(_OF_INSTRUMENT) - {"note"}:
            value = sheet.values[column][row]
            if value is None:
                continue
            first, where = said.setdefault((fold(sheet.values["instrument"][row]), column), (value, row))
            if first != value:
                told = f"row {sheet.table.rows[where]} says {sheet.table.cell(column, where)} of the same instrument"
                sheet.refuse(row, column, told)


def _write_instruments(state: State, sheet: Sheet) -> None:
    """Gather new instruments, and changes of those the book has."""
    rows_of: dict[int, list[int]] = {}
    for row in sheet.open_rows():
        rows_of.setdefault(sheet.values["instrument"][row], []).append(row)
    sql = "SELECT id, name, kind, unit_id, host, made_version, note FROM instrument WHERE void = 0"
    present = {row[0]: row for row in fetch(state.conn, sql)}
    new: list[tuple[Any, ...]] = []
    refs: list[int] = []
    for ref, rows in rows_of.items():
        said = [_said(sheet, rows, column) for column in _OF_INSTRUMENT]
        name = sheet.values["named"][rows[0]]
        if ref < 0:
            new.append((name, fold(name), *said))
            refs.append(ref)
            continue
        before = present[ref][2:]
        differing = {
            column: (value, old)
            for column, value, old in zip(_OF_INSTRUMENT, said, before, strict=True)
            if value is not None and value != old and not _within_note(column, value, old)
        }
        if differing:
            state.update("instrument", ref, {_OF_INSTRUMENT[column]: v for column, (v, _) in differing.items()})
            _tell_change(sheet, rows, differing)
    columns = ("name", "name_folded", *_OF_INSTRUMENT.values())
    cells = zip(*new, strict=True) if new else [()] * len(columns)
    state.add("instrument", {name: list(c) for name, c in zip(columns, cells, strict=True)}, refs)


def _said(sheet: Sheet, rows: list[int], column: str) -> Any:
    """Return what the rows of one instrument say of it."""
    said = dict.fromkeys(sheet.values[column][row] for row in rows if sheet.values[column][row] is not None)
    if column == "note":
        return "\n".join(said) or None
    return next(iter(said), None)


def _within_note(column: str, told: Any, present: Any) -> bool:
    """Say whether the instrument's note has every line of what is told: another row told the rest."""
    return column == "note" and set(str(told).split("\n")) <= set((present or "").split("\n"))


def _tell_change(sheet: Sheet, rows: list[int], differing: dict[str, tuple[Any, Any]]) -> None:
    for column, (_value, old) in differing.items():
        row = next(row for row in rows if sheet.values[column][row] is not None)
        if sheet.kinds[row] in (SAME, CHANGED):
            sheet.changed(row, [column], ["another" if isinstance(old, int) else old or ""])


def plan_limits(state: State, sheet: Sheet) -> None:
    """Limits by unit, model or class, with measurement, point and the day they count from."""
    stored, known = book_sheet(state, "limits.csv"), models(state)
    scope = ("tag", "model", "class", "measurement", "point", "from_date")
    for each in (sheet, stored):
        _one_scope(each)
        each.values["model"] = joint(each, ("model", "maker"), "model", known.need)
        columns = [each.values[name] for name in scope]
        each.values[IDENTITY] = [
            (unit, model, fold(class_ or ""), measurement, fold(point or ""), day)
            for unit, model, class_, measurement, point, day in zip(*columns, strict=True)
        ]
    for row in sheet.open_rows():
        lower, upper = sheet.values["lower"][row], sheet.values["upper"][row]
        if lower is not None and upper is not None and lower > upper:
            sheet.refuse(row, "upper", f"is below lower {sheet.table.cell('lower', row)}")
    fresh = merge_records(state, sheet, stored, LIMIT)
    add_fresh(state, sheet, fresh, LIMIT)
    names = (*scope[:5], "nominal", "from_date")
    told = state.shared.setdefault("limits", [])
    told += [tuple(sheet.values[name][row] for name in names) for row in sheet.open_rows()]


def _one_scope(sheet: Sheet) -> None:
    for row in sheet.open_rows():
        said = [name for name in ("tag", "model", "class") if sheet.values[name][row] is not None]
        if len(said) != 1:
            what = f"{' and '.join(said)} are filled" if said else "none of tag, model and class is filled"
            sheet.refuse(row, said[-1] if said else "tag", f"a limit is for one of them: {what}")
