"""What is told of the time before the book: when work on units without any history was last done, or comes first."""

from __future__ import annotations

from typing import Any

from collection.acts.bring_in.sheet import Finding, Sheet
from collection.acts.bring_in.state import State
from collection.analysis.months import spread
from collection.analysis.procedures import parse_procedure
from collection.analysis.schedule import tag_order
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.procedure_rules import procedure_rules

_HISTORY_SQL = f"""
SELECT unit_id FROM service WHERE void = 0
UNION SELECT unit_id FROM baseline b WHERE {counts("b")}
UNION SELECT s.unit_id FROM series s JOIN reading r ON r.series_id = s.id WHERE {counts("r")}
"""
_UNITS_SQL = """
SELECT u.id, u.tag, m.kind, m.drive_type, m.maker, m.name FROM unit u JOIN model m ON m.id = u.model_id
WHERE u.void = 0
"""
_COLUMNS = ("unit_id", "procedure_id", "last_done", "first_due")


def plan_baselines(state: State, sheets: dict[str, Sheet]) -> list[Finding]:
    """Gather, for units that have no service, reading or baseline after this import, what the options tell.

    For every procedure by months that is for the unit: the day it was last done, or a first day due, evenly spread
    over the next months in the order of tags. Returns what is to be told of it, one row per unit.
    """
    options = state.options
    if options.last_done is None and options.spread_months is None:
        return []
    rules = _rules(state, sheets)
    units = _without_history(state, sheets)
    first_due = [""] * len(units)
    if options.spread_months is not None:
        first_due = [day.isoformat() for day in spread(len(units), options.spread_months, state.today)]
    rows: list[tuple[Any, ...]] = []
    told: list[Finding] = []
    for (ref, tag, *model), due in zip(units, first_due, strict=True):
        mine = [procedure for procedure, rule in rules if rule.applies(*model)]
        rows += [(ref, procedure, options.last_done, due or None) for procedure in mine]
        column, value = ("first_due", due) if due else ("last_done", options.last_done)
        if mine:
            rule_told = f"no history yet: told for {len(mine)} procedures by months"
            told.append(Finding("new", f"unit {tag}", None, None, column, value, rule_told))
    state.append("baseline", _COLUMNS, rows)
    return told


def _rules(state: State, sheets: dict[str, Sheet]) -> list[tuple[int, Any]]:
    """Return the procedures by months, those of the folder in place of the book's."""
    found = {rule.id: rule for rule in procedure_rules(state.conn)}
    if "procedures.csv" in sheets:
        sheet = sheets["procedures.csv"]
        for row in sheet.open_rows():
            ref = sheet.refs[row] or 0
            before = found.get(ref)
            name, months, applies = (
                sheet.values[column][row] for column in ("procedure", "every_months", "applies_to")
            )
            if before is not None:
                months, applies = months or before.every_months, applies or "; ".join(before.applies_to)
            found[ref] = parse_procedure(ref, name, applies_to=applies or "", every_months=months)
    return [(ref, rule) for ref, rule in found.items() if rule.every_months is not None]


def _without_history(state: State, sheets: dict[str, Sheet]) -> list[tuple[Any, ...]]:
    """Return (unit, tag, kind, drive type, maker, model) of what has no history, in the order of tags."""
    with_history = {row[0] for row in fetch(state.conn, _HISTORY_SQL)}
    for file in ("services.csv", "readings.csv"):
        if file in sheets:
            with_history |= set(sheets[file].values["tag"])
    units = {row[0]: tuple(text or "" for text in row[1:]) for row in fetch(state.conn, _UNITS_SQL)}
    units |= _new_units(state, sheets)
    found = [(ref, *facts) for ref, facts in units.items() if ref not in with_history]
    return sorted(found, key=lambda unit: tag_order(unit[1]))


def _new_units(state: State, sheets: dict[str, Sheet]) -> dict[Any, tuple[str, ...]]:
    """Return the units of the folder with their models, whether these are of the book or of the folder."""
    if "units.csv" not in sheets:
        return {}
    facts = {
        row[0]: tuple(text or "" for text in row[1:])
        for row in fetch(state.conn, "SELECT id, kind, drive_type, maker, name FROM model WHERE void = 0")
    }
    if "models.csv" in sheets:
        sheet = sheets["models.csv"]
        for row in sheet.open_rows():
            before = facts.get(sheet.refs[row], ("drive", "", "", ""))
            said = [sheet.values[name][row] for name in ("kind", "drive_type", "maker", "model")]
            facts[sheet.refs[row]] = tuple(new or old for new, old in zip(said, before, strict=True))
    units = sheets["units.csv"]
    return {
        units.refs[row]: (units.values["tag"][row], *facts.get(units.values["model"][row], ("", "", "", "")))
        for row in units.open_rows()
    }
