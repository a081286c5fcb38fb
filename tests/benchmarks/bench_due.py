"""How long looking takes: by hand, `python -m tests.benchmarks.bench_due [UNITS]`.

Small book: `due` and `unit show` as whole processes against `python -c "import click, sqlalchemy, numpy"`; at most
2 times. Large book (10,000 units, 1,000,000 readings, 100,000 services, and a tenth of it): `due --json` as a whole
process, less the same command on an empty book (its start), against its floor: the plain SQL that fetches the same
facts, which are the statements named in FLOOR, run by the bare driver in a process of their own. At most 3 times the
floor, below 500 MB, and per unit no more than 1.5 times what it takes at a tenth; with nothing kept, and once more
with the result that the run before kept. Times are those of the processor, which other work disturbs least.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from collection.acts.start import start_book
from collection.store.book import BookSettings
from collection.store.engine import open_engine
from collection.views import due, limits, procedure_rules, readings, units
from tests.benchmarks.big_book import write_big_book
from tests.benchmarks.processes import Run, alone
from tests.support.cli import program
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

TIMES = 5
MOST_START, MOST_RATIO, MOST_MEMORY, MOST_GROWTH = 2.0, 3.0, 500.0, 1.5
FLOOR = {
    "units": units.UNITS_SQL,
    "loans": units.LOANS_SQL,
    "last readings": readings.LAST_READINGS_SQL,
    "limits": limits.LIMITS_SQL,
    "last done": due.LAST_DONE_SQL,
    "last service": due.LAST_SERVICE_SQL,
    "baselines": due.BASELINES_SQL,
    "faults": due.FAULTS_SQL,
    "hours": due.HOURS_SQL,
    "loans back": due.LOANS_BACK_SQL,
    "standings": due.STANDINGS_SQL,
    "procedures": procedure_rules.PROCEDURES_SQL,
}


class Result(NamedTuple):
    """What was measured, with what it may be at most."""

    what: str
    value: float
    most: float
    unit: str = "x"


def judged(results: Iterable[Result]) -> int:
    """Print each figure as it comes, beside what it may be; return 1 if one is over."""
    over = 0
    for result in results:
        verdict = "over" if result.value > result.most else "ok"
        over |= result.value > result.most
        show(f"{result.what}: {result.value:.2f} {result.unit} (at most {result.most:g}) {verdict}")
    return int(over)


def run(words: list[str], *, warm: bool = False) -> Run:
    """Return the best of several runs of a process; `warm`: each finds the results that the one before kept."""
    with tempfile.TemporaryDirectory() as kept:
        if warm:
            alone(words, kept)
        found = [alone(words, kept if warm else f"{kept}/{number}") for number in range(TIMES)]
    return Run(min(one.seconds for one in found), max(one.megabytes for one in found))


def command(book: Path, *words: str) -> list[str]:
    """Return a command line on a book."""
    return program("--db", str(book), "--today", TODAY.isoformat(), *words)


def floor(book: Path) -> dict[str, float]:
    """Return how long each statement of FLOOR takes with the bare driver, the best of several runs each."""
    with sqlite3.connect(book) as connection:
        return {
            name: min(_timed(lambda sql=sql: _fetch(connection, sql)) for _ in range(TIMES))  # type: ignore[misc]
            for name, sql in FLOOR.items()
        }


def _fetch(connection: sqlite3.Connection, sql: str) -> None:
    bound = {"day": TODAY.isoformat()} if ":day" in sql else {}
    connection.execute(sql.replace("{only}", ""), bound).fetchall()


def _timed(work: Callable[[], None]) -> float:
    started = time.process_time()
    work()
    return time.process_time() - started


def small(folder: Path) -> Iterator[Result]:
    """Measure the start: a book as small as the demo."""
    book = folder / "small.sqlite3"
    start_book(str(book), BookSettings(), today=TODAY, now=NOW)
    engine = open_engine(str(book))
    with shelf(engine) as made:
        for number in range(1, 25):
            unit = made.unit(f"D{number}")
            service = made.service(unit, f"2025-0{number % 9 + 1}-01", "clean head", "check spindle speed")
            made.reading(made.series(unit), "2025-10-01", 299.0 + number / 4, "as left", service)
    engine.dispose()
    bare = run([sys.executable, "-c", "import click, sqlalchemy, numpy"])
    for words in (["due"], ["unit", "show", "D1"]):
        yield Result(" ".join(words), run(command(book, *words)).seconds / bare.seconds, MOST_START)


def large(folder: Path, count: int, start: float) -> tuple[float, list[Result]]:
    """Measure a book of `count` units; returns seconds per unit with the results."""
    book = folder / f"big-{count}.sqlite3"
    write_big_book(book, count)
    sums = floor(book)
    whole, warm = run(command(book, "due", "--json")), run(command(book, "due", "--json"), warm=True)
    spent, least = whole.seconds - start, sum(sums.values())
    slowest = ", ".join(f"{name} {sums[name]:.2f} s" for name in sorted(sums, key=sums.__getitem__)[-3:])
    show(f"{count} units: due --json {whole.seconds:.2f} s, start {start:.2f} s, floor {least:.2f} s ({slowest})")
    book.unlink()
    return spent / count, [
        Result(f"due --json, {count} units, to its floor", spent / least, MOST_RATIO),
        Result(f"due --json, {count} units, kept, to its floor", (warm.seconds - start) / least, MOST_RATIO),
        Result(f"due --json, {count} units, memory", whole.megabytes, MOST_MEMORY, "MB"),
    ]


def show(line: str) -> None:
    """Print a line at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main() -> int:
    """Measure all and print each figure beside what it may be; leave with 1 if one is over."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        results = list(small(folder))
        empty = folder / "empty.sqlite3"
        start_book(str(empty), BookSettings(), today=TODAY, now=NOW)
        start = run(command(empty, "due", "--json")).seconds
        each_small, few = large(folder, count // 10, start)
        each_large, many = large(folder, count, start)
        results += [
            *few,
            *many,
            Result("due --json, per unit to that at a tenth", each_large / each_small, MOST_GROWTH),
        ]
    return judged(results)


if __name__ == "__main__":
    sys.exit(main())
