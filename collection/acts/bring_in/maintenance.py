"""Procedures, amounts, faults and hour readings."""

from __future__ import annotations

from typing import Any

from collection.acts.bring_in.match import (
    IDENTITY,
    Field,
    Rule,
    add_fresh,
    conclude_events,
    doubt_twins,
    fields_of,
    match_events,
    merge_records,
    named_rows,
    ref_of,
)
from collection.acts.bring_in.prepare import book_sheet, concerned, in_order, read_quantity
from collection.acts.bring_in.services import procedure_revisions, services
from collection.acts.bring_in.sheet import CHANGED, NEW, REFUSED, Finding, Sheet
from collection.acts.bring_in.state import State
from collection.acts.reference import OWN_COMMANDS
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.folder.maintenance import NO_FAULT_FOUND

PROCEDURE = Rule(
    "procedure",
    (
        Field("procedure", (("name", None), ("name_folded", fold))),
        Field("revision", (("revision", None),), default=1),
        *fields_of("applies_to", "every_months", "every_hours", "triggers", "minutes", "resets", "retests"),
        *fields_of("cautions", "steps", "source"),
    ),
    frozenset({"procedure"}),
)
AMOUNT = Rule(
    "amount",
    fields_of("procedure:procedure_id", "supply:supply_id", "steps", "chance"),
    frozenset({"procedure", "supply"}),
)

_UNTOUCHED = (
    "SELECT a.id FROM amount a WHERE a.void = 0 AND a.seed_key IS NOT NULL AND NOT EXISTS ("
    "SELECT 1 FROM change c JOIN act t ON t.id = c.act_id WHERE c.table_name = 'amount' AND c.row_id = a.id"
    f" AND t.command NOT IN ({', '.join(repr(command) for command in OWN_COMMANDS)}))"
)


def _cause(text: str) -> str | None:
    return None if _not_found(text) else text


def _not_found(text: str) -> int:
    return int(fold(text) == NO_FAULT_FOUND)


FAULT = Rule(
    "fault",
    (
        *fields_of("tag:unit_id", "noticed_on", "symptom"),
        Field("cause", (("cause", _cause), ("no_fault_found", _not_found))),
        *fields_of("cure", "closed_on", "by:by_id"),
    ),
)
HOURS = Rule(
    "hour_reading",
    (*fields_of("tag:unit_id", "read_on", "hours"), Field("reset", (("reset", None),), default=0)),
    corrected="enter a later one",
)


def plan_procedures(state: State, sheet: Sheet) -> None:
    """Procedures by name."""
    stored = book_sheet(state, "procedures.csv")
    for each in (sheet, stored):
        each.values[IDENTITY] = [None if name is None else fold(name) for name in each.values["procedure"]]
    fresh = merge_records(state, sheet, stored, PROCEDURE)
    add_fresh(state, sheet, fresh, PROCEDURE)
    names, revisions = state.names("procedure"), procedure_revisions(state)
    for row, name in named_rows(sheet, "procedure"):
        if sheet.kinds[row] in (NEW, CHANGED) or names.find(name) is None:
            names.add(name, ref_of(state, sheet, row, "procedure"))
            revisions[names.need(name)] = sheet.values["revision"][row] or revisions.get(names.need(name), 1)


def plan_amounts(state: State, sheet: Sheet) -> None:
    """What a procedure takes of a supply: one amount for each."""
    stored = book_sheet(state, "amounts.csv")
    for each in (sheet, stored):
        each.values["steps"] = read_quantity(state, each, unit="measured_in")
        each.values[IDENTITY] = list(zip(each.values["procedure"], each.values["supply"], strict=True))
    quantities = sheet.values["quantity"]
    rule = Rule(AMOUNT.table, (*AMOUNT.fields[:2], *AMOUNT.fields[3:]), AMOUNT.named_by)
    fresh = merge_records(state, sheet, stored, rule)
    for row, match in enumerate(sheet.match):
        if match is None or sheet.kinds[row] == REFUSED:
            continue
        if sheet.values["steps"][row] != stored.values["steps"][match]:
            _change_amount(state, sheet, row, stored, match)
    _replace_reference(state, sheet, stored, {sheet.values["procedure"][row] for row in fresh})
    add_fresh(
        state,
        sheet,
        fresh,
        AMOUNT,
        entered=[quantities[row] for row in fresh],
        entered_in=[sheet.values["measured_in"][row] for row in fresh],
    )


def _change_amount(state: State, sheet: Sheet, row: int, stored: Sheet, match: int) -> None:
    changes: dict[str, Any] = {
        "steps": sheet.values["steps"][row],
        "entered": sheet.values["quantity"][row],
        "entered_in": sheet.values["measured_in"][row],
    }
    state.update("amount", stored.ids[match], changes)
    sheet.changed(row, ["quantity"], [stored.table.cell("quantity", match)])


def _replace_reference(state: State, sheet: Sheet, stored: Sheet, procedures: set[int]) -> None:
    """Take out the reference amounts of procedures for which the folder brings amounts of its own.

    Both together would be counted twice. What anybody changed in the book stays, and so does what the folder names.
    """
    untouched = {row[0] for row in fetch(state.conn, _UNTOUCHED)}
    matched = set(sheet.match)
    for index, row_id in enumerate(stored.ids):
        if row_id in untouched and index not in matched and stored.values["procedure"][index] in procedures:
            state.voids.append(("amount", row_id))
            record = f"amount {stored.table.cell('procedure', index)} {stored.table.cell('supply', index)}"
            rule = "of the reference data: the folder's own amounts of this procedure take its place"
            state.told.append(Finding("changed", record, sheet.form.file, None, "quantity", None, rule))


def plan_faults(state: State, sheet: Sheet) -> None:
    """Faults, open and closed."""
    stored = book_sheet(state, "faults.csv", concerned(sheet))
    in_order(sheet, "noticed_on", "closed_on")
    for each in (sheet, stored):
        causes = each.values["cause"]
        each.values["cause"] = [NO_FAULT_FOUND if cause and _not_found(cause) else cause for cause in causes]
    content = [each.column for each in FAULT.fields]
    match_events(sheet, stored, content)
    fresh = conclude_events(state, sheet, stored, FAULT)
    doubt_twins(sheet, stored, fresh, content, ["closed_on", "cause", "cure"])
    causes = [sheet.values["cause"][row] for row in fresh]
    add_fresh(
        state,
        sheet,
        fresh,
        FAULT,
        service_id=services(state).ties(sheet, fresh),
        no_fault_found=[_not_found(cause or "") for cause in causes],
    )


def plan_hours(state: State, sheet: Sheet) -> None:
    """Hour meters as read."""
    stored = book_sheet(state, "hours.csv", concerned(sheet))
    for each in (sheet, stored):
        each.values["reset"] = [reset or 0 for reset in each.values["reset"]]
    match_events(sheet, stored, [each.column for each in HOURS.fields])
    add_fresh(state, sheet, conclude_events(state, sheet, stored, HOURS), HOURS)
