"""Find the tables in a sheet that a person made: where each begins, what its headings are, which rows are its own.

A row is a heading where a run of its cells holds mostly words that headings are made of. What belongs to no table
(titles, totals, notes below) is returned as well, so that nothing of a sheet is dropped without a word.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from itertools import islice
from typing import NamedTuple

from collection.errors import Refused, fold
from collection.exchange.workbook_read import EMPTY, Cell
from collection.exchange.workbook_sheet import SheetRows

TITLE = "a line outside of every table"
TOTALS = "a row of totals"
AGAIN = "the headings once more"
LINE = "a line of text among the rows"
_TOTALS = re.compile(r"(sub-?|grand )?(totals?|sum|summe|gesamt|zwischensumme|zusammen)\b.*", re.ASCII)
_RANGE = re.compile(r"([A-Z]+)([0-9]+):([A-Z]+)([0-9]+)", re.ASCII)
_WORDS_OF_A_LINE = 3
_LONGEST_HEADING = 60
_LOOKED_AT = 200  # rows below a gap between headings, to see whether it parts two tables
MOST_TABLES = 100  # in one sheet
EXAMPLE = "example:"


class Column(NamedTuple):
    """A column of a table: its place in the sheet, counted from 0, and its heading, empty where it has none."""

    place: int
    heading: str

    @property
    def letter(self) -> str:
        """The letters a spreadsheet shows above it."""
        return letters(self.place)

    @property
    def shown(self) -> str:
        """Letter and heading, as a finding names the column."""
        return f"{self.letter} {self.heading}".strip()


class Line(NamedTuple):
    """One row of a table: its number in the sheet and one cell per column of the table."""

    number: int
    cells: tuple[Cell, ...]


class LeftOut(NamedTuple):
    """What of a sheet is in no table, and why; column is the letters of the cell."""

    sheet: str
    row: int | None
    column: str | None
    value: str
    rule: str


@dataclass
class Block:
    """A table in a sheet.

    refused: what keeps it from being read, as (row, range of cells, rule); hidden: rows that are hidden; orders: of
    columns of days, in what order day and month stand, once it was asked for.
    """

    sheet: str
    heading_row: int
    columns: tuple[Column, ...]
    lines: list[Line] = field(default_factory=list)
    refused: list[tuple[int, str, str]] = field(default_factory=list)
    hidden: list[int] = field(default_factory=list)
    hidden_sheet: bool = False
    orders: dict[int, str] = field(default_factory=dict)

    @property
    def place(self) -> str:
        """The range of cells it takes, as A4:H30."""
        last = self.lines[-1].number if self.lines else self.heading_row
        return f"{self.columns[0].letter}{self.heading_row}:{self.columns[-1].letter}{last}"


class Words(NamedTuple):
    """What is known of headings: whether a text is one, and whether a row of them is of a table of its own."""

    known: Callable[[str], bool]
    is_table: Callable[[Sequence[str]], bool]


def letters(place: int) -> str:
    """Return the letters of a column counted from 0: A, B ... Z, AA."""
    text = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def place_of(name: str) -> int:
    """Return the place, counted from 0, of a column's letters."""
    found = 0
    for letter in name:
        found = found * 26 + ord(letter) - ord("A") + 1
    return found - 1


def find_blocks(sheet: SheetRows, words: Words) -> tuple[list[Block], list[LeftOut]]:
    """Return the tables of a sheet from top to bottom, left to right, and what is in none of them."""
    rows = [(number, cells) for number, cells in sheet.rows if any(cell.text.strip() for cell in cells)]
    blocks = _headings(sheet.name, rows, words)
    taken: set[tuple[int, int]] = set()
    hidden = set(sheet.hidden_rows)
    left_out: list[LeftOut] = []
    for block in blocks:
        taken |= {(block.heading_row, column.place) for column in block.columns if column.heading}
        _fill(block, blocks, rows, taken, left_out)
        block.hidden = [line.number for line in block.lines if line.number in hidden]
        block.hidden_sheet = sheet.hidden
        block.refused = list(_merged_across(block, sheet.merged))
    for number, cells in rows:
        for place, cell in enumerate(cells):
            if cell.text.strip() and (number, place) not in taken:
                left_out.append(LeftOut(sheet.name, number, letters(place), cell.text, TITLE))
    return blocks, sorted(left_out, key=lambda one: (one.row or 0, place_of(one.column or "A")))


