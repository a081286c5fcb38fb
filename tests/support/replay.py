"""The book told anew from its journal alone, act by act from zero, by code that shares nothing with the program's own.

Editable rows follow from the journal's values; of appended rows it knows how many an act wrote, where and with which
digest, so those are read and digested again. What does not fit raises `Unlike`.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy.engine import Connection

from collection.schema import EDITABLE
from collection.schema.people import PERSONAL
from collection.store.engine import fetch

Row = tuple[str, int]


class Unlike(AssertionError):  # noqa: N818  it is what a test fails with
    """The journal does not say what the book holds."""


@dataclass
class Told:
    """What the journal says that a book holds after an act."""

    act: int = 0
    rows: dict[Row, dict[str, Any]] = field(default_factory=dict)
    versions: dict[Row, int] = field(default_factory=dict)
    void: set[Row] = field(default_factory=set)
    appended: dict[int, list[Row]] = field(default_factory=lambda: defaultdict(list))
    took_back: dict[int, int] = field(default_factory=dict)

    def counting(self) -> dict[Row, dict[str, Any]]:
        """Return the editable rows that count, by the values that are not empty."""
        return {row: values for row, values in self.rows.items() if row not in self.void}

    def appended_counting(self) -> set[Row]:
        """Return the appended rows that count."""
        return {row for act, rows in self.appended.items() if self.counts(act) for row in rows}

    def counts(self, act: int) -> bool:
        """Say whether an act counts: nobody took it back but by acts that were taken back themselves."""
        return not any(self.counts(by) for by, target in self.took_back.items() if target == act)


def told_by_journal(connection: Connection) -> Iterator[Told]:
    """Yield what the journal tells after each act, always the same object."""
    told = Told()
    changes = defaultdict(list)
    for act, *change in fetch(
        connection,
        "SELECT act_id, kind, table_name, row_id, version, before, after, rows, digest FROM change ORDER BY id",
    ):
        changes[act].append(change)
    for act, target in fetch(connection, "SELECT id, undoes_id FROM act ORDER BY id"):
        told.act = act
        if target is not None:
            told.took_back[act] = target
        for kind, table, row, version, before, after, rows, digest in changes.pop(act, ()):
            if kind == "append":
                told.appended[act] += _appended(connection, act, (table, row), rows, json.loads(after), digest)
            else:
                _change(told, kind, (table, row), version, json.loads(before or "{}"), json.loads(after or "{}"))
        yield told
    _expect({}, dict(changes), "changes of no act")
    _stands_so(connection, told)


def _change(told: Told, kind: str, row: Row, version: int, before: dict[str, Any], after: dict[str, Any]) -> None:
    _expect(told.versions.get(row, 0) + 1, version, f"version of {row}")
    told.versions[row] = version
    if kind == "insert":
        told.rows[row] = {name: value for name, value in after.items() if value is not None}
        if "former_of_id" in after:  # a former state of a person never counts by itself
            told.void.add(row)
    elif kind == "update":
        held = told.rows[row]
        _expect({name: held.get(name) for name in before}, before, f"values of {row} before act {told.act}")
        told.rows[row] = {name: value for name, value in (held | after).items() if value is not None}
    elif kind == "void":
        told.void.add(row)
    else:
        _expect("restore", kind, f"kind of change of {row}")
        told.void.discard(row)


def _appended(connection: Connection, act: int, first: Row, rows: int, columns: list[str], digest: str) -> list[Row]:
    """Return the rows of one append, after they were counted and digested."""
    table, start = first
    found = fetch(
        connection,
        f"SELECT {', '.join(columns)} FROM {table} WHERE act_id = :act AND id BETWEEN :first AND :last ORDER BY id",
        act=act,
        first=start,
        last=start + rows - 1,
    )
    _expect(rows, len(found), f"rows of {table} that act {act} appended")
    texts = [json.dumps(list(row), separators=(",", ":"), default=lambda value: value.hex()) for row in found]
    text = "".join(f"{each}," for each in texts)
    _expect(digest, hashlib.sha256(text.encode()).hexdigest(), f"digest of {table} from {start} on")
    return [(table, start + number) for number in range(rows)]


def _stands_so(connection: Connection, told: Told) -> None:
    """Compare the end of the journal with every editable row as it stands, and with the acts that count for nothing."""
    for table in sorted(EDITABLE):
        known = {row: values for (name, row), values in told.rows.items() if name == table}
        cursor = connection.exec_driver_sql(f"SELECT * FROM {table} ORDER BY id")
        for found in cursor.mappings():
            held = {name: value for name, value in found.items() if name != "act_id"}
            number = held.pop("id")
            row = (table, number)
            _expect(told.versions.get(row), held.pop("version"), f"version of {row}")
            _expect(row in told.void, bool(held.pop("void")), f"void of {row}")
            _expect(known.pop(number, None), _as_journalled(table, held), f"values of {row}")
        _expect({}, known, f"rows of {table} that are gone")
    undone = {act for (act,) in fetch(connection, "SELECT act_id FROM undone")}
    _expect({act for act in range(1, told.act + 1) if not told.counts(act)}, undone, "acts that count for nothing")


def _as_journalled(table: str, row: dict[str, Any]) -> dict[str, Any]:
    """Return a row without empty values, what people said of themselves as salted hashes."""
    if table == "person":
        salt = row.pop("salt")
        for name in PERSONAL:
            if row[name] is not None:
                row[name] = "sha256:" + hashlib.sha256(f"{salt}\n{name}\n{row[name]}".encode()).hexdigest()
    return {name: value for name, value in row.items() if value is not None}


def _expect(wanted: object, found: object, what: str) -> None:
    if wanted != found:
        raise Unlike(f"{what}: the journal says {wanted}, it is {found}")
