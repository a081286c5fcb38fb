"""Changing what a record says, and making one, by the columns of the folder and the rules of their parsers."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy.engine import Connection, Engine

from collection.acts.edit_fields import FIELDS, NAMED_ONCE, Field
from collection.acts.texts import refuse_texts
from collection.acts.work import Work, open_work
from collection.errors import Refused
from collection.quantity import Money
from collection.store.engine import fetch

Given = Mapping[str, str]
Find = Callable[[Connection], tuple[int, str]]
Check = Callable[[Work, int, "Edited"], None]

# The table that a column refers to, and what its rows are called by.
_REFERS_TO = {
    "by_id": ("person", "name"),
    "person_id": ("person", "name"),
    "reported_by_id": ("person", "name"),
    "issued_by_id": ("person", "name"),
    "to_id": ("person", "name"),
    "authority_id": ("person", "name"),
    "policy_id": ("policy", "name"),
    "supplier_id": ("supplier", "name"),
    "supply_id": ("supply", "name"),
    "inside_id": ("location", "name"),
    "measurement_id": ("measurement", "name"),
}
_MONEY = "_minor"
_OF_THE_FOLDER = re.compile(r"(, or add --decimal-comma.*|[;,]? ?(correct it )?or add it to \w+\.csv)")


@dataclass(frozen=True, slots=True)
class Edited:
    """What changed in a record: its name as it is now, and (column of the folder, before, after) in words."""

    name: str
    changes: tuple[tuple[str, str, str], ...]

    @property
    def names(self) -> list[str]:
        """The columns that changed."""
        return [name for name, _, _ in self.changes]


def edit_record(
    engine: Engine,
    command: str,
    table: str,
    find: Find,
    given: Given,
    *,
    reason: str = "",
    check: Check | None = None,
    today: date,
    now: datetime,
) -> Edited:
    """Change one record in an act of its own; an empty text takes a value away, equal values change nothing.

    find: returns id and name of the record. check: what else its subject asks for, run after the change and before it
    is kept. Raises Refused for values that break the rule of their column, for a name that is given, and where a
    column that history rests on changes without a reason.
    """
    with open_work(engine, command, today=today, now=now, reason=reason or None) as work:
        row_id, name = find(work.conn)
        edited = change_row(work, table, row_id, given, name)
        if edited.changes and check is not None:
            check(work, row_id, edited)
        resting = [each for each in edited.names if FIELDS[table][each].history]
        if resting and not reason.strip():
            raise needs_reason(f"{name}: {', '.join(map(label, resting))} would change what the past rests on")
        if edited.changes:
            # No name of a person stands in a summary: it is sealed, and people can be forgotten.
            whose = "a person" if table == "person" else name
            work.commit(f"{whose}: changed {', '.join(map(label, edited.names))}")
    return edited


def needs_reason(what: str) -> Refused:
    """Return the refusal of a change that history is concerned by."""
    return Refused(f"{what}: a change of it needs a reason.", 'Add --reason "REASON"; the history keeps it.')


def change_row(work: Work, table: str, row_id: int, given: Given, name: str) -> Edited:
    """Change one record within an act; name: what it is called. Raises Refused as `edit_record` does."""
    columns = columns_told(work, table, given, name)
    if not columns:
        return Edited(name, ())
    names = tuple(columns)
    row = fetch(work.conn, f"SELECT {', '.join(names)} FROM {table} WHERE id = :id", id=row_id)[0]
    before = dict(zip(names, row, strict=True))
    _refuse_taken(work, table, row_id, columns)
    changes = tuple(
        (told, _shown(work, before, field), _shown(work, columns, field))
        for told, field in FIELDS[table].items()
        if told in given and any(before[each] != columns[each] for each in field.columns)
    )
    work.update(table, row_id, **columns)
    return Edited(str(columns.get("name") or name), changes)


def make_row(work: Work, table: str, given: Given, name: str, /, **fixed: Any) -> int:
    """Write a new record and return its id; fixed: columns that are no one's to tell.

    Raises Refused where a column that must be filled is not told, and as `edit_record` does.
    """
    told = {key: text for key, text in given.items() if text.strip()}
    for key, field in FIELDS[table].items():
        if field.required and key not in told and not set(field.columns) & set(fixed):
            if key == table:  # what it is called stands before the options
                raise Refused(f"{name} needs a name.", "Type it behind the command.")
            raise Refused(f"{name} needs a {label(key)}.", f"Add --{key.replace('_', '-')}.")
    columns = columns_told(work, table, told, name) | fixed
    _refuse_taken(work, table, 0, columns)
    return work.insert(table, **columns)


def label(column: str) -> str:
    """Return a column's name as a person reads it."""
    return column.replace("_", " ")


def columns_told(work: Work, table: str, given: Given, name: str) -> dict[str, Any]:
    """Return the columns of the table that the texts make; "" takes a value away. Raises Refused as `edit_record`."""
    columns: dict[str, Any] = {}
    for told, text in given.items():
        field = FIELDS[table][told]
        refuse_texts(note=text)
        if text.strip():
            columns |= _read(work, told, text, field)
        elif field.required:
            raise Refused(f"{name} cannot be without its {label(told)}.", "Type what it is.")
        else:
            columns |= dict.fromkeys(field.columns, field.nothing)
    return columns


def _read(work: Work, told: str, text: str, field: Field) -> dict[str, Any]:
    """Read one text; a rule of the folder's columns is told with the option and the value it speaks of."""
    try:
        return field.read(work, text)
    except Refused as refusal:
        rule = refusal.what.removeprefix(f'"{text.strip()}" ').rstrip(".")
        if rule[:1].isupper() or rule[:1] in ('"', "-"):
            raise
        # What a folder of files would do about it is no help here.
        hint = _OF_THE_FOLDER.sub("", refusal.hint).rstrip(".") or "type another"
        says = f": {rule}" if rule.startswith("there ") else f" {rule}"
        raise Refused(f'{label(told)} "{text.strip()}"{says}.', f"{hint[:1].upper()}{hint[1:]}.") from None


def _refuse_taken(work: Work, table: str, row_id: int, columns: Mapping[str, Any]) -> None:
    """Refuse a name that another record of the table has."""
    unique = NAMED_ONCE.get(table, ())
    if not set(unique) & set(columns):
        return
    own = fetch(work.conn, f"SELECT {', '.join(unique)} FROM {table} WHERE id = :id", id=row_id)
    known = dict(zip(unique, own[0], strict=True)) if own else {}
    wanted = {each: columns.get(each, known.get(each, "")) for each in unique}
    same = " AND ".join(f"{each} = :{each}" for each in unique)
    sql = f"SELECT name FROM {table} WHERE void = 0 AND id <> :id AND {same}"
    taken = fetch(work.conn, sql, id=row_id, **wanted)
    if taken:
        raise Refused(f'There is a {table} "{taken[0][0]}" already.', "Type another name.")


def _shown(work: Work, columns: Mapping[str, Any], field: Field) -> str:
    """Return what a field says, in words; "" for nothing."""
    name = field.columns[0]
    value = columns[name]
    if value is None:
        return ""
    if name.endswith(_MONEY):
        return f"{Money(value, columns['currency']).text} {columns['currency']}"
    if name in _REFERS_TO:
        table, called = _REFERS_TO[name]
        return str(fetch(work.conn, f"SELECT {called} FROM {table} WHERE id = :id", id=value)[0][0])
    if field.yes_no:
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)
