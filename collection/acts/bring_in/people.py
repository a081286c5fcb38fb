"""People, valuations, policies and loans."""

from __future__ import annotations

import secrets
from collections import defaultdict
from typing import Any

from collection.acts.bring_in.leaving import note_held
from collection.acts.bring_in.loans_apart import refuse_at_once
from collection.acts.bring_in.match import (
    IDENTITY,
    Field,
    Rule,
    add_fresh,
    compare_record,
    conclude_events,
    fields_of,
    match_events,
    merge_records,
    named_rows,
    ref_of,
)
from collection.acts.bring_in.prepare import book_sheet, concerned, in_order, read_money
from collection.acts.bring_in.sheet import CHANGED, NEW, SAME, Sheet
from collection.acts.bring_in.state import State
from collection.errors import fold
from collection.store.engine import fetch

PERSON = Rule(
    "person",
    (
        Field("person", (("name", None), ("name_folded", fold))),
        Field("role", (("role", None),), default="outside"),
        *fields_of("email", "phone", "address", "note"),
    ),
    frozenset({"person"}),
)
VALUATION = Rule(
    "valuation",
    fields_of("tag:unit_id", "valued_on", "amount:amount_minor", "currency", "basis", "by:by_id", "evidence"),
    corrected="enter another valuation",
)
POLICY = Rule(
    "policy",
    (
        Field("policy", (("name", None), ("name_folded", fold))),
        *fields_of("from_date", "to_date", "insurer", "sum_insured:insured_minor", "currency", "note"),
    ),
    frozenset({"policy"}),
)
_OF_LOAN = ("direction", "person", "out_on", "due_on", "purpose", "deposit", "currency")
_OF_ITEM = ("tag", "back_on", "condition_out", "condition_back")
LOAN = Rule("loan", fields_of(*_OF_LOAN[:1], "person:person_id", *_OF_LOAN[2:5], "deposit:deposit_minor", "currency"))
ITEM = Rule(
    "loan_item",
    fields_of("tag:unit_id", "back_on", "condition_out", "condition_back"),
    frozen={"tag": "a loan item stays with its unit: enter a new one"},
)


def plan_people(state: State, sheet: Sheet) -> None:
    """People by name."""
    stored = book_sheet(state, "people.csv")
    for each in (sheet, stored):
        each.values[IDENTITY] = [None if name is None else fold(name) for name in each.values["person"]]
    fresh = merge_records(state, sheet, stored, PERSON)
    add_fresh(state, sheet, fresh, PERSON, salt=[secrets.token_hex(16) for _ in fresh])
    names = state.names("person")
    for row, name in named_rows(sheet, "person"):
        if sheet.kinds[row] in (NEW, CHANGED) or names.find(name) is None:
            names.add(name, ref_of(state, sheet, row, "person"))


def plan_valuations(state: State, sheet: Sheet) -> None:
    """What units were worth, by whom and on what evidence."""
    stored = book_sheet(state, "valuations.csv", concerned(sheet))
    for each in (sheet, stored):
        read_money(state, each, "amount")
    match_events(sheet, stored, [each.column for each in VALUATION.fields])
    add_fresh(state, sheet, conclude_events(state, sheet, stored, VALUATION), VALUATION)


def plan_policies(state: State, sheet: Sheet) -> None:
    """Policies by name."""
    stored = book_sheet(state, "policies.csv")
    in_order(sheet, "from_date", "to_date")
    for each in (sheet, stored):
        read_money(state, each, "sum_insured")
        each.values[IDENTITY] = [None if name is None else fold(name) for name in each.values["policy"]]
    add_fresh(state, sheet, merge_records(state, sheet, stored, POLICY), POLICY)


