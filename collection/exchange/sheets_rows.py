"""Rows of the folder's form made out of a person's own table, each of which knows the cells it came from."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

from collection.acts.bring_in.sheet import Finding
from collection.acts.bring_in.tables import Aside, Table
from collection.analysis.written.values import is_blank
from collection.exchange.sheets_map import LEAVE, NOTE, TableMap, plain_name
from collection.exchange.sheets_tables import Column, Line
from collection.views.folder.form import FORMS

NO_PLACE = "no place in the book is known for it"

_LETTER = re.compile(r"[^\s?./_*\-\u2013\u2014\u2026]")
_FILES = re.compile(r"neither in the book nor in \w+\.csv|add it to \w+\.csv")


def _elsewhere(found: re.Match[str]) -> str:
    """Return words about a file of the folder as they are said of a workbook."""
    return "not in the book" if found[0].startswith("neither") else "add it to the workbook"


@dataclass
class Source:
    """One row of a table: which fields its cells are for, and which of them were put somewhere.

    reasons: of columns whose cell cannot be read as what it stands for, why.
    """

    table: TableMap
    line: Line
    places: Mapping[str, Sequence[int]]
    used: set[int] = field(default_factory=set)
    reasons: dict[int, str] = field(default_factory=dict)

    @property
    def sheet(self) -> str:
        """The sheet it stands in."""
        return self.table.block.sheet

    @property
    def number(self) -> int:
        """The number of the row in its sheet."""
        return self.line.number

    def column(self, at: int) -> Column:
        """Return a column of the table."""
        return self.table.columns[at].column

    def seen(self, at: int) -> str:
        """Return a cell as it was written."""
        return self.line.cells[at].text

    def has(self, *fields: str) -> bool:
        """Say whether any of the fields has a cell that says something."""
        return any(self.peek(each) is not None for each in fields)

    def peek(self, name: str) -> int | None:
        """Return the column of the first cell of a field that says something and was not put anywhere yet."""
        for at in self.places.get(name, ()):
            if at not in self.used:
                return at
        return None

    def fields(self, prefix: str) -> list[str]:
        """Return the fields of a subject that have cells."""
        return [name for name in self.places if name.startswith(prefix) and self.peek(name) is not None]

    def rest(self) -> Iterator[int]:
        """Yield the columns whose cells were put nowhere; lone dashes and question marks say nothing."""
        for at, each in enumerate(self.table.columns):
            if at not in self.used and each.becomes != LEAVE and _LETTER.search(self.seen(at)):
                yield at


def source_of(table: TableMap, line: Line) -> Source:
    """Return a row with those of its cells that say something by field."""
    places: dict[str, list[int]] = {}
    for at, each in enumerate(table.columns):
        if each.becomes not in (NOTE, LEAVE) and not _says_nothing(line.cells[at].text):
            places.setdefault(each.becomes, []).append(at)
    return Source(table, line, places)


@lru_cache(maxsize=65536)
def _says_nothing(text: str) -> bool:
    return not text or is_blank(text)


class Said(NamedTuple):
    """A remark about a row: the column of the folder's form, the column of the sheet or None, and why."""

    kind: str
    column: str
    at: int | None
    rule: str