def _headings(name: str, rows: Sequence[tuple[int, tuple[Cell, ...]]], words: Words) -> list[Block]:
    """Return the tables with their headings and no rows yet."""
    blocks: list[Block] = []
    for at, (number, cells) in enumerate(rows):
        parts = _parts(cells, islice(rows, at + 1, at + 1 + _LOOKED_AT), words)
        covered = [block for block in blocks if any(part & {c.place for c in block.columns} for part in parts)]
        for part in parts:
            again = tuple(cells[place].text.strip() for place in sorted(part))
            if any(again == tuple(c.heading for c in block.columns if c.heading) for block in covered):
                continue
            blocks.append(Block(name, number, tuple(Column(p, _text(cells, p)) for p in sorted(part))))
            if len(blocks) > MOST_TABLES:
                raise Refused(
                    f'Sheet "{name}" seems to have more than {MOST_TABLES} tables.',
                    "Put its lists under one heading row each, or into a workbook of their own.",
                )
    return [_widened(block, blocks, rows) for block in blocks]


def _parts(cells: tuple[Cell, ...], below: Iterable[tuple[int, tuple[Cell, ...]]], words: Words) -> list[set[int]]:
    """Return the places of the headings of each table that begins in a row."""
    runs = [run for run in _runs(cells) if run]
    if all(len(run) < 2 for run in runs) and len(runs) < 2:
        return []
    good = [_is_heading([cells[place] for place in run], words) for run in runs]
    if not any(good) and not _is_heading([cells[place] for run in runs for place in run], words):
        return []
    parts: list[set[int]] = []
    rows = list(below)
    for run, is_good in zip(runs, good, strict=True):
        texts = [cells[place].text for place in run]
        apart = parts and is_good and words.is_table(texts) and _empty(parts[-1], run, rows)
        if not parts or apart:
            parts.append(set(run))
        elif all(cells[place].kind == "text" for place in run):
            parts[-1] |= set(run)
    return [part for part in parts if _is_heading([cells[place] for place in part], words)]


def _runs(cells: tuple[Cell, ...]) -> Iterator[list[int]]:
    """Yield the places of cells that stand side by side without an empty one between."""
    run: list[int] = []
    for place, cell in enumerate(cells):
        if cell.text.strip():
            run.append(place)
        elif run:
            yield run
            run = []
    yield run


def _is_heading(cells: Sequence[Cell], words: Words) -> bool:
    """Say whether cells read like headings: texts, two of them and half of all known."""
    if len(cells) < 2 or any(cell.kind != "text" or len(cell.text) > _LONGEST_HEADING for cell in cells):
        return False
    known, unknown = 0, 0
    for cell in cells:
        if words.known(cell.text):
            known += 1
        else:
            unknown += 1
            if 2 * unknown > len(cells):
                return False
    return known >= 2


def _empty(left: set[int], run: Sequence[int], below: Sequence[tuple[int, tuple[Cell, ...]]]) -> bool:
    """Say whether nothing stands below the gap between two runs."""
    gap = range(max(left) + 1, run[0])
    return not any(_text(cells, place) for _, cells in below for place in gap)


def _widened(block: Block, blocks: Sequence[Block], rows: Sequence[tuple[int, tuple[Cell, ...]]]) -> Block:
    """Return a table with the columns that have cells but no heading, up to where the next table begins."""
    first, last = block.columns[0].place, block.columns[-1].place
    end = _end(block, blocks)
    right = [other.columns[0].place for other in blocks if other.columns[0].place > last]
    limit = min(right, default=last + 3)
    have = {c.place: c.heading for c in block.columns}
    inside = [cells for number, cells in rows if block.heading_row < number < end]
    for place in range(first, limit):
        if place not in have and any(_text(cells, place) for cells in inside):
            have[place] = ""
    return Block(block.sheet, block.heading_row, tuple(Column(p, have[p]) for p in sorted(have)))


def _end(block: Block, blocks: Sequence[Block]) -> float:
    """Return the row of the next heading that takes some of the same columns."""
    first, last = block.columns[0].place, block.columns[-1].place
    return min(
        (
            other.heading_row
            for other in blocks
            if other.heading_row > block.heading_row
            and other.columns[0].place <= last
            and first <= other.columns[-1].place
        ),
        default=float("inf"),
    )


