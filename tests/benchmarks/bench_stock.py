"""How long the stock plan takes: by hand, `python -m tests.benchmarks.bench_stock [SUPPLIES]`.

The demo: `reorder` with nothing kept at most 2 s on the clock; with what the run before kept at most twice `python -c
"import click, sqlalchemy, numpy"`. A drawer of 100 counted supplies, each projected over 4,000 paths: with nothing kept
at most 15 s in one process and 300 MB, per supply no more than 1.5 times what it takes at a tenth, the start taken off;
after one use of one of them no more than a
quarter of that, most of which is the start. Times are those of the processor unless they say otherwise.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

from tests.benchmarks.bench_drift import best
from tests.benchmarks.bench_due import Result, command, judged, show
from tests.benchmarks.big_drawer import write_big_drawer
from tests.benchmarks.processes import alone

MOST_DEMO_SECONDS, MOST_WARM = 2.0, 2.0
MOST_SECONDS, MOST_MEMORY, MOST_GROWTH, MOST_AFTER_ONE = 15.0, 300.0, 1.5, 0.25


def on_the_clock(words: list[str], folder: Path) -> float:
    """Return the seconds that pass in the quickest of three runs, each with nothing kept."""
    took = []
    for number in range(3):
        started = time.perf_counter()
        alone(words, folder / f"clock-{number}")
        took.append(time.perf_counter() - started)
    return min(took)


def small(folder: Path) -> Iterator[Result]:
    """Measure the demo."""
    book, kept = folder / "demo.sqlite3", folder / "kept-demo"
    alone(command(book, "demo"), kept)
    asked = command(book, "reorder")
    yield Result("reorder, demo, nothing kept, on the clock", on_the_clock(asked, folder), MOST_DEMO_SECONDS, "s")
    bare = best([sys.executable, "-c", "import click, sqlalchemy, numpy"])
    alone(asked, kept)
    yield Result("reorder, demo, kept", best(asked, kept) / bare, MOST_WARM)


def large(folder: Path, supplies: int) -> Iterator[Result]:
    """Measure a drawer of so many supplies, and one of a tenth."""
    seconds = {}
    for many in (1, supplies // 10, supplies):
        book, kept = folder / f"{many}.sqlite3", folder / f"kept-{many}"
        write_big_drawer(book, many)
        asked = command(book, "reorder", "--json")
        whole = alone(asked, kept)
        seconds[many] = whole.seconds
        show(f"{many} supplies: reorder --json, nothing kept: {whole.seconds:.2f} s, {whole.megabytes:.0f} MB")
    yield Result(f"reorder --json, {supplies} supplies, nothing kept", whole.seconds, MOST_SECONDS, "s")
    yield Result(f"reorder --json, {supplies} supplies, memory", whole.megabytes, MOST_MEMORY, "MB")
    each = {many: (took - seconds[1]) / (many - 1) for many, took in seconds.items() if many > 1}
    yield Result("per supply to that at a tenth", each[supplies] / each[supplies // 10], MOST_GROWTH)
    alone(command(book, "supply", "use", "supply 0", "1 g", "--reason", "cleaned the bench"), kept)
    after = alone(asked, kept).seconds
    show(f"after one use of one supply: {after:.2f} s")
    yield Result("after one use of one supply, to nothing kept", after / whole.seconds, MOST_AFTER_ONE)


def main() -> int:
    """Measure all and print each figure beside what it may be; leave with 1 if one is over."""
    supplies = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    with tempfile.TemporaryDirectory() as name:
        return judged(chain(small(Path(name)), large(Path(name), supplies)))


if __name__ == "__main__":
    sys.exit(main())
