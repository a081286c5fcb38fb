"""How long a large import takes: by hand, `python -m tests.benchmarks.bench_import [UNITS]`.

A folder of 10,000 units, 1,000,000 readings and 100,000 services, and a tenth of it, as a whole process, `import --yes`
into a new book. Its floor: executemany of sqlite3 with the very rows that the import wrote, into the same schema with
its indexes, checks and foreign keys, under the same PRAGMAs, as one transaction. At most 3 times the floor, and per row
no more than 1.5 times what it takes at a tenth, in memory too. Shown besides, without a bound: the same folder once
more, which is nothing to do, and the export. Times are those of the processor, which other work disturbs least.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from collection.acts.bring_in.write import ORDER
from collection.acts.start import start_book
from collection.schema import TABLES
from collection.store.book import BookSettings
from collection.store.engine import _PRAGMAS as PRAGMAS
from tests.benchmarks.big_folder import write_big_folder
from tests.benchmarks.processes import Run, alone
from tests.support.cli import program
from tests.support.times import NOW, TODAY

MOST_RATIO, MOST_GROWTH = 3.0, 1.5
_Rows = list[tuple[str, list[str], list[tuple[object, ...]]]]


class Measured(NamedTuple):
    """One size: rows of the folder, the import, its floor in seconds."""

    rows: int
    whole: Run
    floor: float


def run(book: Path, *words: str) -> Run:
    """Run a command on a book in a process of its own."""
    return alone(program("--db", str(book), "--today", TODAY.isoformat(), *words))


def new_book(file: Path) -> Path:
    """Start a book."""
    start_book(str(file), BookSettings(), today=TODAY, now=NOW)
    return file


def floor(imported: Path, fresh: Path) -> float:
    """Return how long the plain driver takes to write what the import wrote."""
    act, rows = _written(imported)
    with sqlite3.connect(fresh, isolation_level=None) as book:
        for pragma in (*PRAGMAS, "foreign_keys = ON"):
            book.execute(f"PRAGMA {pragma}")
        started = time.process_time()
        book.execute("BEGIN IMMEDIATE")
        book.execute("INSERT INTO act (id, key, at, today, command) VALUES (?, 'k', 'x', 'x', 'import')", (act,))
        for table, columns, values in rows:
            marks = ", ".join("?" * len(columns))
            book.executemany(f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})", values)
        book.execute("COMMIT")
        return time.process_time() - started


def _written(imported: Path) -> tuple[int, _Rows]:
    """Return the last act of a book and its rows, with the columns that have anything in them."""
    rows: _Rows = []
    with sqlite3.connect(imported) as book:
        act = book.execute("SELECT max(id) FROM act").fetchone()[0]
        for table in ORDER:
            names = [column.name for column in TABLES[table].c]
            sql = f"SELECT {', '.join(names)} FROM {table} WHERE act_id = ? ORDER BY id"
            found = book.execute(sql, (act,)).fetchall()
            used = [place for place in range(len(names)) if any(row[place] is not None for row in found)]
            if found:
                rows.append((table, [names[place] for place in used], [tuple(row[p] for p in used) for row in found]))
    return act, rows


def measure(place: Path, units: int) -> Measured:
    """Measure one size, and show it."""
    rows = write_big_folder(place / f"in-{units}", units)
    book = new_book(place / f"book-{units}.sqlite3")
    whole = run(book, "import", str(place / f"in-{units}"), "--yes")
    least = floor(book, new_book(place / f"floor-{units}.sqlite3"))
    again = run(book, "import", str(place / f"in-{units}"))
    out = run(book, "export", "folder", str(place / f"out-{units}"))
    show(f"{rows:,} rows: import {whole.seconds:.1f} s, {whole.megabytes:.0f} MB; floor {least:.1f} s")
    show(f"  nothing to do {again.seconds:.1f} s, {again.megabytes:.0f} MB; export {out.seconds:.1f} s")
    return Measured(rows, whole, least)


def show(line: str) -> None:
    """Print a line at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main() -> int:
    """Measure both sizes and print each figure beside what it may be; leave with 1 if one is over."""
    units = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as name:
        few, many = measure(Path(name), units // 10), measure(Path(name), units)
    growth = many.rows / few.rows
    figures = [
        ("import to its floor", many.whole.seconds / many.floor, MOST_RATIO),
        ("import to its floor, a tenth", few.whole.seconds / few.floor, MOST_RATIO),
        ("import, per row to that at a tenth", many.whole.seconds / few.whole.seconds / growth, MOST_GROWTH),
        ("memory, per row to that at a tenth", many.whole.megabytes / few.whole.megabytes / growth, MOST_GROWTH),
    ]
    for what, value, most in figures:
        show(f"{what}: {value:.2f} x (at most {most:g}) {'over' if value > most else 'ok'}")
    return int(any(value > most for _, value, most in figures))


if __name__ == "__main__":
    sys.exit(main())
