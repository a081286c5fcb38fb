"""How long a club's whole book takes to look at, check and back up: by hand, `python -m tests.benchmarks.bench_club`.

10,000 units, 1,000,000 readings, 200,000 acts (or as many units as are told), in a file and on a throw-away server.
Each command runs as a process of its own, in turns with the same on a book of one unit, its start, which is taken off.
Floors: for lists the statements of their views, sent by the bare driver (at most 3 times); for `verify` every row of
every table fetched once (5 times); for `backup` SQLite's backup interface alone, on a server every row fetched once (5
times). Times are seconds of the processor, those of the server's processes included.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import psycopg
import sqlalchemy as sa
from sqlalchemy.engine import Connection, make_url

from collection.acts.start import start_book
from collection.acts.work import open_work
from collection.schema import TABLES
from collection.store.book import BookSettings
from collection.store.engine import is_url, open_engine, reading
from collection.store.move import copied
from collection.views.history import acts, acts_on_unit
from collection.views.loans import loan_list
from tests.benchmarks.bench_due import Result, judged, show
from tests.benchmarks.big_club import write_big_club
from tests.benchmarks.processes import Run, alone
from tests.benchmarks.server_clock import ServerClock
from tests.support.books import add_unit
from tests.support.cli import program
from tests.support.postgres import Server, running_server
from tests.support.times import NOW, TODAY

T = TypeVar("T")
UNITS, TIMES, UNIT = 10_000, 5, 7
MOST_LIST, MOST_WHOLE, MOST_MEMORY = 3.0, 5.0, 300.0
LISTS: dict[str, Callable[[Connection], Any]] = {
    "loan list": lambda connection: loan_list(connection, TODAY),
    f"history D{UNIT}": lambda connection: acts_on_unit(connection, UNIT),
    "history --all": acts,
    "history --all --json": acts,
}


class Place(NamedTuple):
    """A database with the club, one with a book of one unit, and the clock of their server, None for files."""

    name: str
    club: str
    empty: str
    clock: ServerClock | None


def measured(place: Place, *words: str) -> tuple[Run, Run]:
    """Run a command on the book of one unit and on the club in turns, each time in a process of its own.

    Returns of each the seconds of the quickest run and the megabytes of the greediest. In turns: what else the machine
    does makes both slower, and a list of one unit takes no more than a few hundredths of a second over its start.
    """
    runs: tuple[list[Run], list[Run]] = [], []
    for number in range(TIMES):
        for location, found in zip((place.empty, place.club), runs, strict=True):
            found.append(_measured_once(place, location, number, words))
    start, whole = (Run(min(run.seconds for run in each), max(run.megabytes for run in each)) for each in runs)
    return start, whole


def _measured_once(place: Place, location: str, number: int, words: Sequence[str]) -> Run:
    with tempfile.TemporaryDirectory() as folder:
        told = [word.replace("FILE", f"{folder}/copy-{number}") for word in words]
        before = place.clock.seconds() if place.clock else 0.0
        ran = alone(program("--db", location, "--today", TODAY.isoformat(), *told), folder)
        after = place.clock.seconds() if place.clock else 0.0
    return Run(ran.seconds + after - before, ran.megabytes)


def apart(work: Callable[..., T], *given: Any) -> T:
    """Do some work in a process of its own: a command that is started later is told to be as large as its parent."""
    with ProcessPoolExecutor(1, get_context("fork")) as other:
        return other.submit(work, *given).result()


def floor(place: Place, work: Callable[[str], None]) -> float:
    """Return the seconds that the bare driver takes, the best of several runs."""
    found = []
    for _ in range(TIMES):
        before = place.clock.seconds() if place.clock else 0.0
        spent = apart(timed, work, place.club)
        found.append(spent + (place.clock.seconds() - before if place.clock else 0.0))
    return min(found)


def timed(work: Callable[[str], None], location: str) -> float:
    """Return the seconds that some work takes."""
    begun = time.process_time()
    work(location)
    return time.process_time() - begun


def bare(location: str) -> Any:
    """Return a connection of the bare driver."""
    if is_url(location):
        return closing(psycopg.connect(location.replace("+psycopg", "")))
    return closing(sqlite3.connect(location))


def sent_by(location: str, words: str) -> list[tuple[str, Any]]:
    """Return what the view of a command sends."""
    sent: list[tuple[str, Any]] = []
    engine = open_engine(location)
    with reading(engine) as connection:

        @sa.event.listens_for(connection, "before_cursor_execute")
        def keep(_c: Any, _u: Any, sql: str, parameters: Any, _x: Any, _m: bool) -> None:
            sent.append((sql, parameters))

        LISTS[words](connection)
    engine.dispose()
    return sent


def send(sent: list[tuple[str, Any]], location: str) -> None:
    """Send the same by the bare driver."""
    with bare(location) as connection:
        for sql, parameters in sent:
            connection.execute(sql, parameters or ()).fetchall()


def fetches_all(location: str) -> None:
    """Fetch every row once."""
    with bare(location) as connection:
        for table in TABLES:
            rows = connection.execute(f"SELECT * FROM {table}")
            while rows.fetchmany(5_000):
                pass


def copies(location: str) -> None:
    """Copy a file by SQLite's backup interface."""
    with tempfile.TemporaryDirectory() as name, bare(location) as source:
        target = sqlite3.connect(f"{name}/copy")
        source.backup(target)
        target.close()