@dataclass
class Made:
    """One row of a file of the folder, with the cells it came from: column of the form to columns of the table."""

    source: Source
    cells: dict[str, str]
    origin: dict[str, list[int]] = field(default_factory=dict)
    said: list[Said] = field(default_factory=list)

    def put(self, column: str, text: str, at: int | None = None) -> None:
        """Fill a cell, out of a column of the sheet."""
        self.cells[column] = text
        if at is not None:
            self.source.used.add(at)
            self.origin.setdefault(column, []).append(at)

    def text(self, column: str, name: str) -> str:
        """Fill a cell with what a field says, as it is written."""
        at = self.source.peek(name)
        if at is None:
            return ""
        text = self.source.seen(at).strip()
        self.put(column, text, at)
        return text

    def doubt(self, column: str, rule: str, at: int | None = None) -> None:
        """Say what is doubtful about a cell; nothing where the rule is empty."""
        if rule:
            self.said.append(Said("doubtful", column, at, rule))

    def refuse(self, column: str, rule: str, at: int | None = None) -> None:
        """Refuse the row for one of its cells."""
        if at is not None:
            self.source.used.add(at)
        self.said.append(Said("refused", column, at, rule))

    def keep_rest(self, column: str, had: str = "") -> None:
        """Keep what was put nowhere in a column of text, each with its heading, behind what the book has there."""
        for at in self.source.rest():
            each = self.source.table.columns[at]
            text = self.source.seen(at).strip()
            heading = each.column.heading or f"column {each.column.letter}"
            self.add_note(column, f"{heading}: {text}", at)
            if not (each.sure and each.becomes == NOTE) and not each.becomes.endswith(".note"):
                self.doubt(column, self._why(column, at, each.becomes), at)
        self.cells[column] = with_note(had, self.cells.get(column, ""))

    def _why(self, column: str, at: int, becomes: str) -> str:
        """Return why a cell is kept in the note, or in what else has room for words."""
        if at in self.source.reasons:
            why = self.source.reasons[at]
        elif becomes == NOTE:
            why = NO_PLACE
        elif is_blank(self.source.seen(at)):
            why = f"says nothing that could be the {plain_name(becomes)}"
        else:
            why = f"cannot be the {plain_name(becomes)} with what else the row says"
        return f"{why}; kept in the {column}"

    def add_note(self, column: str, text: str, at: int | None = None) -> None:
        """Add a line to a column of text."""
        before = self.cells.get(column, "")
        self.put(column, f"{before}\n{text}" if before else text, at)


def with_note(had: str, more: str) -> str:
    """Return a note with lines that it does not have yet."""
    have = had.splitlines()
    return "\n".join([*have, *(line for line in more.splitlines() if line not in have)])


class Gathered:
    """The rows made of all tables, by file, in the order in which they were made."""

    def __init__(self) -> None:
        self._rows: dict[str, list[Made]] = {}

    def add(self, file: str, source: Source, **cells: str) -> Made:
        """Begin a row."""
        made = Made(source, dict(cells))
        self._rows.setdefault(file, []).append(made)
        return made

    def keep(self, file: str, made: Made) -> None:
        """Take in a row that was begun elsewhere."""
        self._rows.setdefault(file, []).append(made)

    def of(self, file: str) -> Sequence[Made]:
        """Return the rows of a file."""
        return self._rows.get(file, ())

    def tables(self) -> list[Table]:
        """Return the tables, whose row numbers lead back to the cells."""
        return [self._table(file, rows) for file, rows in self._rows.items()]

    def _table(self, file: str, rows: Sequence[Made]) -> Table:
        columns = FORMS[file].columns
        table = Table.of(file, columns, [[made.cells.get(name, "") for name in columns] for made in rows])
        for index, made in enumerate(rows):
            for said in made.said:
                value = made.cells.get(said.column, "") if said.at is None else made.source.seen(said.at)
                table.asides.append(Aside(said.kind, index, said.column, value, said.rule))
        return table

    def traced(self, finding: Finding, book: str) -> Finding:
        """Return a finding about a row of a file with the workbook, sheet, row, column and value it came from."""
        if finding.file is None or finding.row is None:
            return finding._replace(file=book)
        made = self._rows[finding.file][finding.row - 2]
        source = made.source
        rule = finding.rule and _FILES.sub(_elsewhere, finding.rule)
        told = finding._replace(rule=rule, file=book, sheet=source.sheet, row=source.number)
        if finding.column is None:
            return told
        places = made.origin.get(finding.column, []) + [said.at for said in made.said if said.at is not None]
        at = next((at for at in places if source.seen(at) == finding.value), None)
        if at is None and made.origin.get(finding.column):
            at = made.origin[finding.column][0]
        if at is None:
            at = next((at for at in range(len(source.table.columns)) if source.seen(at) == finding.value), None)
        if at is None or finding.kind == "changed":
            return told
        return told._replace(column=source.column(at).shown, value=source.seen(at))
