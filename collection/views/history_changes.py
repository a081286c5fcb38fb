"""What one act wrote: its records with the values before and after, and what they refer to by name."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy.engine import Connection

from collection.errors import Refused
from collection.store.engine import fetch
from collection.views.history import Act, act_of

# A longer run of appended rows is counted, not told.
_TOLD = 20
_AT_ONCE = 5_000
_HIDDEN = ("key", "salt", "group_key")
Values = dict[str, Any] | None


def act_and_changes(connection: Connection, number: int) -> tuple[Act, list[dict[str, Any]]]:
    """Return an act, and a row for each record it wrote; a long run of appended records is one row.

    Raises Refused for an act that is not there.
    """
    act = act_of(connection, number)
    if act is None:
        raise Refused(f"There is no act {number} in this book.", "Type: spindlebook history")
    sql = "SELECT kind, table_name, row_id, rows, before, after FROM change WHERE act_id = :act ORDER BY id"
    found: list[dict[str, Any]] = []
    for kind, table, row_id, rows, before, after in fetch(connection, sql, act=number):
        if table == "person" and "former_of_id" in (after or ""):
            continue  # a former state, which the program keeps by itself
        if kind != "append":
            found.append(_row(kind, table, 1, _read(before), _read(after)))
        elif rows > _TOLD:
            found.append(_row(kind, table, rows, None, None))
        else:
            appended = _appended(connection, table, row_id, rows, json.loads(after))
            found.extend(_row(kind, table, 1, None, values) for values in appended)
    _name_references(connection, found)
    return act, found


def _row(kind: str, table: str, rows: int, before: Values, after: Values) -> dict[str, Any]:
    return {"what": kind, "record": table.replace("_", " "), "rows": rows, "before": before, "after": after}


def _read(text: str | None) -> Values:
    return _shown(json.loads(text)) if text else None


def _shown(values: Mapping[str, Any]) -> dict[str, Any]:
    """Leave out what only the program goes by."""
    return {name: held for name, held in values.items() if name not in _HIDDEN and not name.endswith("_folded")}


def _appended(
    connection: Connection, table: str, first: int, rows: int, columns: list[str]
) -> Iterable[dict[str, Any]]:
    """Return what appended rows hold, which stays as it was written."""
    wanted = [name for name in columns if (table, name) != ("attachment_content", "content")]
    sql = f"SELECT {', '.join(wanted)} FROM {table} WHERE id BETWEEN :first AND :last ORDER BY id"
    for row in fetch(connection, sql, first=first, last=first + rows - 1):
        yield _shown({name: held for name, held in zip(wanted, row, strict=True) if held is not None})


def _name_references(connection: Connection, found: list[dict[str, Any]]) -> None:
    """Put the names of what is referred to in the place of numbers that nobody knows."""
    from collection.schema import TABLES

    asked: dict[str, set[int]] = defaultdict(set)
    places: list[tuple[dict[str, Any], str, str]] = []
    for row in found:
        table = TABLES[row["record"].replace(" ", "_")]
        for values in filter(None, (row["before"], row["after"])):
            for name in [each for each in values if each in table.c and table.c[each].foreign_keys]:
                parent = next(iter(table.c[name].foreign_keys)).column.table.name
                places.append((values, name, parent))
                if values[name] is not None:
                    asked[parent].add(int(values[name]))
    named = {(parent, number): name for parent in asked for number, name in _names(connection, parent, asked[parent])}
    for values, name, parent in places:
        called = named.get((parent, values[name]))
        renamed = [(name.removesuffix("_id"), called) if each == name else (each, values[each]) for each in values]
        values.clear()
        values.update(renamed)


def _names(connection: Connection, table: str, numbers: Iterable[int]) -> list[tuple[Any, ...]]:
    ordered, called = sorted(numbers), _NAMED.get(table, "t.name")
    found: list[tuple[Any, ...]] = []
    for at in range(0, len(ordered), _AT_ONCE):
        among = ", ".join(map(str, ordered[at : at + _AT_ONCE]))
        found += fetch(connection, f"SELECT t.id, {called} FROM {table} t WHERE t.id IN ({among})")
    return found


_TAG = "(SELECT u.tag FROM unit u WHERE u.id = t.unit_id)"
# What a record is called where it has no name.
_NAMED = {
    "unit": "t.tag",
    "model": "t.maker || ' ' || t.name",
    "series": f"{_TAG} || ', ' || (SELECT m.name FROM measurement m WHERE m.id = t.measurement_id) || "
    "CASE t.point WHEN '' THEN '' ELSE ' ' || t.point END",
    "reading": "t.taken_on || ', ' || t.entered",
    "movement": "t.kind || ' of ' || t.occurred_on",
    "loan_item": f"(SELECT l.name FROM loan l WHERE l.id = t.loan_id) || ', ' || {_TAG}",
    "order_line": "(SELECT o.name FROM purchase_order o WHERE o.id = t.order_id)",
    "condition_check": f"{_TAG} || ' on ' || t.checked_on",
    "shelf_check": "t.checked_on",
    "attachment_content": "substr(t.sha256, 1, 12)",
}
