"""Read a workbook into rows of cells, each sheet in one pass, with what a reader of tables must know besides.

Values only: formulas are never computed. Names of elements and attributes: ECMA-376 part 1, clauses 18.2 (workbook),
18.3 (worksheets), 18.4 (shared strings), 18.8 (styles); they are compared without their prefixes, so that the strict
and the transitional form, and any writer's prefixes, read alike.
"""

from __future__ import annotations

import gc
import posixpath
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from xml.parsers.expat import ParserCreate

from collection.errors import Refused
from collection.exchange.workbook_check import MOST_PARTS, Parts, open_parts
from collection.exchange.workbook_sheet import LONGEST_TEXT, Budget, SheetReader, SheetRows, refuse_long
from collection.exchange.workbook_values import EMPTY, Cell, Formats, as_written

__all__ = ["CHOICES", "EMPTY", "Cell", "SheetRows", "WorkbookRows", "read_workbook", "sheet_names"]

CHOICES = "example: the words to choose from in the other sheets; this sheet is not read"
_MOST_RELATIONS = 1_000
_MOST_STYLES = 100_000
_LONGEST_FORMAT = 255
_LONGEST_NAME = 100


@dataclass(frozen=True, slots=True)
class WorkbookRows:
    """The sheets of a workbook in their order.

    Chart sheets have no cells and are left out, and so is one that begins with CHOICES: it feeds a template's lists.
    """

    sheets: tuple[SheetRows, ...]


@dataclass(slots=True)
class _Listed:
    """What the workbook part lists: sheets as (name, hidden, relation), and the date system."""

    sheets: list[tuple[str, bool, str]] = field(default_factory=list)
    from_1904: bool = False


def sheet_names(path: Path) -> tuple[str, ...]:
    """Return the names of a workbook's sheets, hidden ones too, without reading any. Raises Refused as below."""
    parts = open_parts(path)
    return tuple(name for name, _, _ in _listed(parts, _workbook_part(parts)).sheets)


def read_workbook(path: Path) -> WorkbookRows:
    """Return what stands in the cells of a workbook (.xlsx), sheet by sheet.

    Raises Refused, before much is unpacked, for what is locked, has macros or links to other files, is another format,
    damaged, hostile or too large, with words that name the file, what was seen, the rule and what to do.
    """
    parts = open_parts(path)
    with _no_collection():
        return _read(parts)


