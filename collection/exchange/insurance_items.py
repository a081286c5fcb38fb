"""The sheets of an insurance workbook that list every thing: what it is worth, and the categories of Object ID."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from collection.analysis.insurance import OBJECT_ID
from collection.exchange.insurance_rows import Leave, Line, whereabouts
from collection.exchange.no_formula import sheet_text
from collection.quantity import Money, minor_digits, parse_day

ITEMS, IDENTITY = "Items", "Object ID"
PHOTO_PX = 64
DAY = "yyyy-mm-dd"
_HEADING_FILL, _FLAG_FILL = "FFE8EEF4", "FFFFF2CC"
_PHOTO_WIDTH, _PHOTO_HEIGHT = 10.5, 52.0  # characters, points: room for PHOTO_PX and a rim
_LINE_HEIGHT = 13.5  # points
_PAGES_WIDE = 3  # of A4 on its side: less would be too small to read
_FACE = "Calibri"  # named, since a font without a name is anybody's guess
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
    Column("tested", 10, lambda line: "tested" if line.tested else "untested"),
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

    sheet, columns = book.create_sheet(ITEMS), columns_for(leave if pictures else replace(leave, photos=True))
    _head(sheet, [(column.heading, column.width) for column in columns])
    for at, line in enumerate(lines, 2):
        _fill(sheet, at, line, columns)
        if line.unit_id in pictures:
            _place_picture(sheet, at, columns, pictures[line.unit_id])
    _finish(sheet, len(lines) + 1, len(columns), freeze="D2" if pictures else "C2", wide=_PAGES_WIDE)
    last = max(2, len(lines) + 1)
    letters = {column.heading: get_column_letter(at) for at, column in enumerate(columns, 1)}
    return {heading: f"{ITEMS}!${letter}$2:${letter}${last}" for heading, letter in letters.items()}


def write_identity(book: Any, lines: Sequence[Line]) -> None:
    """Add the sheet of the eleven categories of Object ID, a line for each thing."""
    sheet = book.create_sheet(IDENTITY)
    widths = (12, 22, 22, 24, 28, 34, 14, 14, 16, 18, 36)
    _head(sheet, [("no.", 6), ("tag", 9), *zip(OBJECT_ID, widths, strict=True)])
    shown = [line for line in lines if line.unit_id is not None]
    for at, line in enumerate(shown, 2):
        put(sheet, at, 1, line.number)
        for column, text in enumerate((line.tag, *line.identity), 2):
            put(sheet, at, column, text)
        sheet.row_dimensions[at].height = _height(zip((line.tag, *line.identity), (9, *widths), strict=True))
    _finish(sheet, len(shown) + 1, len(OBJECT_ID) + 2, freeze="C2", wide=2)


def put(sheet: Any, row: int, column: int, value: Any, form: str = "") -> Any:
    """Fill a cell: a text that is never run, a number, money in the digits of its currency, or a day."""
    from openpyxl.styles import Alignment

    cell = sheet.cell(row, column)
    cell.alignment = Alignment(vertical="top", wrap_text=isinstance(value, str))
    if isinstance(value, str):
        if value:
            cell.value, cell.data_type, cell.number_format = sheet_text(value), "s", "@"
    elif isinstance(value, Money):
        digits = minor_digits(value.currency)
        cell.value = Decimal(value.minor).scaleb(-digits)
        cell.number_format = money_form(value.currency)
    elif value is not None:
        cell.value = value
        cell.number_format = form or cell.number_format
    return cell


def bold(size: float = 11) -> Any:
    """Return the font of headings and sums."""
    from openpyxl.styles import Font

    return Font(name=_FACE, bold=True, size=size)


def money_form(currency: str) -> str:
    """Return the number format of a currency."""
    digits = minor_digits(currency)
    return "#,##0" + ("." + "0" * digits if digits else "")


def day_cell(text: str) -> date | str:
    """Return a whole day as a day, a partial one as it is."""
    return parse_day(text).first if text and parse_day(text).full else text


def _fill(sheet: Any, at: int, line: Line, columns: Sequence[Column]) -> None:
    from openpyxl.styles import Alignment, PatternFill

    for column, each in enumerate(columns, 1):
        value = each.of(line)
        cell = put(sheet, at, column, day_cell(value), DAY) if each.holds == "day" else put(sheet, at, column, value)
        if each.holds == "day" or "currency" in each.heading:
            cell.alignment = Alignment(vertical="top", horizontal="center")
        if each.heading == "about the value" and line.flag:
            cell.fill = PatternFill("solid", fgColor=_FLAG_FILL)
    texts = ((each.of(line), each.width) for each in columns if each.holds == "text")
    sheet.row_dimensions[at].height = _height(texts)


def _height(texts: Any) -> float:
    """Return how high a row must be for its longest text, up to a few lines."""
    most = max((-(-len(text) // max(1, int(width) - 1)) for text, width in texts if text), default=1)
    return _LINE_HEIGHT * min(most, _MOST_LINES) + 2


def _place_picture(sheet: Any, at: int, columns: Sequence[Column], jpeg: bytes) -> None:
    from io import BytesIO

    from openpyxl.drawing.image import Image
    from openpyxl.utils import get_column_letter

    column = next(number for number, each in enumerate(columns, 1) if each.heading == "photo")
    sheet.add_image(Image(BytesIO(jpeg)), f"{get_column_letter(column)}{at}")
    sheet.row_dimensions[at].height = max(_PHOTO_HEIGHT, sheet.row_dimensions[at].height)


def _head(sheet: Any, headings: Sequence[tuple[str, float]]) -> None:
    from openpyxl.styles import Alignment, Border, PatternFill, Side
    from openpyxl.utils import get_column_letter

    rule = Border(bottom=Side("thin", color="FF7F8C99"))
    for at, (heading, width) in enumerate(headings, 1):
        cell = put(sheet, 1, at, heading)
        cell.font, cell.fill, cell.border = bold(), PatternFill("solid", fgColor=_HEADING_FILL), rule
        cell.alignment = Alignment(vertical="bottom", wrap_text=True)
        sheet.column_dimensions[get_column_letter(at)].width = width
    sheet.row_dimensions[1].height = 2 * _LINE_HEIGHT + 4


def _finish(sheet: Any, rows: int, columns: int, *, freeze: str, wide: int) -> None:
    from openpyxl.utils import get_column_letter

    sheet.freeze_panes = freeze
    sheet.auto_filter.ref = f"A1:{get_column_letter(columns)}{max(rows, 2)}"
    sheet.print_title_rows, sheet.print_title_cols = "1:1", f"A:{chr(ord(freeze[0]) - 1)}"
    lie_down(sheet, wide)


def lie_down(sheet: Any, wide: int) -> None:
    """Set a sheet on paper that lies on its side, so many pages wide."""
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", sheet.PAPERSIZE_A4
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = wide, 0
    sheet.page_margins.left = sheet.page_margins.right = 0.5
    sheet.page_margins.top, sheet.page_margins.bottom, sheet.page_margins.footer = 0.6, 0.7, 0.3
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.oddFooter.right.text = "&A, page &P of &N"
