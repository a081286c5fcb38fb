"""Compare an exported workbook with its book, three ways: what each cell said then, says now, and is in the book."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.acts.book_back_given import BackRow, BackSheet, Origin
from collection.acts.bring_in.form import PARSERS
from collection.acts.bring_in.state import Options, State
from collection.analysis.row_marks import cell_mark, cell_marks, row_mark
from collection.errors import Refused, fold
from collection.store.engine import fetch
from collection.views.folder.form import FORMS
from collection.views.folder.rows import folder_rows

CHANGED, NEW, GONE, FOREIGN = "changed", "new", "gone", "from another book"
_NOT_THE_FILE = {
    "entries": "unit_entry", "parts": "fitted_part", "readings": "reading", "hours": "hour_reading",
    "uses": "movement", "counts": "movement", "supplies": "supply", "orders": "order_line", "people": "person",
    "instruments": "instrument_use", "limits": "limit_range", "loans": "loan_item", "policies": "policy",
}  # fmt: skip
_AT_ONCE = 500
# The columns that give records the names by which other sheets know them.
_NAMING = {
    "models.csv": ("model", "maker"),
    "units.csv": ("tag",),
    "people.csv": ("person",),
    "locations.csv": ("location",),
    "measurements.csv": ("measurement",),
    "supplies.csv": ("supply",),
    "suppliers.csv": ("supplier",),
    "procedures.csv": ("procedure",),
    "lots.csv": ("lot",),
}
_NAMED_WITH = {"model": "maker", "maker": "model", "lot": "supply"}


class Change(NamedTuple):
    """A cell that says something else than the book: the place of its column, what the book has, what it says now."""

    at: int
    old: str
    new: str


@dataclass(slots=True)
class Came:
    """A row that is not just as the book has it.

    kind: CHANGED, NEW (added by hand), GONE (the book has it no more), FOREIGN (its key is of no row of this book), or
    left out, when the book has it by another way and is to stand.
    id, stored: its record in the book, and what the book would write of it now. changes: cells that were changed in the
    sheet alone. conflicts: those that were changed in the book as well. refused: (column, rule) of what cannot be done.
    """

    sheet: BackSheet
    row: BackRow
    kind: str
    id: int | None = None
    stored: tuple[str, ...] = ()
    changes: list[Change] = field(default_factory=list)
    conflicts: list[Change] = field(default_factory=list)
    refused: list[tuple[str | None, str]] = field(default_factory=list)

    @property
    def changed(self) -> dict[str, Change]:
        """The changes by the names of their columns."""
        return {self.sheet.columns[each.at].name: each for each in self.changes}


@dataclass(slots=True)
class Compared:
    """A sheet after comparison.

    rows: those that are not the same. seen: the row number of every record in it. moved: how many cells were changed in
    the book alone since the export.
    """

    sheet: BackSheet
    rows: list[Came] = field(default_factory=list)
    seen: dict[int, int] = field(default_factory=dict)
    moved: int = 0


def check_origin(conn: Connection, origin: Origin) -> None:
    """Refuse a workbook of another book, or of a state that this book never had."""
    key, name = fetch(conn, "SELECT key, name FROM book")[0]
    if origin.book != key:
        mine = f' "{name}"' if name else ""
        raise Refused(
            f'"{origin.file}" is from another book, not from this one{mine}.',
            "Name its book: spindlebook --db BOOK import FILE; or copy its visible cells into a workbook of this one.",
        )
    act = int(origin.act) if origin.act.isascii() and origin.act.isdigit() and len(origin.act) < 16 else 0
    sealed = fetch(conn, "SELECT hash FROM seal WHERE act_id = :act", act=act)
    if not sealed or sealed[0][0] != origin.seal:
        raise Refused(
            f'"{origin.file}" is from another book: a copy of this one that has another act {origin.act[:16]}.',
            "Name the book it was exported from, or export this one anew and make the changes there.",
        )


def compare_sheet(conn: Connection, sheet: BackSheet, day: date) -> Compared:
    """Return what is not the same in a sheet; day: of which owner, location and standing of units are told."""
    made = Compared(sheet)
    known, rest = _by_key(sheet)
    state = State(conn, day, Options(), reading_book=True)
    beside = _Beside(conn, sheet)
    for row_id, key, *cells in folder_rows(conn, sheet.file, day) if known else ():
        row = known.pop(key, None)
        if row is None:
            continue
        made.seen[row_id] = row.number
        stored = tuple(cells)
        if row.cells == stored and not row.beside:
            continue
        came = Came(sheet, row, CHANGED, row_id, stored)
        if row.cells != stored:
            made.moved += _three_ways(came, state)
        beside.check(came)
        if came.changes or came.conflicts or came.refused:
            made.rows.append(came)
    for came in rest:
        beside.check(came)
    there = _keys_there(conn, sheet.file, list(known))
    rest += [Came(sheet, row, GONE if key in there else FOREIGN) for key, row in known.items()]
    made.rows = sorted([*made.rows, *rest], key=lambda came: came.row.number)
    return made


def let_names_go(compared: Sequence[Compared]) -> None:
    """Take out the changes that only follow a name: what is renamed on its own sheet may be so on the others."""
    renamed = {
        _renaming(came, name, change)
        for each in compared
        for came in each.rows
        for name, change in came.changed.items()
        if name in _NAMING.get(each.sheet.file, ()) and change.new.strip()
    }
    for each in compared if renamed else ():
        own = _NAMING.get(each.sheet.file, ())
        for came in each.rows:
            changed = came.changed.items()
            came.changes = [
                change for name, change in changed if name in own or _renaming(came, name, change) not in renamed
            ]
        each.rows = [
            came for came in each.rows if came.kind != CHANGED or came.changes or came.conflicts or came.refused
        ]


def _renaming(came: Came, column: str, change: Change) -> tuple[str, str, str]:
    """Return what was called otherwise: before, now, and whose name it is where it takes another to tell."""
    of = _NAMED_WITH.get(column, "")
    whose = came.stored[came.sheet.place(of)] if of in (each.name for each in came.sheet.columns) else ""
    return fold(change.old), fold(change.new), fold(whose)


def left_as_exported(sheet: BackSheet, row: BackRow) -> bool:
    """Say whether a row still says all it said when it was exported."""
    return row_mark(column.said(cell) for column, cell in zip(sheet.columns, row.cells, strict=True)) == row.mark


class _Beside:
    """Looks at the cells that only show in what a number is measured: a number of another unit must not pass."""

    def __init__(self, conn: Connection, sheet: BackSheet) -> None:
        names = [column.name for column in sheet.columns]
        table = next((each for each in ("supply", "measurement") if each in names), "")
        self._own = names.index("measured_in") if "measured_in" in names else None
        self._of = names.index(table) if table and sheet.beside else None
        self._usual: dict[str, str] = {}
        if self._of is not None:
            sql = f"SELECT name_folded, measured_in FROM {table} WHERE void = 0"
            self._usual = {row[0]: row[1] for row in fetch(conn, sql)}

    def check(self, came: Came) -> None:
        """Refuse a row whose number seems to be told in another unit."""
        told = came.row.beside
        if self._of is None or not told:
            return
        known = [self._measured(cells) for cells in (came.stored, came.row.cells) if cells]
        if told not in known and any(known) and fold(told) not in map(fold, known):
            rule = f"is only shown: the number is in {known[-1]}, and is read so; put this cell back"
            came.refused.append((came.sheet.beside, rule))

    def _measured(self, cells: Sequence[str]) -> str:
        own = cells[self._own].strip() if self._own is not None else ""
        return own or self._usual.get(fold(cells[self._of or 0]), "")


def _three_ways(came: Came, state: State) -> int:
    """Gather changes and conflicts of a row; returns how many cells were changed in the book alone."""
    columns, row, moved = came.sheet.columns, came.row, 0
    marks = cell_marks(row.mark, len(columns))
    for at, (column, told, had) in enumerate(zip(columns, row.cells, came.stored, strict=True)):
        if told == had or not column.shown:
            continue
        now, book = column.said(told), column.said(had)
        if now == book:
            continue
        if marks is not None and cell_mark(now) == marks[at]:
            moved += 1
            continue
        if _means_the_same(state, came.sheet.file, column.name, told, had):
            continue
        alone = marks is not None and cell_mark(book) == marks[at]
        (came.changes if alone else came.conflicts).append(Change(at, had, told))
    return moved


def _means_the_same(state: State, file: str, column: str, told: str, had: str) -> bool:
    """Say whether two texts are one value to the book, as the capitals of a word or another way to write a day."""
    if not told.strip() or not had.strip():
        return False
    parser = PARSERS[file][column]
    try:
        return bool(parser(told, state) == parser(had, state))
    except Refused:
        return False


def _by_key(sheet: BackSheet) -> tuple[dict[str, BackRow], list[Came]]:
    """Return the rows that have a key of their own, and those that are new: without one, or copies of another row."""
    known: dict[str, BackRow] = {}
    copied: defaultdict[str, list[BackRow]] = defaultdict(list)
    rest = []
    for row in sheet.rows:
        if not row.key:
            rest.append(Came(sheet, row, NEW))
        elif known.setdefault(row.key, row) is not row:
            copied[row.key].append(row)
    for key, rows in copied.items():
        rest += _copies(sheet, known, key, [known[key], *rows])
    return known, rest


def _copies(sheet: BackSheet, known: dict[str, BackRow], key: str, rows: Sequence[BackRow]) -> Iterator[Came]:
    """Yield the rows that were made by copying one, hidden key and all, and keep the one they were made of.

    That is the one that still says what it said, else the one that still has its name.
    """
    first = [row for row in rows if left_as_exported(sheet, row)]
    first = first or [row for row in rows if _named_as_exported(sheet, row)]
    if len(first) == 1:
        known[key] = first[0]
        yield from (Came(sheet, row, NEW) for row in rows if row is not first[0])
        return
    for row in rows:
        if row is not known[key]:
            came = Came(sheet, row, NEW)
            came.refused.append(
                (None, f"is a copy of row {known[key].number}: change what names it, or delete the row")
            )
            yield came


def _named_as_exported(sheet: BackSheet, row: BackRow) -> bool:
    marks = cell_marks(row.mark, len(sheet.columns))
    places = [sheet.place(name) for name in FORMS[sheet.file].label]
    said = [cell_mark(sheet.columns[at].said(row.cells[at])) for at in places]
    return marks is not None and said == [marks[at] for at in places]


def _keys_there(conn: Connection, file: str, keys: Sequence[str]) -> set[str]:
    """Return which keys are of rows that this book has or had."""
    name = file.removesuffix(".csv")
    table = _NOT_THE_FILE.get(name, name.removesuffix("s"))
    found: set[str] = set()
    for start in range(0, len(keys), _AT_ONCE):
        given = {f"k{at}": key for at, key in enumerate(keys[start : start + _AT_ONCE])}
        names = ", ".join(f":{each}" for each in given)
        found |= {row[0] for row in fetch(conn, f"SELECT key FROM {table} WHERE key IN ({names})", **given)}
    return found
