"""The form of an exported workbook: its sheets, their columns, and how its own sheet and hidden columns are named.

A sheet mirrors one file of the CSV form (`collection.views.folder.form`) and has all of that file's columns, with
numbers, days and words as cells of their kind. A column of the kind SHOWN stands in no file: it tells a person what a
number is measured in, is not in the mark of a row and is not read back.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from collection.analysis import row_marks
from collection.exchange.book_columns_table import TABLE
from collection.schema.equipment import DRIVE_TYPES, ENTRY_KINDS, SERIAL_STATES, STANDINGS
from collection.schema.measurement import STAGES
from collection.schema.people import DIRECTIONS, ROLES
from collection.schema.supplies import BASES, TRACKED

# Kinds of cell. AS_TYPED: short text that no program may turn into a number or a day ("00123", "3/94").
# DAY: a date where the very day is known, else text ("2025-10").
TEXT, AS_TYPED, WHOLE, NUMBER, MONEY = "text", "as typed", "whole", "number", "money"
DAY, YES_NO, SHOWN = "day", "yes-no", "shown"
_MARKED_AS = {
    **dict.fromkeys((WHOLE, NUMBER, MONEY), row_marks.NUMBER),
    **dict.fromkeys((TEXT, AS_TYPED), row_marks.TEXT),
    DAY: row_marks.DAY,
    YES_NO: row_marks.YES_NO,
}

# The two hidden columns of every sheet, and the hidden sheet that tells which book a workbook is of.
ROW_KEY, AS_EXPORTED = "row key", "as exported"
BOOK_SHEET = "spindlebook"
FORM, BOOK, ACT, SEAL, PROGRAM, TODAY = "form", "book", "act", "seal", "program", "today"
ONLY, OF_UNITS = "only", "of units"
FORM_NUMBER = 1

WORDS: Mapping[str, Sequence[str]] = {
    "drive types": DRIVE_TYPES,
    "serial states": SERIAL_STATES,
    "standings": STANDINGS,
    "entries": ENTRY_KINDS,
    "stages": STAGES,
    "uses": ("use", "discard", "return", "short"),
    "bases": BASES,
    "tracked": TRACKED,
    "directions": DIRECTIONS,
    "roles": ROLES,
    "yes or no": ("yes", "no"),
}

# What no part of a workbook can hold (XML 1.0, production 2), in the book or not.
_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True)
class SheetColumn:
    """A column: its name in the CSV form, its heading, kind of cell, greatest width in characters, what it means.

    words: the only ones it may hold, none where it may hold others. names: which names of the book are offered.
    """

    column: str
    heading: str
    kind: str
    width: int
    meaning: str
    words: Sequence[str] = ()
    names: str = ""

    def said(self, text: str) -> str:
        """Return what a cell of this column says, in one spelling: what rows are compared and marked by."""
        return row_marks.plain(_MARKED_AS[self.kind], carried(text))


@dataclass(frozen=True, slots=True)
class SheetForm:
    """A sheet: its name, the file of the CSV form it mirrors, what it tells, its columns from left to right."""

    name: str
    file: str
    tells: str
    columns: tuple[SheetColumn, ...]

    @property
    def marked(self) -> tuple[SheetColumn, ...]:
        """The columns of the file, in its order: those in the mark of a row."""
        return tuple(column for column in self.columns if column.kind != SHOWN)


def carried(text: str) -> str:
    """Return a text as a cell can hold it: without control characters, line ends as one character."""
    return _NO_XML.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))


def as_exported(version: int | None, form: SheetForm, cells: Sequence[str]) -> str:
    """Return the text of the hidden column AS_EXPORTED: the row's version, none if it has none, and its mark.

    cells: those of the file's columns, in its order.
    """
    mark = row_marks.row_mark(column.said(cell) for column, cell in zip(form.marked, cells, strict=True))
    return f"{'' if version is None else version}:{mark}"


@cache
def sheets() -> Mapping[str, SheetForm]:
    """Return the form of every sheet by its name, in the order in which they stand."""
    sections = TABLE.replace("\n    ", " ").strip().split("\n\n")
    return {form.name: form for form in map(_sheet, sections)}


def sheet_of(file: str) -> SheetForm:
    """Return the sheet that mirrors a file of the CSV form. Raises KeyError for no such file."""
    return sheets()[file.removesuffix(".csv")]


def _sheet(section: str) -> SheetForm:
    head, *lines = section.split("\n")
    name, tells = head.removeprefix("= ").split(" | ")
    return SheetForm(name, f"{name}.csv", tells, tuple(map(_column, lines)))


def _column(line: str) -> SheetColumn:
    name, kind, width, heading, choices, meaning = (part.strip() for part in line.split("|"))
    sort, _, of = choices.partition(" ")
    words = WORDS["yes or no"] if kind == YES_NO else WORDS[of] if sort == "words" else ()
    names = of if sort == "names" else ""
    return SheetColumn(name, heading or name.replace("_", " "), kind, int(width), meaning, words, names)
