"""How many acts eight keepers get done on one server: by hand, `python -m tests.benchmarks.bench_keepers [TURNS]`.

Each keeper is a process that makes its acts one after the other: a note on a unit, a place, a fault, a reading. The
floor: the very statements that these acts sent, written down beforehand, sent in as many transactions by eight
processes through SQLAlchemy Core in a bare loop, with the same lock and on one connection each. At least 70 % of its
throughput, by the clock.
"""

from __future__ import annotations

import multiprocessing
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

import psycopg
import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine, make_url
from sqlalchemy.exc import OperationalError

from collection.acts.faults import add_fault
from collection.acts.readings import GivenReading, add_reading
from collection.acts.units import edit_unit, enter
from collection.store.engine import TAKE_LOCK, open_engine, reading
from collection.store.move import copied
from tests.benchmarks.bench_due import show
from tests.benchmarks.big_club import write_big_club
from tests.support.postgres import Server, running_server
from tests.support.times import NOW, TODAY

KEEPERS, TURNS, UNITS, TIMES, LEAST = 8, 20, 200, 3, 0.7
Sent = list[tuple[str, Any, bool]]
# Other work on the machine may make the wait long, and the bare loop does not ask twice.
_TAKEN: Sent = [(TAKE_LOCK.replace("'5s'", "'10min'"), None, False)]
_WHEN: dict[str, Any] = {"today": TODAY, "now": NOW}


class Transaction(NamedTuple):
    """What one transaction sent; writes: whether it took the writers' lock."""

    writes: bool
    sent: Sent


def acts_of(keeper: int, turn: int) -> Iterator[Callable[[Engine], Any]]:
    """The acts of one turn of a keeper, each on a unit that is no other keeper's."""
    tag = f"D{keeper * (UNITS // KEEPERS) + turn % (UNITS // KEEPERS) + 1}"
    yield lambda engine: edit_unit(engine, tag, {"note": f"looked at in turn {turn}"}, **_WHEN)
    yield lambda engine: enter(engine, tag, location=f"location {turn % 30}", **_WHEN)
    yield lambda engine: add_fault(engine, tag, f"hums in turn {turn}", **_WHEN)
    given = GivenReading("rail voltage", f"5.0{turn % 10}", point="+5 V", instrument="instrument 0")
    yield lambda engine: add_reading(engine, tag, given, **_WHEN)


@contextmanager
def written_down(engine: Engine) -> Iterator[list[Transaction]]:
    """Write down what every transaction on an engine sends meanwhile, but for the lock with which it begins."""
    kept: list[Transaction] = []

    def begins(connection: Connection) -> None:
        options = connection.get_execution_options()
        kept.append(Transaction(bool(options.get("spindlebook_write")), []))

    def sends(_c: Connection, _u: Any, sql: str, parameters: Any, _x: Any, many: bool) -> None:
        if sql != TAKE_LOCK:
            kept[-1].sent.append((sql, parameters, many))

    def takes_back(_connection: Connection) -> None:
        kept.pop()  # an act that found nothing to change; the ids that it gave out are those of the next

    sa.event.listen(engine, "begin", begins)
    sa.event.listen(engine, "rollback", takes_back)
    sa.event.listen(engine, "before_cursor_execute", sends)
    yield kept
    sa.event.remove(engine, "begin", begins)
    sa.event.remove(engine, "rollback", takes_back)
    sa.event.remove(engine, "before_cursor_execute", sends)


def record(url: str, turns: int) -> list[list[Transaction]]:
    """Make the acts of all keepers, one keeper after the other; return what each sent."""
    engine = open_engine(url)
    sent = []
    for keeper in range(KEEPERS):
        with written_down(engine) as kept:
            for act in (act for turn in range(turns) for act in acts_of(keeper, turn)):
                act(engine)
        sent.append(list(kept))
    engine.dispose()
    return sent


def keep(url: str, keeper: int, turns: int, barrier: Any) -> None:
    """Be a keeper."""
    engine = open_engine(url)
    acts_of(keeper, 0)
    barrier.wait()
    for turn in range(turns):
        for act in acts_of(keeper, turn):
            patiently(act, engine)
    engine.dispose()


def patiently(act: Callable[[Engine], Any], engine: Engine) -> None:
    """Make an act, once more where another keeper was at work for so long that the program gave up."""
    while True:
        try:
            act(engine)
        except OperationalError as error:
            if not isinstance(error.orig, psycopg.errors.LockNotAvailable):
                raise
        else:
            return


def replay(url: str, transactions: list[Transaction], barrier: Any) -> None:
    """Send the same statements in a bare loop, behind the same lock."""
    engine = sa.create_engine(make_url(url))
    with engine.connect() as connection:
        barrier.wait()
        for transaction in transactions:
            with connection.begin():
                for sql, parameters, many in (_TAKEN if transaction.writes else []) + transaction.sent:
                    result = connection.exec_driver_sql(sql, list(parameters) if many else parameters or None)
                    if result.returns_rows:
                        result.cursor.fetchall()
                    result.close()
    engine.dispose()


def together(target: Callable[..., None], each: list[tuple[Any, ...]]) -> float:
    """Return the seconds that eight processes took from one start, by the clock."""
    context = multiprocessing.get_context("fork")
    barrier = context.Barrier(len(each) + 1)
    processes = [context.Process(target=target, args=(*arguments, barrier)) for arguments in each]
    for process in processes:
        process.start()
    barrier.wait()
    begun = time.monotonic()
    for process in processes:
        process.join()
    if any(process.exitcode for process in processes):
        raise SystemExit("A keeper failed.")
    return time.monotonic() - begun


def build(server: Server, folder: Path) -> str:
    """Make a database with the book of a club and return its name."""
    file = folder / "club.sqlite3"
    write_big_club(file, UNITS)
    engine = open_engine(str(file))
    with reading(engine) as source, copied(source, make_url(server.create("club"))):
        pass
    engine.dispose()
    return "club"


def main() -> int:
    """Print both throughputs and their ratio; leave with 1 when it is below what it may be."""
    turns = int(sys.argv[1]) if len(sys.argv) > 1 else TURNS
    with tempfile.TemporaryDirectory() as folder, running_server() as server:
        club = build(server, Path(folder))
        with server.copy(club) as url:
            sent = record(url, turns)
        acts = sum(transaction.writes for keeper in sent for transaction in keeper)
        program, bare = [], []
        for _ in range(TIMES):  # in turn, so that other work disturbs both alike
            with server.copy(club) as url:
                program.append(together(keep, [(url, keeper, turns) for keeper in range(KEEPERS)]))
            with server.copy(club) as url:
                bare.append(together(replay, [(url, each) for each in sent]))
    show(f"program {[f'{acts / s:.0f}' for s in program]} acts/s, bare loop {[f'{acts / s:.0f}' for s in bare]} acts/s")
    ratio = min(bare) / min(program)
    show(f"eight keepers, share of the bare loop's throughput: {ratio:.2f} (at least {LEAST})")
    return int(ratio < LEAST)


if __name__ == "__main__":
    sys.exit(main())
