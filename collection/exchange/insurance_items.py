"""The sheets of an insurance workbook that list every thing: what it is worth, and the categories of Object ID."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from collection.analysis.insurance import OBJECT_ID
from collection.exchange.insurance_cells import FLAG, Cells, day_cell
from collection.exchange.insurance_rows import Leave, Line, whereabouts

ITEMS, IDENTITY = "Items", "Object ID"
PHOTO_PX = 64
_PHOTO_WIDTH, _PHOTO_HEIGHT = 10.5, 52.0  # characters, points: room for PHOTO_PX and a rim
_LINE_HEIGHT = 13.5  # points
_PAGES_WIDE = 3  # of A4 on its side: less would be too small to read
_MOST_LINES = 6


class Column(NamedTuple):
    """A column: its heading, width in characters, how a line fills it, and what it holds.

    holds: text, number or day. away: a switch of `Leave` under which the column is left out.
    """

    heading: str
    width: float
    of: Callable[[Line], Any]
    holds: str = "text"
    away: str = ""


COLUMNS = (
    Column("no.", 6, lambda line: line.number, "number"),
    Column("photo", _PHOTO_WIDTH, lambda _line: "", away="photos"),
    Column("tag", 9, lambda line: line.tag),
    Column("section", 11, lambda line: line.section),
    Column("kind", 13, lambda line: line.kind),
    Column("maker", 14, lambda line: line.maker),
    Column("model", 20, lambda line: line.model),
    Column("type", 18, lambda line: line.described),
    Column("serial number", 17, lambda line: line.serial),
    Column("marks", 19, lambda line: line.marks),
    Column("features", 26, lambda line: line.features),
    Column("condition", 22, lambda line: line.condition),
    Column("location", 16, lambda line: line.location),
    Column("away", 26, whereabouts),
    Column("until", 12, lambda line: line.until, "day"),
    Column("owner", 23, lambda line: line.owner, away="owners"),
    Column("acquired on", 12, lambda line: line.acquired_on, "day"),
    Column("acquired from", 18, lambda line: line.bought_from, away="prices"),
    Column("price paid", 11, lambda line: line.price, "number", "prices"),
    Column("price currency", 9, lambda line: line.price.currency if line.price else "", away="prices"),
    Column("present value", 12, lambda line: line.value, "number"),
    Column("currency", 9, lambda line: line.value.currency if line.value else ""),
    Column("counts", 8, lambda line: "yes" if line.counts else "no"),
    Column("basis", 18, lambda line: line.basis),
    Column("valued on", 12, lambda line: line.valued_on, "day"),
    Column("valued by", 18, lambda line: line.valued_by),
    Column("evidence", 26, lambda line: line.evidence),
    Column("about the value", 30, lambda line: line.flag),
    Column("tested", 10, lambda line: "tested" if line.tested else "untested" if line.tag else ""),
    Column("last tested on", 13, lambda line: line.tested_on, "day"),
)


def columns_for(leave: Leave) -> list[Column]:
    """Return the columns that are not left out."""
    return [column for column in COLUMNS if not (column.away and getattr(leave, column.away))]


def write_items(book: Any, lines: Sequence[Line], leave: Leave, pictures: Mapping[int | None, bytes]) -> dict[str, str]:
    """Add the sheet of things, and return where each column stands on it, as an absolute range by its heading.

    pictures: small JPEGs by unit.
    """
    from openpyxl.utils import get_column_letter

    columns = columns_for(leave if pictures else replace(leave, photos=True))
    cells = Cells(book.create_sheet(ITEMS))
    _head(cells, [(column.heading, column.width) for column in columns])
    for at, line in enumerate(lines, 2):
        _fill(cells, at, line, columns)
        if line.unit_id in pictures:
            _place_picture(cells.sheet, at, columns, pictures[line.unit_id])
    _finish(cells, len(lines) + 1, len(columns), freeze="D2" if pictures else "C2", wide=_PAGES_WIDE)
    last = max(2, len(lines) + 1)
    letters = {column.heading: get_column_letter(at) for at, column in enumerate(columns, 1)}
    return {heading: f"{ITEMS}!${letter}$2:${letter}${last}" for heading, letter in letters.items()}


def write_identity(book: Any, lines: Sequence[Line]) -> None:
    """Add the sheet of the eleven categories of Object ID, a line for each thing."""
    cells = Cells(book.create_sheet(IDENTITY))
    widths = (12, 22, 22, 24, 28, 34, 14, 14, 16, 18, 36)
    _head(cells, [("no.", 6), ("tag", 9), *zip(OBJECT_ID, widths, strict=True)])
    shown = [line for line in lines if line.unit_id is not None]
    for at, line in enumerate(shown, 2):
        cells.put(at, 1, line.number, side="center")
        for column, text in enumerate((line.tag, *line.identity), 2):
            cells.put(at, column, text)
        _set_height(cells.sheet, at, zip((line.tag, *line.identity), (9, *widths), strict=True))
    _finish(cells, len(shown) + 1, len(OBJECT_ID) + 2, freeze="C2", wide=2)


def _fill(cells: Cells, at: int, line: Line, columns: Sequence[Column]) -> None:
    texts = []
    for column, each in enumerate(columns, 1):
        value = each.of(line)
        if each.holds == "day":
            cells.put(at, column, day_cell(value), side="center")
        elif "currency" in each.heading or each.heading == "no.":
            cells.put(at, column, value, side="center")
        else:
            cells.put(at, column, value, fill=FLAG if each.heading == "about the value" else "")
        if each.holds == "text":
            texts.append((value, each.width))
    _set_height(cells.sheet, at, texts)


def _set_height(sheet: Any, at: int, texts: Iterable[tuple[str, float]]) -> None:
    """Make a row high enough for its longest text, up to a few lines."""
    most = max((-(-len(text) // max(1, int(width) - 1)) for text, width in texts if text), default=1)
    sheet.row_dimensions[at].height = _LINE_HEIGHT * min(most, _MOST_LINES) + 2


def _place_picture(sheet: Any, at: int, columns: Sequence[Column], jpeg: bytes) -> None:
    from io import BytesIO

    from openpyxl.drawing.image import Image
    from openpyxl.utils import get_column_letter

    column = next(number for number, each in enumerate(columns, 1) if each.heading == "photo")
    sheet.add_image(Image(BytesIO(jpeg)), f"{get_column_letter(column)}{at}")
    sheet.row_dimensions[at].height = max(_PHOTO_HEIGHT, sheet.row_dimensions[at].height)


def _head(cells: Cells, headings: Sequence[tuple[str, float]]) -> None:
    from openpyxl.utils import get_column_letter

    for at, (heading, width) in enumerate(headings, 1):
        cells.heading(1, at, heading)
        cells.sheet.column_dimensions[get_column_letter(at)].width = width
    cells.sheet.row_dimensions[1].height = 2 * _LINE_HEIGHT + 4


def _finish(cells: Cells, rows: int, columns: int, *, freeze: str, wide: int) -> None:
    from openpyxl.utils import get_column_letter

    sheet = cells.sheet
    sheet.freeze_panes = freeze
    sheet.auto_filter.ref = f"A1:{get_column_letter(columns)}{max(rows, 2)}"
    sheet.print_title_rows, sheet.print_title_cols = "1:1", f"A:{chr(ord(freeze[0]) - 1)}"
    cells.lie_down(wide)
