"""Turn the changes of an exported workbook into tables of the CSV form, which bringing in plans and writes.

A changed row becomes the record as the book has it now with the changed cells in it, so that what the book learnt since
the export stays. Beside it goes what its meaning rests on: the services it is tied to, the other rows of its loan.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.acts.book_back_compare import CHANGED, NEW, Came, Change, Compared
from collection.acts.book_back_given import BackSheet
from collection.acts.bring_in.tables import Table
from collection.errors import fold
from collection.views.folder.form import FORMS, KEY
from collection.views.folder.rows import folder_rows

OWN, INSTEAD, BESIDE = "own", "instead", "beside"
# What happened is never rewritten. Of these files a row that says it right takes the place of the one that does not;
# what must stay as it was for that stands beside it.
CORRECTED: dict[str, frozenset[str]] = {
    "readings.csv": frozenset({"set_aside"}),
    "valuations.csv": frozenset({"tag", "valued_on"}),
    "entries.csv": frozenset({"tag", "what", "from_date"}),
}
# Rows of one name are one loan, one instrument: what these columns say of one row is said of all.
_SHARED: dict[str, tuple[str, frozenset[str]]] = {
    "loans.csv": ("loan", frozenset({"direction", "person", "out_on", "due_on", "purpose", "deposit", "currency"})),
    "instruments.csv": ("instrument", frozenset({"kind", "tag", "host", "version", "note"})),
}
_EVENTS = frozenset(
    f"{name}.csv"
    for name in ("entries", "pairings", "parts", "services", "readings", "uses", "counts", "hours", "faults")
) | {"valuations.csv"}
_SUMS = ("price", "replacement_value", "deposit", "sum_insured", "shipping")


class Role(NamedTuple):
    """What a row of a table is: OWN, as it came; INSTEAD, to correct one; BESIDE, as the book has it."""

    kind: str
    came: Came | None


@dataclass(slots=True)
class Made:
    """One table while it is made. keys: those of the rows that are in it."""

    file: str
    rows: list[tuple[str, ...]] = field(default_factory=list)
    roles: list[Role] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    edited: dict[int, frozenset[str]] = field(default_factory=dict)
    keys: set[str] = field(default_factory=set)

    def add(self, key: str, cells: Sequence[str], number: int, role: Role, edited: Iterable[str] = ()) -> None:
        """Put in one row."""
        if edited:
            self.edited[len(self.rows)] = frozenset(edited)
        self.rows.append((key, *cells))
        self.roles.append(role)
        self.numbers.append(number)
        if key:
            self.keys.add(key)

    def table(self) -> Table:
        """Return it as a table, whose rows are numbered as in the sheet."""
        columns = (KEY, *FORMS[self.file].columns)
        cells = [list(column) for column in zip(*self.rows, strict=True)]
        return Table(self.file, columns, cells, self.numbers, edited=self.edited)

    def said(self, column: str) -> set[str]:
        """Return all names, folded, that a column has."""
        at = FORMS[self.file].columns.index(column) + 1
        return {fold(row[at]) for row in self.rows if row[at].strip()}


def make_tables(conn: Connection, compared: Sequence[Compared], day: date) -> list[Made]:
    """Return a table for each sheet with changes, with what its rows rest on in it and in others."""
    made: dict[str, Made] = {}
    for each in compared:
        table = Made(each.sheet.file)
        for came in each.rows:
            if not came.refused and (came.kind == NEW or came.changes):
                _add(table, came)
        if table.rows:
            made[table.file] = table
    for each in compared:
        if each.sheet.file in made:
            _stand_beside(conn, made[each.sheet.file], each, day)
    _add_services(conn, made, {each.sheet.file: each for each in compared}, day)
    return list(made.values())


def _add(table: Made, came: Came) -> None:
    if came.kind == NEW:
        table.add("", came.row.cells, came.row.number, Role(OWN, came))
        return
    _follow(came)
    cells = list(came.stored)
    for change in came.changes:
        cells[change.at] = change.new
    if table.file in CORRECTED and not set(came.changed) <= {"set_aside"}:
        if table.file == "readings.csv":
            cells[came.sheet.place("set_aside")] = ""
        table.add("", cells, came.row.number, Role(INSTEAD, came))
    else:
        table.add(came.row.key, cells, came.row.number, Role(OWN, came), came.changed)


def _follow(came: Came) -> None:
    """Let go along what one cell says of another: a serial that is known, a sum that is not there any more."""
    changed = came.changed
    if "serial" in changed and "serial_state" not in changed:
        _also(came, "serial_state", "known" if changed["serial"].new.strip() else "")
    for name in _SUMS:
        if name in changed and not changed[name].new.strip() and "currency" not in changed:
            _also(came, "currency", "")


def _also(came: Came, column: str, new: str) -> None:
    at = came.sheet.place(column)
    if came.stored[at] != new:
        came.changes = sorted([*came.changes, Change(at, came.stored[at], new)])


def _stand_beside(conn: Connection, table: Made, compared: Compared, day: date) -> None:
    """Add the rows of the same loan or instrument, other amounts of a procedure, and what a new row only repeats."""
    file, sheet = table.file, compared.sheet
    fresh = [role.came for role in table.roles if role.came is not None and role.came.kind == NEW]
    if file in _SHARED:
        _add_shared(conn, table, compared, day)
    elif file == "amounts.csv" and fresh:
        at = sheet.place("procedure")
        wanted = {fold(came.row.cells[at]) for came in fresh}
        _add_stored(conn, table, compared, day, lambda cells: fold(cells[at]) in wanted)
    elif file in _EVENTS and fresh:
        at = sheet.place(FORMS[file].label[0])
        repeated = {_said(sheet, came.row.cells) for came in fresh}
        names = {fold(came.row.cells[at]) for came in fresh}
        _add_stored(
            conn,
            table,
            compared,
            day,
            lambda cells: fold(cells[at]) in names and _said(sheet, cells) in repeated,
            in_sheet=True,
        )


def _said(sheet: BackSheet, cells: Sequence[str]) -> tuple[str, ...]:
    return tuple(column.said(cell) for column, cell in zip(sheet.columns, cells, strict=True))


def _add_shared(conn: Connection, table: Made, compared: Compared, day: date) -> None:
    """Add the other rows of one name, with what was changed of all of them."""
    name, shared = _SHARED[table.file]
    at = compared.sheet.place(name)
    told: dict[str, dict[str, set[str]]] = {}
    for role in table.roles:
        if role.came is not None and role.came.kind == CHANGED:
            of_name = told.setdefault(fold(role.came.stored[at]), {})
            for column, change in role.came.changed.items():
                if column in shared:
                    of_name.setdefault(column, set()).add(change.new)
    wanted = table.said(name)
    begun = len(table.rows)
    _add_stored(conn, table, compared, day, lambda cells: fold(cells[at]) in wanted)
    for index in range(begun, len(table.rows)):
        row = list(table.rows[index])
        one = {c: next(iter(v)) for c, v in told.get(fold(row[at + 1]), {}).items() if len(v) == 1}
        for column, value in one.items():
            row[compared.sheet.place(column) + 1] = value
        table.rows[index] = tuple(row)
        if one:
            table.edited[index] = frozenset(one)


def _add_stored(
    conn: Connection,
    table: Made,
    compared: Compared | None,
    day: date,
    wanted: Callable[[Sequence[str]], bool],
    *,
    in_sheet: bool = False,
) -> None:
    """Add rows as the book has them, all or only those that stand in the sheet; those keep their number."""
    for row_id, key, *cells in folder_rows(conn, table.file, day):
        number = compared.seen.get(row_id, 0) if compared else 0
        if key not in table.keys and (number or not in_sheet) and wanted(cells):
            table.add(key, cells, number, Role(BESIDE, None))


def _add_services(conn: Connection, made: dict[str, Made], compared: dict[str, Compared], day: date) -> None:
    """Add the services that rows are tied to, by the names that an export gives them."""
    names: set[str] = set()
    for table in made.values():
        if "service" in FORMS[table.file].columns:
            names |= table.said("service")
    if names:
        table = made.setdefault("services.csv", Made("services.csv"))
        _add_stored(conn, table, compared.get("services.csv"), day, lambda cells: fold(cells[0]) in names)
        if not table.rows:
            del made["services.csv"]