def plan_loans(state: State, sheet: Sheet) -> None:
    """Loans: the rows of one name are one loan, each row a unit on it."""
    stored = book_sheet(state, "loans.csv")
    for each in (sheet, stored):
        read_money(state, each, "deposit")
        each.values["direction"] = [direction or "out" for direction in each.values["direction"]]
    in_order(sheet, "out_on", "back_on")
    for row in sheet.open_rows():
        if sheet.values["due_on"][row] < sheet.values["out_on"][row]:
            sheet.refuse(row, "due_on", f"is earlier than out_on {sheet.values['out_on'][row]}; write the whole day")
    groups = _agree(sheet)
    match_events(sheet, stored, (*_OF_LOAN, *_OF_ITEM))
    fresh = conclude_events(state, sheet, stored, ITEM)
    loan_of_item = dict(fetch(state.conn, "SELECT id, loan_id FROM loan_item WHERE void = 0"))
    items: defaultdict[int, list[int]] = defaultdict(list)
    for index, item in enumerate(stored.ids):
        items[loan_of_item[item]].append(index)
    wanted = set(fresh)
    loans: dict[int, int] = {}
    new_loans: list[int] = []
    for rows in groups.values():
        held = [loan_of_item[stored.ids[m]] for m in (sheet.match[row] for row in rows) if m is not None]
        if held:
            _compare_loan(state, sheet, stored, rows, held[0])
            on_loan = {stored.values["tag"][index]: index for index in items[held[0]]}
            for row in sorted(wanted.intersection(rows)):
                if sheet.values["tag"][row] in on_loan:  # a unit stands on a loan once: it is that item, changed
                    compare_record(state, sheet, row, stored, on_loan[sheet.values["tag"][row]], ITEM)
        elif not wanted.isdisjoint(rows):
            new_loans.append(rows[0])
        loans |= dict.fromkeys(rows, held[0] if held else 0)
    fresh = [row for row in fresh if sheet.kinds[row] == NEW]
    _write(state, sheet, fresh, groups, loans, new_loans)
    refuse_at_once(state, sheet, stored.ids)
    note_held(state, sheet, "back_on")


def _agree(sheet: Sheet) -> dict[str, list[int]]:
    """Return the rows of each loan; what one row leaves empty another says, and what differs is refused."""
    groups: defaultdict[str, list[int]] = defaultdict(list)
    for row in sheet.open_rows():
        groups[fold(sheet.values["loan"][row])].append(row)
    for rows in groups.values():
        for column in _OF_LOAN:
            cells = sheet.values[column]
            first = next((row for row in rows if cells[row] is not None), rows[0])
            for row in rows:
                if cells[row] is None:
                    cells[row] = cells[first]
                elif cells[row] != cells[first]:
                    told = f"row {sheet.table.rows[first]} says {sheet.table.cell(column, first)} of the same loan"
                    sheet.refuse(row, column, told)
        _once_on_loan(sheet, rows)
    return groups


def _once_on_loan(sheet: Sheet, rows: list[int]) -> None:
    seen: dict[int, int] = {}
    for row in rows:
        first = seen.setdefault(sheet.values["tag"][row], row)
        if first != row:
            told = f"stands twice on this loan: see row {sheet.table.rows[first]}; give the other loan another name"
            sheet.refuse(row, "tag", told)


def _compare_loan(state: State, sheet: Sheet, stored: Sheet, rows: list[int], loan: int) -> None:
    """Change what the rows of a loan, found by key, say differently of the loan itself."""
    row = next(row for row in rows if sheet.match[row] is not None)
    match = sheet.match[row]
    changes, columns, before = {}, [], []
    for each in LOAN.fields:
        told = sheet.values[each.column][row]
        if match is not None and told is not None and told != stored.values[each.column][match]:
            changes[each.targets[0][0]] = told
            columns.append(each.column)
            before.append(stored.table.cell(each.column, match))
    if changes and sheet.kinds[row] in (SAME, CHANGED):
        state.update("loan", loan, changes)
        sheet.changed(row, columns, before)


def _write(
    state: State,
    sheet: Sheet,
    fresh: list[int],
    groups: dict[str, list[int]],
    loans: dict[int, int],
    new_loans: list[int],
) -> None:
    """Gather new loans, then their items; a new row of a loan the book has joins it."""
    refs = state.refs("loan", len(new_loans))
    columns: dict[str, list[Any]] = {"name": [sheet.values["loan"][row] for row in new_loans]}
    for each in LOAN.fields:
        columns[each.targets[0][0]] = [sheet.values[each.column][row] for row in new_loans]
    state.add("loan", columns, refs)
    first_rows = dict(zip(new_loans, refs, strict=True))
    for rows in groups.values():
        if rows[0] in first_rows:
            loans |= dict.fromkeys(rows, first_rows[rows[0]])
    add_fresh(state, sheet, fresh, ITEM, loan_id=[loans.get(row) for row in fresh])
