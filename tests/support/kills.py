"""Children that run commands and can be killed in the middle: each is a process of its own, forked when it is wanted.

The method is that of SQLite's own crash tests ("How SQLite Is Tested" 3.3, sqlite.org): the work is done in a child
process which dies at a random point, then the parent opens what is left and checks that each step is there as a whole
or not at all. Here the child says a line after every act that the program acknowledged; those must all be there.

This file is also the program from which the children are forked: it loads everything once, so that a child starts
within milliseconds. Requests come in as lines of JSON, what the children say goes out in the same way.
"""

from __future__ import annotations

import ctypes
import json
import os
import random
import signal
import struct
import subprocess
import sys
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sqlalchemy.engine import Engine

KILLS = max(int(os.environ.get("SPINDLEBOOK_KILLS", "20")), 20)
Act = Sequence[str]


@dataclass(frozen=True)
class Died:
    """What a child had said when it was gone: acts it began, acts it acknowledged, and how it ended."""

    begun: int
    acknowledged: int
    status: int
    in_writing: bool
    answers: list[tuple[int, str, str]]

    @property
    def in_the_middle(self) -> bool:
        """Whether an act was begun and not acknowledged."""
        return self.begun > self.acknowledged


@dataclass
class Told:
    """The lines of one child, in order."""

    lines: list[dict[str, Any]] = field(default_factory=list)

    def count(self, at: str) -> int:
        """Return how often the child was there."""
        return sum(line["at"] == at for line in self.lines)

    def answers(self) -> list[tuple[int, str, str]]:
        """Return code, output and errors of every act done."""
        return [(line["code"], line["out"], line["err"]) for line in self.lines if line["at"] == "done"]

    def took(self) -> list[float]:
        """Return the seconds that every act done took."""
        begun, done = ([line["time"] for line in self.lines if line["at"] == at] for at in ("begin", "done"))
        return [end - start for start, end in zip(begun, done, strict=True)]


