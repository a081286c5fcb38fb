"""Order sheets: one page to send for each supplier, of the order that is next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from collection.cli.face import Face


def write_order_sheets(
    face: Face, folder: Path, rows: Sequence[dict[str, Any]], report_dir: Path | None, paper: str
) -> Iterator[str]:
    """Write the sheets of what is to be ordered into a folder, and yield what was written, line by line."""
    from collection.exchange.order_sheet import order_sheets, write_sheets
    from collection.quantity import show_day
    from collection.store.book import open_book

    with face.view() as connection:
        settings = open_book(connection).settings
    sheets = order_sheets(rows, show_day(face.today.isoformat(), settings.date_form), settings.name or "")
    for sheet, files in zip(sheets, write_sheets(folder, sheets, report_dir, paper=paper), strict=True):
        yield f"{sheet.title}: {', '.join(map(str, files))}"
    if not sheets:
        yield "Nothing is to be ordered: no sheet was written."
