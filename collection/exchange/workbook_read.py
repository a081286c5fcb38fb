"""Read a workbook into rows of cells, each sheet in one pass, with what a reader of tables must know besides.

Values only: formulas are never computed. Names of elements and attributes: ECMA-376 part 1, clauses 18.2 (workbook),
18.3 (worksheets), 18.4 (shared strings), 18.8 (styles); they are compared without their prefixes, so that the strict
and the transitional form, and any writer's prefixes, read alike.
"""

from __future__ import annotations

import posixpath
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from xml.parsers.expat import ParserCreate

from collection.errors import Refused
from collection.exchange.workbook_check import Parts, open_parts
from collection.exchange.workbook_sheet import Budget, SheetReader, SheetRows
from collection.exchange.workbook_values import EMPTY, Cell, Formats, as_written

__all__ = ["EMPTY", "Cell", "SheetRows", "WorkbookRows", "read_workbook"]


@dataclass(frozen=True, slots=True)
class WorkbookRows:
    """The sheets of a workbook in their order; chart sheets have no cells and are left out."""

    sheets: tuple[SheetRows, ...]


@dataclass(slots=True)
class _Listed:
    """What the workbook part lists: sheets as (name, hidden, relation), and the date system."""

    sheets: list[tuple[str, bool, str]] = field(default_factory=list)
    from_1904: bool = False


def read_workbook(path: Path) -> WorkbookRows:
    """Return what stands in the cells of a workbook (.xlsx), sheet by sheet.

    Raises Refused, before much is unpacked, for what is locked, has macros or links to other files, is another format,
    damaged, hostile or too large, with words that name the file, what was seen, the rule and what to do.
    """
    parts = open_parts(path)
    book = _workbook_part(parts)
    listed = _listed(parts, book)
    relations = _relations(parts, book)
    formats = _formats(parts, _first(relations, "styles"), from_1904=listed.from_1904)
    strings = _shared_strings(parts, _first(relations, "sharedstrings"))
    budget = Budget()
    sheets = []
    read: set[str] = set()
    for name, hidden, relation in listed.sheets:
        kind, part = relations.get(relation, ("worksheet", f"the one of sheet {name!r}"))
        if kind != "worksheet":
            continue
        if part in read:
            parts.damaged(part, f"sheet {name!r} is stored in the place of another one")
        read.add(part)
        sheets.append(SheetReader(parts, name, formats, strings, budget).read(part, hidden=hidden))
    if not sheets:
        raise Refused(f"{parts.file} has no sheet with cells.", "Look whether it is the right file.")
    return WorkbookRows(tuple(sheets))


def _local(name: str) -> str:
    return name.rpartition(":")[2]


def _each(parts: Parts, part: str, start: Callable[[str, dict[str, str]], None]) -> None:
    """Call `start` with the plain name and attributes of every element of a part."""
    parts.parse(part, lambda name, attrs: start(_local(name), attrs), lambda _name: None)


def _workbook_part(parts: Parts) -> str:
    """Return the name of the part that lists the sheets."""
    found: list[str] = []

    def start(name: str, attrs: dict[str, str]) -> None:
        if name == "Relationship" and attrs.get("Type", "").endswith("/officeDocument"):
            found.append(attrs.get("Target", "").lstrip("/"))

    if "_rels/.rels" in parts:
        _each(parts, "_rels/.rels", start)
    part = found[0] if found else "xl/workbook.xml"
    if part not in parts:
        raise Refused(
            f"{parts.file} is a zip file but no workbook: the part that lists the sheets is missing.",
            'Look whether it is the right file; if so, save it once more as "Excel workbook (.xlsx)".',
        )
    return part


def _listed(parts: Parts, book: str) -> _Listed:
    listed = _Listed()

    def start(name: str, attrs: dict[str, str]) -> None:
        if name == "sheet":
            relation = next((value for key, value in attrs.items() if key.endswith(":id")), "")
            listed.sheets.append((attrs.get("name", ""), attrs.get("state", "visible") != "visible", relation))
        elif name == "workbookPr":
            listed.from_1904 = attrs.get("date1904") in {"1", "true"}

    _each(parts, book, start)
    return listed


def _relations(parts: Parts, book: str) -> dict[str, tuple[str, str]]:
    """Return of each relation of the workbook part its kind in small letters and the part that it points to."""
    folder, name = posixpath.split(book)
    relations: dict[str, tuple[str, str]] = {}

    def start(element: str, attrs: dict[str, str]) -> None:
        if element == "Relationship" and attrs.get("TargetMode") != "External":
            kind = attrs.get("Type", "").rpartition("/")[2].lower()
            target = posixpath.normpath(posixpath.join("/", folder, attrs.get("Target", ""))).lstrip("/")
            relations[attrs.get("Id", "")] = (kind, target)

    _each(parts, posixpath.join(folder, "_rels", f"{name}.rels"), start)
    return relations


def _first(relations: dict[str, tuple[str, str]], kind: str) -> str | None:
    return next((part for found, part in relations.values() if found == kind), None)


def _formats(parts: Parts, part: str | None, *, from_1904: bool) -> Formats:
    """Return the number formats; a workbook without styles, or whose styles part is missing, has plain numbers only."""
    codes: dict[int, str] = {}
    styles: list[int] = []
    inside: list[str] = []

    def start(name: str, attrs: dict[str, str]) -> None:
        name = _local(name)
        inside.append(name)
        if name == "numFmt" and attrs.get("numFmtId", "").isdigit():
            codes[int(attrs["numFmtId"])] = attrs.get("formatCode", "")
        elif name == "xf" and "cellXfs" in inside[-2:]:
            number = attrs.get("numFmtId", "0")
            styles.append(int(number) if number.isdigit() else 0)

    def end(_name: str) -> None:
        inside.pop()

    if part is not None and part in parts:
        parts.parse(part, start, end)
    return Formats(codes, styles, from_1904=from_1904)


def _shared_strings(parts: Parts, part: str | None) -> list[Cell]:
    """Return the texts that cells point to, rich text joined, readings of characters (phonetic runs) left out."""
    cells: list[Cell] = []
    if part is None or part not in parts:
        return cells
    parser = ParserCreate()
    pieces: list[str] = []
    phonetic = [0]

    def start(name: str, _attrs: dict[str, str]) -> None:
        name = _local(name)
        if name == "t" and not phonetic[0]:
            parser.CharacterDataHandler = pieces.append
        elif name == "rPh":
            phonetic[0] += 1

    def end(name: str) -> None:
        name = _local(name)
        if name == "t":
            parser.CharacterDataHandler = None
        elif name == "rPh":
            phonetic[0] -= 1
        elif name == "si":
            text = as_written("".join(pieces))
            pieces.clear()
            cells.append(Cell(text, "text") if text else EMPTY)

    parts.parse(part, start, end, parser)
    return cells
