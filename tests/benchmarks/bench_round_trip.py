"""How long a workbook takes on its way out and back: by hand, `python -m tests.benchmarks.bench_round_trip [ROWS]`.

A book of 50,000 readings with twelve columns filled, as a whole process, `export workbook --only readings`. Its floor:
openpyxl's write-only mode with the very same cells (those that nobody sees among them) in their styles, out of memory,
by a process that loads nothing else; at most 1.5 times that, in less than 150 MB.

Back: the whole process `import FILE.xlsx`, which parses and compares, as exported and with one note in a hundred typed
over. Its floor: openpyxl's read-only mode over the same file, plus one query of the same rows; at most 1.5 times that,
in less than 150 MB. Times are those of the processor, which other work disturbs least.
"""

from __future__ import annotations

import pickle
import re
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from multiprocessing import get_context
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZipFile

from collection.exchange.workbook_read import read_workbook
from collection.store.engine import open_engine, reading
from collection.views.folder.rows import folder_rows
from tests.benchmarks.bench_import import run, show
from tests.benchmarks.bench_workbook import OPENPYXL, read_alone
from tests.benchmarks.big_book import write_big_book
from tests.benchmarks.processes import Run, alone
from tests.support.times import TODAY

MOST_RATIO, MOST_MEGABYTES = 1.5, 150
_READINGS_A_UNIT = 100
FLOOR = """
import pickle, sys
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Border, Font, Side

rows = pickle.load(open(sys.argv[1], "rb"))
book = Workbook(write_only=True)
sheet = book.create_sheet("readings")
cells = {}
for row in rows:
    written = []
    for place, said in enumerate(row):
        if said is None:
            written.append(None)
            continue
        kind, value = said
        if (place, kind) not in cells:
            cell = cells[place, kind] = WriteOnlyCell(sheet)
            cell.font = Font(name="Calibri", size=11, color="FF1F2933")
            cell.alignment = Alignment(horizontal="left" if kind == "text" else "right", vertical="top", indent=1)
            cell.border = Border(bottom=Side("thin", "FFD5DBE1"))
            cell.number_format = {"text": "@", "number": "0.000", "date": "yyyy-mm-dd"}[kind]
        cell = cells[place, kind]
        cell.value = value
        written.append(cell)
    sheet.append(written)
book.save(sys.argv[2])
"""


def write_book(file: Path, rows: int) -> Path:
    """Write a book of so many readings, each with point, disk, warm-up, load and note besides what it must have."""
    write_big_book(file, rows // _READINGS_A_UNIT)
    with sqlite3.connect(file) as book:
        triggers = "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name IN ('reading', 'reading_aside')"
        for (name,) in book.execute(triggers).fetchall():
            book.execute(f"DROP TRIGGER {name}")
        book.execute("DELETE FROM reading_aside")  # what is set aside cannot be corrected
        book.execute(
            "UPDATE reading SET disk = 'work disk ' || (id % 7), warm_up_minutes = 10 + id % 20,"
            " load = 'load ' || (id % 3), note = 'read on the evening ' || id"
        )
    book.close()
    return file


def floor(workbook: Path, place: Path) -> Run:
    """Write the cells of a workbook anew with openpyxl alone; the time to load them is not among it."""
    (sheet,) = [sheet for sheet in read_workbook(workbook).sheets if sheet.name == "readings"]
    kinds: dict[str, Callable[[str], object]] = {"number": float, "text": str, "date": _day}
    rows = [
        [(cell.kind, kinds[cell.kind](cell.text)) if cell.text else None for cell in cells] for _, cells in sheet.rows
    ]
    (place / "rows.pickle").write_bytes(pickle.dumps(rows))
    loading = _alone("import pickle, sys; pickle.load(open(sys.argv[1], 'rb'))", place)
    writing = _alone(FLOOR, place)
    return Run(writing.seconds - loading.seconds, writing.megabytes)


def edited(workbook: Path, file: Path) -> Path:
    """Return a copy of a workbook in which one note in a hundred was typed over."""
    with ZipFile(workbook) as source, ZipFile(file, "w", ZIP_DEFLATED) as target:
        for name in source.namelist():
            target.writestr(name, re.sub(rb"evening ([0-9]*00)<", rb"morning \1<", source.read(name)))
    return file


def query(book: Path) -> float:
    """Return how long one query of the rows takes, as they are told in the form."""
    engine = open_engine(str(book))
    with reading(engine) as conn:
        started = time.process_time()
        for _ in folder_rows(conn, "readings.csv", TODAY):
            pass
        return time.process_time() - started


def _day(text: str) -> object:
    from datetime import date

    return date.fromisoformat(text)


def _alone(code: str, place: Path) -> Run:
    return alone([sys.executable, "-c", code, str(place / "rows.pickle"), str(place / "floor.xlsx")], loud=True)


def main() -> int:
    """Measure, print each figure beside what it may be, and leave with 1 if one is over."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 50_000
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        book, file = write_book(place / "book.sqlite3", count), place / "out.xlsx"
        out = run(book, "export", "workbook", str(file), "--only", "readings")
        size = file.stat().st_size / 1e6
        # Before the floor of the export, whose rows swell this process: a child counts what its parent has (getrusage).
        # So the workbook is edited by a process of its own.
        with get_context("spawn").Pool(1) as other:
            typed_over = other.apply(edited, (file, place / "changed.xlsx"))
        back, changed = run(book, "import", str(file)), run(book, "import", str(typed_over))
        least = floor(file, place)
        least_back = read_alone(OPENPYXL, file).seconds + query(book)
    show(f"{count:,} readings, a workbook of {size:.1f} MB")
    show(f"  export: {out.seconds:.1f} s, {out.megabytes:.0f} MB;  floor: {least.seconds:.1f} s")
    show(f"  import: {back.seconds:.1f} s, {back.megabytes:.0f} MB;  floor: {least_back:.1f} s")
    show(f"  import of {count // 100:,} changes: {changed.seconds:.1f} s, {changed.megabytes:.0f} MB")
    figures = [
        ("export to openpyxl's write-only mode", out.seconds / least.seconds, MOST_RATIO),
        ("memory of the export, MB", out.megabytes, MOST_MEGABYTES),
        ("import to openpyxl's read-only mode and a query", back.seconds / least_back, MOST_RATIO),
        ("memory of the import, MB", back.megabytes, MOST_MEGABYTES),
        ("import of changes to the same", changed.seconds / least_back, MOST_RATIO),
        ("memory of the import of changes, MB", changed.megabytes, MOST_MEGABYTES),
    ]
    for what, value, most in figures:
        show(f"{what}: {value:.2f} (at most {most:g}) {'over' if value > most else 'ok'}")
    return int(any(value > most for _, value, most in figures))


if __name__ == "__main__":
    sys.exit(main())