def _fill(
    block: Block,
    blocks: Sequence[Block],
    rows: Sequence[tuple[int, tuple[Cell, ...]]],
    taken: set[tuple[int, int]],
    left_out: list[LeftOut],
) -> None:
    """Give a table its rows; what is among them and is none is left out, with its reason."""
    end = _end(block, blocks)
    headings = [column.heading for column in block.columns]
    own: list[Line] = []
    for number, cells in rows:
        if block.heading_row < number < end:
            line = Line(number, tuple(_at(cells, column.place) for column in block.columns))
            if any(cell.text.strip() for cell in line.cells):
                own.append(line)
    while own and end < float("inf") and _is_title(own):
        own.pop()
    sums = _Sums(len(headings))
    for at, line in enumerate(own):
        taken |= {(line.number, column.place) for column in block.columns}
        reason = _reason(line, headings)
        last = at + 1 == len(own) or own[at + 1].number > line.number + 1
        if reason is None and last and sums.are(line):
            reason = TOTALS
        if reason is None:
            block.lines.append(line)
            sums.add(line)
        elif reason != EXAMPLE:
            left_out += [
                LeftOut(block.sheet, line.number, column.letter, cell.text, reason)
                for column, cell in zip(block.columns, line.cells, strict=True)
                if cell.text.strip()
            ]


def _is_title(own: Sequence[Line]) -> bool:
    """Say whether the last of the rows above another table is its title: one text, with a gap above it."""
    filled = [cell for cell in own[-1].cells if cell.text.strip()]
    gap = len(own) == 1 or own[-1].number > own[-2].number + 1
    return len(filled) == 1 and filled[0].kind == "text" and (gap or _is_line(filled[0]))


def _is_line(cell: Cell) -> bool:
    """Say whether a lone text reads like a line of words and not like the name of a thing."""
    text = cell.text.strip()
    return len(text.split()) >= _WORDS_OF_A_LINE or text.endswith(":")


def _reason(line: Line, headings: Sequence[str]) -> str | None:
    """Return why a row is none of the table's by what it says, or None where it is one."""
    texts = [cell.text.strip() for cell in line.cells]
    filled = [cell for cell in line.cells if cell.text.strip()]
    if texts == list(headings):
        return AGAIN
    if texts[0].casefold().startswith(EXAMPLE):
        return EXAMPLE
    if _TOTALS.fullmatch(fold(filled[0].text)) and all(re.search("[0-9]", cell.text) for cell in filled[1:]):
        return TOTALS
    if len(filled) == 1 and len(headings) > 2 and filled[0].kind == "text" and _is_line(filled[0]):
        return LINE
    return None


class _Sums:
    """The sums of the numbers in each column so far."""

    def __init__(self, width: int) -> None:
        self._sums = [Decimal(0)] * width
        self._counts = [0] * width

    def add(self, line: Line) -> None:
        """Take in a row."""
        for at, cell in enumerate(line.cells):
            number = _number(cell)
            if number is not None:
                self._sums[at] += number
                self._counts[at] += 1

    def are(self, line: Line) -> bool:
        """Say whether all that a row has is the sums, each of two numbers or more."""
        return all(
            not cell.text.strip() or (count > 1 and _number(cell) == total)
            for cell, total, count in zip(line.cells, self._sums, self._counts, strict=True)
        )


def _number(cell: Cell) -> Decimal | None:
    if cell.kind != "number":
        return None
    try:
        return Decimal(cell.text)
    except InvalidOperation:
        return None


def _merged_across(block: Block, merged: Sequence[str]) -> Iterator[tuple[int, str, str]]:
    """Yield the merged ranges that touch headings or rows of a table."""
    numbers = {block.heading_row, *(line.number for line in block.lines)}
    first, last = block.columns[0].place, block.columns[-1].place
    for area in merged:
        found = _RANGE.fullmatch(area)
        if found is None or place_of(found[3]) < first or place_of(found[1]) > last:
            continue
        touched = [number for number in numbers if int(found[2]) <= number <= int(found[4])]
        if touched:
            rule = f"cells {area} are merged across the table, so which row each belongs to is not told; unmerge them"
            yield min(touched), area, rule


def _at(cells: Sequence[Cell], place: int) -> Cell:
    return cells[place] if place < len(cells) else EMPTY


def _text(cells: Sequence[Cell], place: int) -> str:
    return _at(cells, place).text.strip()