@contextmanager
def _no_collection() -> Iterator[None]:
    """Keep the garbage collector away: two fifths of the time it would look through cells, none of them in a cycle."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _read(parts: Parts) -> WorkbookRows:
    book = _workbook_part(parts)
    listed = _listed(parts, book)
    relations = _relations(parts, book)
    formats = _formats(parts, _first(relations, "styles"), from_1904=listed.from_1904)
    strings = _SharedStrings(parts.file).read(parts, _first(relations, "sharedstrings"))
    budget = Budget(parts.file)
    sheets = []
    read: set[str] = set()
    for name, hidden, relation in listed.sheets:
        kind, part = relations.get(relation, ("worksheet", f"the one of sheet {name!r}"))
        if kind != "worksheet":
            continue
        if part in read:
            parts.damaged(part, f"sheet {name!r} is stored in the place of another one")
        read.add(part)
        sheet = SheetReader(parts, name, formats, strings, budget).read(part, hidden=hidden)
        if not (sheet.rows and sheet.rows[0][1][0].text == CHOICES):
            sheets.append(sheet)
    if not sheets:
        raise Refused(f"{parts.file} has no sheet with cells.", "Look whether it is the right file.")
    return WorkbookRows(tuple(sheets))


def _workbook_part(parts: Parts) -> str:
    """Return the name of the part that lists the sheets."""
    found = ["xl/workbook.xml"]

    def start(name: str, attrs: dict[str, str]) -> None:
        if name == "Relationship" and attrs.get("Type", "").endswith("/officeDocument"):
            found[0] = attrs.get("Target", "").lstrip("/")

    if "_rels/.rels" in parts:
        parts.walk("_rels/.rels", start)
    if found[0] not in parts:
        raise Refused(
            f"{parts.file} is a zip file but no workbook: the part that lists the sheets is missing.",
            'Look whether it is the right file; if so, save it once more as "Excel workbook (.xlsx)".',
        )
    return found[0]


def _listed(parts: Parts, book: str) -> _Listed:
    listed = _Listed()

    def start(name: str, attrs: dict[str, str]) -> None:
        if name == "sheet":
            if attrs.get("name", "").casefold() in {other.casefold() for other, _, _ in listed.sheets}:
                parts.damaged(book, f"two sheets are named {attrs.get('name', '')[:_LONGEST_NAME]!r}")
            relation = next((value for key, value in attrs.items() if key.endswith(":id")), "")
            listed.sheets.append(
                (attrs.get("name", "")[:_LONGEST_NAME], attrs.get("state", "visible") != "visible", relation)
            )
            if len(listed.sheets) > MOST_PARTS:
                parts.damaged(book, f"it lists more than {MOST_PARTS} sheets")
        elif name == "workbookPr" and attrs.get("date1904") in {"1", "true"}:  # extensions have a workbookPr too
            listed.from_1904 = True

    parts.walk(book, start)
    return listed


def _relations(parts: Parts, book: str) -> dict[str, tuple[str, str]]:
    """Return of each relation of the workbook part its kind in small letters and the part that it points to."""
    folder, name = posixpath.split(book)
    part = posixpath.join(folder, "_rels", f"{name}.rels")
    relations: dict[str, tuple[str, str]] = {}

    def start(element: str, attrs: dict[str, str]) -> None:
        if element == "Relationship" and attrs.get("TargetMode") != "External":
            kind = attrs.get("Type", "").rpartition("/")[2].lower()
            target = posixpath.normpath(posixpath.join("/", folder, attrs.get("Target", ""))).lstrip("/")
            relations[attrs.get("Id", "")] = (kind, target)
            if len(relations) > _MOST_RELATIONS:
                parts.damaged(part, f"it lists more than {_MOST_RELATIONS:,} relations")

    parts.walk(part, start)
    return relations


def _first(relations: dict[str, tuple[str, str]], kind: str) -> str | None:
    return next((part for found, part in relations.values() if found == kind), None)


def _formats(parts: Parts, part: str | None, *, from_1904: bool) -> Formats:
    """Return the number formats; a workbook without styles, or whose styles part is missing, has plain numbers only."""
    codes: dict[int, str] = {}
    styles: list[int] = []
    inside = [""]

    def start(name: str, attrs: dict[str, str]) -> None:
        number = attrs.get("numFmtId", "0")
        if name == "numFmt" and inside[-1] == "numFmts":  # those of conditional formats have numbers of their own
            codes[_small(number)] = attrs.get("formatCode", "")[:_LONGEST_FORMAT]
        elif name == "xf" and inside[-1] == "cellXfs":
            styles.append(_small(number))
        if len(styles) > _MOST_STYLES or len(codes) > _MOST_STYLES:
            parts.damaged(str(part), f"it has more than {_MOST_STYLES:,} cell formats")
        inside.append(name)

    def end(_name: str) -> None:
        inside.pop()

    if part is not None and part in parts:
        parts.walk(part, start, end)
    return Formats(codes, styles, from_1904=from_1904)


def _small(number: str) -> int:
    return int(number) if number.isascii() and number.isdigit() and len(number) < 10 else 0


class _SharedStrings:
    """Handlers for the texts that cells point to: rich text joined, readings of characters (phonetic runs) left out."""

    def __init__(self, file: str) -> None:
        self.cells: list[Cell] = []
        self._file = file
        self._budget = Budget(file)
        self._parser = ParserCreate()
        self._pieces: list[str] = []
        self._phonetic = 0

    def read(self, parts: Parts, part: str | None) -> list[Cell]:
        """Return the texts in their order; none where the workbook has no such part."""
        if part is not None and part in parts:
            parts.walk(part, self._start, self._end, self._parser, self._after)
        return self.cells

    def _start(self, name: str, _attrs: dict[str, str]) -> None:
        if name == "rPh":
            self._phonetic += 1
        elif name == "t" and not self._phonetic:
            self._parser.CharacterDataHandler = self._pieces.append

    def _end(self, name: str) -> None:
        if name == "t":
            self._parser.CharacterDataHandler = None
        elif name == "rPh":
            self._phonetic -= 1
        elif name == "si":
            self._after()
            text = as_written("".join(self._pieces))
            self._pieces.clear()
            self._budget.spend(1, len(text))
            self.cells.append(Cell(text, "text") if text else EMPTY)

    def _after(self) -> None:
        if sum(map(len, self._pieces)) > LONGEST_TEXT:
            refuse_long(f"{self._file}, text {len(self.cells) + 1:,} of its cells,", "".join(self._pieces))