def compared(place: Place) -> Iterator[Result]:
    """Measure everything in one place."""
    for words in LISTS:
        least = floor(place, partial(send, apart(sent_by, place.club, words)))
        yield from judge(place, words.split(), least, MOST_LIST)
    rows = floor(place, fetches_all)
    yield from judge(place, ["verify"], rows, MOST_WHOLE, memory=True)
    yield from judge(place, ["backup", "FILE"], rows if place.clock else floor(place, copies), MOST_WHOLE, memory=True)


def judge(place: Place, words: list[str], least: float, most: float, *, memory: bool = False) -> Iterator[Result]:
    """Set one command against its floor."""
    start, whole = measured(place, *words)
    what = f"{place.name}: {' '.join(words)}"
    show(f"{what}: {whole.seconds:.2f} s, start {start.seconds:.2f} s, floor {least:.3f} s, {whole.megabytes:.0f} MB")
    yield Result(f"{what}, to its floor", (whole.seconds - start.seconds) / least, most)
    if memory:
        yield Result(f"{what}, memory", whole.megabytes, MOST_MEMORY, "MB")


def places(folder: Path, server: Server, units: int) -> Iterator[Place]:
    """Build the club in a file and on a server."""
    club, empty = folder / "club.sqlite3", folder / "empty.sqlite3"
    apart(write_big_club, club, units)
    apart(nearly_empty, empty)
    yield Place("file", str(club), str(empty), None)
    urls = server.create("club"), server.create("empty")
    for file, url in zip((club, empty), urls, strict=True):
        apart(bring, str(file), url)
    yield Place("server", *urls, ServerClock(urls[0]))


def nearly_empty(file: Path) -> None:
    """Write a book with one unit in it, whose history can be asked for."""
    start_book(str(file), BookSettings(), today=TODAY, now=NOW)
    engine = open_engine(str(file))
    with open_work(engine, "unit add", today=TODAY, now=NOW) as work:
        add_unit(work, f"D{UNIT}")
        work.commit("a unit")
    engine.dispose()


def bring(file: str, url: str) -> None:
    """Copy a book to a server."""
    engine = open_engine(file)
    with reading(engine) as source, copied(source, make_url(url)):
        pass
    engine.dispose()
    with closing(psycopg.connect(url.replace("+psycopg", ""), autocommit=True)) as connection:
        connection.execute("VACUUM ANALYZE")


def main() -> int:
    """Measure all and print each figure beside what it may be; leave with 1 if one is over."""
    units = int(sys.argv[1]) if len(sys.argv) > 1 else UNITS
    with tempfile.TemporaryDirectory() as name, running_server() as server:
        results = [result for place in places(Path(name), server, units) for result in compared(place)]
    return judged(results)


if __name__ == "__main__":
    sys.exit(main())
