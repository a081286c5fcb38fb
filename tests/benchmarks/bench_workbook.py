"""How long the import of a workbook takes: by hand, `python -m tests.benchmarks.bench_workbook [ROWS]`.

A list of 10,000 units as a person keeps it, one sheet of twelve columns, as a whole process, `import FILE.xlsx --yes`
into a new book. Its floor: reading every cell of it with openpyxl's read-only mode, plus the import of the same rows
from a folder of CSV files; at most 1.5 times that. Shown besides: the reader alone against openpyxl, which it may not
be slower than. Times are those of the processor, which other work disturbs least.
"""

from __future__ import annotations

import csv
import sys
import tempfile
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from tests.benchmarks.bench_import import new_book, run, show
from tests.benchmarks.processes import Run, alone

MOST_RATIO, MOST_READER = 1.5, 1.0
HEADINGS = (
    *("tag", "maker", "model", "kind", "drive type", "serial no", "owner", "location", "standing", "bought on"),
    *("price", "note"),
)
OPENPYXL = """
import sys, openpyxl
for sheet in openpyxl.load_workbook(sys.argv[1], read_only=True, data_only=True):
    for row in sheet.iter_rows(values_only=True):
        pass
"""
READER = """
import sys
from pathlib import Path
from collection.exchange.workbook_read import read_workbook
read_workbook(Path(sys.argv[1]))
"""


def units(count: int) -> list[tuple[str, ...]]:
    """Return the rows of the list, in the columns of HEADINGS."""
    standings = ("ready", "in use", "donor", "awaiting parts")
    return [
        (
            *(f"D{n}", "Halverby", f"DM-{n % 40}", "drive", "belt", f"{n * 7919:09d}", f"Member {n % 30}"),
            *(f"shelf {n % 60}", standings[n % 4], (date(2001, 1, 1) + timedelta(n % 8000)).isoformat()),
            *(f"{n % 90 + 0.5:.2f}", f"from the club sale, box {n % 500}"),
        )
        for n in range(count)
    ]


def write_workbook(file: Path, rows: Sequence[Sequence[str]]) -> Path:
    """Write the list as a workbook: days as days, prices as numbers, all else as text."""
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    sheet = book.create_sheet("my drives")
    sheet.append(HEADINGS)
    for row in rows:
        sheet.append([*row[:9], date.fromisoformat(row[9]), float(row[10]), row[11]])
    book.save(file)
    return file


def write_folder(folder: Path, rows: Sequence[Sequence[str]]) -> Path:
    """Write the same rows as a folder of CSV files."""
    folder.mkdir()
    models = sorted({(row[1], row[2], row[3], row[4]) for row in rows})
    _csv(folder / "models.csv", ("maker", "model", "kind", "drive_type"), models)
    _csv(folder / "locations.csv", ("location",), [(name,) for name in sorted({row[7] for row in rows})])
    _csv(folder / "people.csv", ("person",), [(name,) for name in sorted({row[6] for row in rows})])
    columns = ("tag", "maker", "model", "serial", "owner", "location", "standing", "acquired_on", "price", "note")
    _csv(folder / "units.csv", columns, [(*row[:3], *row[5:]) for row in rows])
    return folder


def _csv(file: Path, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    with file.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([columns, *rows])


def read_alone(code: str, file: Path) -> Run:
    """Read a workbook in a process of its own."""
    return alone([sys.executable, "-c", code, str(file)], loud=True)


def main() -> int:
    """Measure, print each figure beside what it may be, and leave with 1 if one is over."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        rows = units(count)
        file, folder = write_workbook(place / "mine.xlsx", rows), write_folder(place / "in", rows)
        openpyxl, reader = read_alone(OPENPYXL, file), read_alone(READER, file)
        from_csv = run(new_book(place / "csv.sqlite3"), "import", str(folder), "--yes")
        whole = run(new_book(place / "mine.sqlite3"), "import", str(file), "--yes")
    show(f"{count:,} rows of {len(HEADINGS)} columns")
    named = {"openpyxl": openpyxl, "reader": reader, "CSV import": from_csv, "import of the workbook": whole}
    for what, taken in named.items():
        show(f"  {what}: {taken.seconds:.1f} s")
    figures = [
        ("import to openpyxl and CSV import", whole.seconds / (openpyxl.seconds + from_csv.seconds), MOST_RATIO),
        ("reader to openpyxl", reader.seconds / openpyxl.seconds, MOST_READER),
    ]
    for what, value, most in figures:
        show(f"{what}: {value:.2f} x (at most {most:g}) {'over' if value > most else 'ok'}")
    return int(any(value > most for _, value, most in figures))


if __name__ == "__main__":
    sys.exit(main())
