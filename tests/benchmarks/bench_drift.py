"""How long looking at drift takes: by hand, `python -m tests.benchmarks.bench_drift [UNITS [BOOK]]`.

A dozen drives (the demo): `drift --json` and `due` as whole processes against `python -c "import click, sqlalchemy,
numpy"`, at most 2.5 times with nothing kept and 2 times with what the run before kept. Large book (10,000 units,
1,000,000 readings, and a tenth of it): `drift --json` with nothing kept at most 30 s and 1 GB, and per reading no more
than 1.5 times what it takes at a tenth, its start taken off; kept, its start (the same command on an empty book) and 3
times the plain SQL that fetches as many rows as it prints; after one new reading at most 3 s; `due --json`, kept, at
the figures of bench_due. BOOK: a book of UNITS units that the present
`big_book.write_big_book` wrote, else one is written. Times are those of the processor, which other work disturbs least.
"""

from __future__ import annotations

import shutil
import sqlite3
import sys
import tempfile
import time
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

from collection.acts.start import start_book
from collection.store.book import BookSettings
from tests.benchmarks import bench_due
from tests.benchmarks.bench_due import Result, command, judged, show
from tests.benchmarks.big_book import write_big_book
from tests.benchmarks.processes import Run, alone
from tests.support.times import NOW, TODAY

TIMES = 5
MOST_COLD, MOST_WARM = 2.5, 2.0
MOST_SECONDS, MOST_MEMORY, MOST_GROWTH, MOST_AFTER_ONE = 30.0, 1000.0, 1.5, 3.0
# A row of each series in numbers, with what names it: as many rows as `drift --json` prints.
ROWS_SQL = """
SELECT u.tag, m.name, s.point, m.measured_in, r.taken_on, r.value, r.stage, i.name
FROM series s
JOIN unit u ON u.id = s.unit_id
JOIN measurement m ON m.id = s.measurement_id
JOIN reading r ON r.id = (SELECT max(id) FROM reading WHERE series_id = s.id)
JOIN instrument i ON i.id = r.instrument_id
WHERE r.value IS NOT NULL
ORDER BY u.tag, m.name, s.point
"""


def best(words: list[str], kept: Path | None = None) -> float:
    """Return the shortest of several runs, each with nothing kept, or all with what is kept there."""
    with tempfile.TemporaryDirectory() as name:
        folders = [kept or Path(name) / str(number) for number in range(TIMES)]
        return min(alone(words, folder).seconds for folder in folders)


def rows_floor(book: Path) -> float:
    """Return how long the bare driver takes to fetch as many rows as are printed, the best of several runs."""
    with sqlite3.connect(book) as connection:
        return min(_fetched(connection) for _ in range(TIMES))


def _fetched(connection: sqlite3.Connection) -> float:
    started = time.process_time()
    connection.execute(ROWS_SQL).fetchall()
    return time.process_time() - started


def small(folder: Path) -> Iterator[Result]:
    """Measure the demo."""
    book, kept = folder / "demo.sqlite3", folder / "kept-demo"
    alone(command(book, "demo"), kept)
    bare = best([sys.executable, "-c", "import click, sqlalchemy, numpy"])
    for words in (["drift", "--json"], ["due"]):
        asked = command(book, *words)
        alone(asked, kept)
        name = " ".join(words)
        yield Result(f"{name}, demo, nothing kept", best(asked) / bare, MOST_COLD)
        yield Result(f"{name}, demo, kept", best(asked, kept) / bare, MOST_WARM)


def cold(book: Path, units: int, start: float, kept: Path) -> tuple[float, Run]:
    """Measure `drift --json` with nothing kept; returns seconds per unit less its start, and the run."""
    whole = alone(command(book, "drift", "--json"), kept)
    show(f"{units} units: drift --json, nothing kept: {whole.seconds:.1f} s, {whole.megabytes:.0f} MB")
    return (whole.seconds - start) / units, whole


def kept_start(empty: Path, *words: str) -> float:
    """Return how long a command takes on an empty book whose result is kept."""
    kept = empty.parent / "kept-empty"
    alone(command(empty, *words), kept)
    return best(command(empty, *words), kept)


def looked_again(book: Path, empty: Path, kept: Path) -> Iterator[Result]:
    """Measure `drift --json` and `due --json` with kept results, then `drift --json` after one new reading."""
    asked, least = command(book, "drift", "--json"), rows_floor(book)
    warm, start = best(asked, kept), kept_start(empty, "drift", "--json")
    show(f"kept: drift --json {warm:.2f} s, its start {start:.2f} s, as many rows by plain SQL {least:.2f} s")
    yield Result("drift --json, kept, less its start, to plain SQL", (warm - start) / least, 3.0)
    due = command(book, "due", "--json")
    alone(due, kept)
    start = kept_start(empty, "due", "--json")
    sums = sum(bench_due.floor(book).values())
    yield Result("due --json, kept, less its start, to its floor", (best(due, kept) - start) / sums, 3.0)
    yield Result("due --json, kept, memory", alone(due, kept).megabytes, bench_due.MOST_MEMORY, "MB")
    alone(command(book, "reading", "add", "D77", "spindle speed", "300.2", "--instrument", "disk A"), kept)
    yield Result("drift --json after one new reading", alone(asked, kept).seconds, MOST_AFTER_ONE, "s")


def large(folder: Path, units: int, given: Path | None) -> Iterator[Result]:
    """Measure a book of so many units, and one of a tenth."""
    empty, book, tenth = (folder / f"{name}.sqlite3" for name in ("empty", "big", "tenth"))
    start_book(str(empty), BookSettings(), today=TODAY, now=NOW)
    start = best(command(empty, "drift", "--json"))
    write_big_book(tenth, units // 10)
    if given is None:
        write_big_book(book, units)
    else:
        shutil.copyfile(given, book)
    each_small, _ = cold(tenth, units // 10, start, folder / "kept-tenth")
    each_large, whole = cold(book, units, start, folder / "kept-big")
    yield Result(f"drift --json, {units} units, nothing kept", whole.seconds, MOST_SECONDS, "s")
    yield Result(f"drift --json, {units} units, memory", whole.megabytes, MOST_MEMORY, "MB")
    yield Result("drift --json, per reading to that at a tenth", each_large / each_small, MOST_GROWTH)
    yield from looked_again(book, empty, folder / "kept-big")


def main() -> int:
    """Measure all and print each figure beside what it may be; leave with 1 if one is over."""
    units = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    given = Path(sys.argv[2]) if len(sys.argv) > 2 else None
    with tempfile.TemporaryDirectory() as name:
        return judged(chain(small(Path(name)), large(Path(name), units, given)))


if __name__ == "__main__":
    sys.exit(main())
