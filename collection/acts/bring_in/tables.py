"""What a reader hands over: the cells of one file, column by column, as text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple


class Aside(NamedTuple):
    """What a reader says of a row, by its place among them: "doubtful" or "refused", column, value, and why."""

    kind: str
    row: int
    column: str
    value: str
    rule: str


@dataclass(slots=True)
class Table:
    """One file: its name, its columns as the form spells them, one list of cells per column.

    rows: where each row stands in the file, the heading being row 1; it tells how many rows there are.
    asides: what whoever made the table found doubtful or has to refuse.
    edited: of rows in which a person changed cells of a known record, which columns: an empty cell among them takes the
    value away, and another spelling of a name is one.
    """

    file: str
    columns: tuple[str, ...]
    cells: list[list[str]]
    rows: Sequence[int]
    asides: list[Aside] = field(default_factory=list)
    edited: dict[int, frozenset[str]] = field(default_factory=dict)

    @classmethod
    def of(cls, file: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
        """Make a table from rows of cells; all are as long as the heading."""
        cells = [[row[place] for row in rows] for place in range(len(columns))]
        return cls(file, tuple(columns), cells, range(2, len(rows) + 2))

    def __len__(self) -> int:
        return len(self.rows)

    def column(self, name: str) -> list[str] | None:
        """Return the cells of a column, or None when the file does not have it."""
        return self.cells[self.columns.index(name)] if name in self.columns else None

    def is_edited(self, name: str, index: int) -> bool:
        """Say whether a person changed this cell of a record on purpose."""
        return name in self.edited.get(index, ())

    def cell(self, name: str, index: int) -> str:
        """Return one cell without blanks around it, empty when the file does not have the column."""
        column = self.column(name)
        return column[index].strip() if column is not None else ""
