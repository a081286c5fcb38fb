"""Acts of every kind on the demo's book, and what the book is before and after each: what a disturbed act must leave.

The kinds are those of tests/e2e/test_every_command.py: whatever a new command writes is disturbed without another line
of test.
"""

from __future__ import annotations

import inspect
import shlex
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from random import Random

from sqlalchemy.engine import Engine

from collection.store.engine import open_engine, reading
from collection.views.verify import verify
from tests.e2e.test_every_command import COMMANDS, FIRST, LINES, WITH_CSV
from tests.support.cli import run_cli
from tests.support.kills import Children, Died, settled
from tests.support.states import state

# Commands that make, replace or copy a whole book are disturbed in tests of their own.
OF_BOOKS = ("start", "demo", "restore", "backup", "move-to", "upgrade")
# Lists, pages and files read the book; a line of another command that writes nothing is passed by as well.
READ = ("report ", "export ", "calendar", "label", "completion", "help", "where")


def _may_write(name: str) -> bool:
    """Tell whether a command may write: a list that names no act does not; others that do not are found out later."""
    callback = inspect.unwrap(COMMANDS[name].callback or _may_write)
    is_list = name in WITH_CSV and name != "round" and "collection.acts" not in inspect.getsource(callback)
    return not (is_list or name.startswith((*OF_BOOKS, *READ)))


WRITING = [name for name in LINES if _may_write(name)]
Lender = Callable[[], AbstractContextManager[str]]
Disturb = Callable[[list[list[str]], str, float], Died]


@dataclass(frozen=True)
class Whole:
    """An act that nobody disturbed: the book before and after it, and how long it took since each moment."""

    before: str
    after: str
    took: dict[str, float]


class Acts:
    """Acts on copies of the demo's book; `here` is a folder for what their lines name."""

    def __init__(self, forks: Children, lend: Lender, here: Path, seed: str) -> None:
        self._forks = forks
        self._lend = lend
        self._here = here
        self._chance = Random(seed)
        self._known: dict[str, Whole | None] = {}
        (here / "front.png").write_bytes(b"\x89PNG\r\n\x1a\n and so on")
        (here / "csv").mkdir()
        (here / "csv" / "locations.csv").write_text("location\nattic\n", encoding="utf-8")

    def each(self) -> Iterator[str]:
        """Yield every command that writes, again and again in another random order."""
        while True:
            for name in self._chance.sample(WRITING, len(WRITING)):
                if name not in self._known:
                    self._known[name] = self._undisturbed(name)
                if self._known[name] is not None:
                    yield name

    def disturbed(self, name: str, disturb: Disturb, since: str, fraction: float) -> Died:
        """Disturb an act at a fraction of its time, and see that it is there as a whole or not at all.

        The book is as before the act or as after it, and the same act again, or the next one, works.
        """
        whole = self._known[name]
        assert whole is not None
        with self._lend() as place:
            engine = self._made_ready(name, place)
            line = self._words(LINES[name], place)

            died = disturb([line], since, fraction * whole.took[since])
            settled(engine)

            found, is_done = state(engine), any(code == 0 for code, _out, _err in died.answers)
            assert found in ({whole.after} if is_done else {whole.before, whole.after}), name
            ran = run_cli(line if found == whole.before else ["--db", place, "person", "add", "Next Hand"])
            assert 0 == ran.code, (name, ran.err)
            assert found == whole.after or state(engine) == whole.after, name
            with reading(engine) as connection:
                assert [] == verify(connection).broken, name
            engine.dispose()
        return died

    def _undisturbed(self, name: str) -> Whole | None:
        """Let an act be done; None where the command writes nothing."""
        with self._lend() as place:
            engine = self._made_ready(name, place)
            before = state(engine)
            took = self._forks.measure([self._words(LINES[name], place)])
            return Whole(before, state(engine), took) if "commit" in took else None

    def _made_ready(self, name: str, place: str) -> Engine:
        if name in FIRST:
            ran = run_cli(self._words(FIRST[name], place))
            assert 0 == ran.code, ran.err
        return open_engine(place)

    def _words(self, line: str, place: str) -> list[str]:
        return ["--db", place, *(word.replace("{here}", str(self._here)) for word in shlex.split(line))]