class Children:
    """The parent's side: starts children, kills them at a moment, collects what they said."""

    def __init__(self, home: Path) -> None:
        root = Path(__file__).parents[2]
        # One thread only: a fork takes no other threads along.
        env = {**os.environ, "PYTHONPATH": str(root), "HOME": str(home), "OPENBLAS_NUM_THREADS": "1"}
        self._process = subprocess.Popen(
            [sys.executable, __file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=env, cwd=root
        )
        self.took: list[list[float]] = []
        self._next()

    def close(self) -> None:
        """Let the process from which the children come end."""
        self._process.communicate(timeout=30)
        assert self._process.returncode == 0

    def run(self, *lists: Sequence[Act], **setting: Any) -> list[list[tuple[int, str, str]]]:
        """Run each list of acts in a child of its own, all at once; return code, output and errors of their acts.

        Settings: `largest` (bytes a file may grow to), `powerless` (give up the rights of root). How many seconds each
        act took is in `took` afterwards.
        """
        told = [Told() for _ in lists]
        self._ask(lists, setting)
        for line in self._lines():
            if line["at"] != "gone":
                told[line["child"]].lines.append(line)
        self.took = [child.took() for child in told]
        return [child.answers() for child in told]

    def kill(self, acts: Sequence[Act], *, at: int, since: str, wait: float, sign: int = signal.SIGKILL) -> Died:
        """Run acts in a child and send it a signal `wait` seconds after the `at`th time it was at `since`."""
        # Its number is not given out again before our next request.
        return self.strike(acts, lambda pid: os.kill(pid, sign), at=at, since=since, wait=wait)

    def strike(self, acts: Sequence[Act], deed: Callable[[int], object], *, at: int, since: str, wait: float) -> Died:
        """Run acts in a child and do something to it `wait` seconds after the `at`th time it was at `since`.

        `since` is "begin" (of an act), "write" (its transaction is open) or "commit" (it is about to be kept).
        `deed` is given the child's number.
        """
        told = Told()
        pid = self._ask([acts], {})
        for line in self._lines():
            told.lines.append(line)
            if line["at"] == since and told.count(since) == at:
                time.sleep(wait)
                deed(pid)
        last = [line["at"] for line in told.lines if line["at"] != "gone"][-1]
        status = told.lines[-1]["status"]
        in_writing = last in ("write", "commit")
        return Died(told.count("begin"), told.count("done"), status, in_writing, told.answers())

    def measure(self, acts: Sequence[Act]) -> dict[str, float]:
        """Return how many seconds the last of some acts took from its beginning and from its transaction's."""
        self._ask([acts], {})
        lines = list(self._lines())
        ends = [line["code"] for line in lines if line["at"] == "done"]
        assert ends == [0] * len(acts), lines
        last = {line["at"]: line["time"] for line in lines if "time" in line}
        return {since: last["done"] - last[since] for since in ("begin", "write", "commit") if since in last}

    def _ask(self, lists: Sequence[Sequence[Act]], setting: dict[str, Any]) -> int:
        assert self._process.stdin is not None
        print(json.dumps({"lists": lists, **setting}), file=self._process.stdin, flush=True)
        return int(self._next()["first"])

    def _lines(self) -> Iterator[dict[str, Any]]:
        while True:
            line = self._next()
            yield line
            if line["at"] == "gone":
                return

    def _next(self) -> dict[str, Any]:
        assert self._process.stdout is not None
        text = self._process.stdout.readline()
        assert text, "the process from which the children come is gone"
        line: dict[str, Any] = json.loads(text)
        return line


@contextmanager
def children(home: Path) -> Iterator[Children]:
    """Have children for as long as the block lasts."""
    made = Children(home)
    try:
        yield made
    finally:
        made.close()


def settled(engine: Engine) -> None:
    """Wait until the server has noticed that its client is gone; a file needs no waiting."""
    from tests.support.reused import LENDER

    if engine.dialect.name != "postgresql":
        return
    others = (
        "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database()"
        " AND backend_type = 'client backend' AND pid <> pg_backend_pid()"
        f" AND application_name <> '{LENDER}'"
    )
    for _ in range(500):
        with engine.connect() as connection:
            if not connection.exec_driver_sql(others).scalar():
                return
        time.sleep(0.01)
    raise AssertionError("the server still has the connection of a process that is gone")


def spread(seed: str, number: int) -> list[float]:
    """Return random moments spread evenly over an act, as fractions of its length, in random order."""
    chance = random.Random(seed)
    moments = [(index + chance.random()) / number for index in range(number)]
    chance.shuffle(moments)
    return moments


def _say(**line: Any) -> None:
    os.write(1, json.dumps(line).encode() + b"\n")


def _serve() -> None:
    """Fork children as requests come in, until there are no more."""
    from collection.cli import entry

    load_all()
    sys.unraisablehook = entry._interrupt_again  # a child begins behind it, and answers Ctrl-C as the command does
    _say(at="ready")
    gone: list[int] = []
    for text in sys.stdin:
        for pid in gone:
            os.waitpid(pid, 0)
        gone = _serve_one(json.loads(text))


def load_all() -> None:
    """Import all that a command may import."""
    import importlib
    import pkgutil

    import collection

    for module in pkgutil.walk_packages(collection.__path__, "collection."):
        importlib.import_module(module.name)
    for name in ("alembic.command", "psycopg", "tests.support.cli", "sqlalchemy.dialects.postgresql.psycopg"):
        importlib.import_module(name)


def _serve_one(request: dict[str, Any]) -> list[int]:
    gate, opener = os.pipe()
    pids = [_fork(number, acts, request, (gate, opener)) for number, acts in enumerate(request["lists"])]
    _say(at="born", first=pids[0])
    os.close(gate)
    os.close(opener)  # now every child sees the end of the pipe, and they begin together
    for pid in pids:
        ended = os.waitid(os.P_PID, pid, os.WEXITED | os.WNOWAIT)
        assert ended is not None
        status = ended.si_status if ended.si_code == os.CLD_EXITED else -ended.si_status
    _say(at="gone", status=status)
    return pids


def _fork(number: int, acts: Sequence[Act], request: dict[str, Any], gate: tuple[int, int]) -> int:
    pid = os.fork()
    if pid:
        return pid
    code = 1
    try:
        os.close(gate[1])
        os.read(gate[0], 1)
        _restrict(request)
        _announce_writing(number)
        for act in acts:
            _carry_out(number, list(act))
        code = 0
    except Exception:  # noqa: BLE001  a child ends here, whatever happened, and not in the parent's loop
        traceback.print_exc()
    finally:
        os._exit(code)


def _restrict(request: dict[str, Any]) -> None:
    import resource

    if "largest" in request:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (request["largest"], request["largest"]))
    if request.get("powerless"):
        # Without capabilities root is bound by the rights of files like anybody else (capset(2), version 3).
        header, none = struct.pack("Ii", 0x20080522, 0), bytes(24)
        assert 0 == ctypes.CDLL(None).capset(header, none)


def _announce_writing(number: int) -> None:
    """Say when a transaction has been opened and when it is about to be kept; nothing else is changed."""
    from sqlalchemy import event
    from sqlalchemy.engine import Connection, Engine

    from collection.acts.work import Work

    begin = Work.begin

    def begun(work: Work, *args: Any) -> None:
        begin(work, *args)
        _say(at="write", child=number, time=time.monotonic())

    def kept(connection: Connection) -> None:
        if connection.get_execution_options().get("spindlebook_write"):  # a view ends with a commit too
            _say(at="commit", child=number, time=time.monotonic())

    setattr(Work, "begin", begun)  # noqa: B010  a type checker minds an assignment
    event.listen(Engine, "commit", kept)


def _carry_out(number: int, act: list[str]) -> None:
    from tests.support.cli import run_cli

    _say(at="begin", child=number, time=time.monotonic())
    ran = run_cli(act, mistake=True)  # a mistake of the program is told as any other answer
    _say(at="done", child=number, time=time.monotonic(), code=ran.code, out=ran.out[:1000], err=ran.err[:1000])


if __name__ == "__main__":
    _serve()
