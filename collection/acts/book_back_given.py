"""What a reader of an exported workbook hands over: of which book it is, and the rows of its sheets as they are now."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple

from collection.acts.bring_in.sheet import Finding

LEFT_OUT = "left out"


class Origin(NamedTuple):
    """Where a workbook says it is from: the key of its book, and the last act at the time with the hash of its seal."""

    file: str
    book: str
    act: str
    seal: str


class BackColumn(NamedTuple):
    """A column of the CSV form in a sheet.

    shown: its letters and heading, as "F price"; "" where the sheet has lost it. said: one spelling of a cell's text.
    """

    name: str
    shown: str
    said: Callable[[str], str]


class BackRow(NamedTuple):
    """A row: its number in the sheet, the key it left with, what it said then, and its cells as text.

    key, exported: "" for a row that was added by hand. exported: version and marks of its cells, as "3:9fA-...".
    cells: in the order of the form; "" for an empty one and in a column that the sheet has lost. beside: what the
    column says that only shows in what a number is measured.
    """

    number: int
    key: str
    exported: str
    cells: tuple[str, ...]
    beside: str = ""

    @property
    def mark(self) -> str:
        """The marks of its cells when it was exported."""
        return self.exported.rpartition(":")[2]


@dataclass(slots=True)
class BackSheet:
    """A sheet that mirrors one file of the CSV form.

    findings: what the reader refuses or leaves out of it. beside: letters and heading of the column that is only shown.
    """

    file: str
    name: str
    columns: tuple[BackColumn, ...]
    rows: list[BackRow]
    findings: list[Finding] = field(default_factory=list)
    beside: str = ""

    def place(self, column: str) -> int:
        """Return where a column of the form stands in the cells of a row."""
        return next(at for at, each in enumerate(self.columns) if each.name == column)

    def shown(self, column: str | None) -> str | None:
        """Return a column as a person finds it in the sheet."""
        return next((each.shown for each in self.columns if each.name == column and each.shown), column)
