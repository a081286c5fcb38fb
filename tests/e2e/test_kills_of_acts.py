"""An act of any kind that is killed is in the book as a whole or not at all, on both databases.

The kinds are those of tests/e2e/test_every_command.py: whatever a new command writes is killed here without another
line of test. An ordinary run kills a few of them, SPINDLEBOOK_KILLS=500 every one several times.
"""

from __future__ import annotations

import shlex
import shutil
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from itertools import cycle
from pathlib import Path
from random import Random

import pytest
from sqlalchemy.engine import Engine

from collection.store.engine import open_engine, reading
from collection.views.verify import verify
from tests.e2e.test_every_command import FIRST, LINES, WITH_CSV
from tests.support.cli import run_cli
from tests.support.kills import KILLS, Children, Died, settled, spread
from tests.support.postgres import Server
from tests.support.reused import ReusedBook
from tests.support.states import state

pytestmark = pytest.mark.kills

EACH = 3 * KILLS // 10  # kills on each database
# Commands that make, replace or copy a whole book are killed in tests of their own.
OF_BOOKS = {"start", "demo", "restore", "backup", "move-to", "upgrade"}
# Lists, pages and files read the book; a line of another command that writes nothing is passed by as well.
READ = ("report ", "export ")
WRITING = [name for name in LINES if name not in {*WITH_CSV, *OF_BOOKS} and not name.startswith(READ)]
Lender = Callable[[], AbstractContextManager[str]]


@pytest.fixture(scope="session")
def demo_on_server(postgres: Server, built_demo: Path) -> Iterator[ReusedBook]:
    """Yield what lends the demo's book on the server to one act after another."""
    name = "demo_template"
    ran = run_cli(["move-to", postgres.create(name)], db=built_demo)
    assert 0 == ran.code, ran.err
    lender = ReusedBook(postgres, name)
    yield lender
    lender.close()


@pytest.fixture(params=["sqlite", "postgresql"])
def lend(request: pytest.FixtureRequest, built_demo: Path, tmp_path: Path) -> Lender:
    """Return what lends a fresh copy of the demo's book, once in a file and once on the server."""
    if request.param == "postgresql":
        lender: ReusedBook = request.getfixturevalue("demo_on_server")
        return lender.lend

    @contextmanager
    def file() -> Iterator[str]:
        yield str(shutil.copy(built_demo, tmp_path / "book"))

    return file


@pytest.fixture
def here(tmp_path: Path) -> Path:
    """Return a folder with what the lines name."""
    (tmp_path / "front.png").write_bytes(b"\x89PNG\r\n\x1a\n and so on")
    (tmp_path / "csv").mkdir()
    (tmp_path / "csv" / "locations.csv").write_text("location\nattic\n", encoding="utf-8")
    return tmp_path


@dataclass(frozen=True)
class Whole:
    """An act that nobody killed: the book before and after it, and how long it took since each moment."""

    before: str
    after: str
    took: dict[str, float]


def _words(line: str, here: Path, place: str) -> list[str]:
    return ["--db", place, *(word.replace("{here}", str(here)) for word in shlex.split(line))]


def _made_ready(name: str, here: Path, place: str) -> Engine:
    if name in FIRST:
        ran = run_cli(_words(FIRST[name], here, place))
        assert 0 == ran.code, ran.err
    return open_engine(place)


def _whole(forks: Children, lend: Lender, here: Path, name: str) -> Whole | None:
    """Let an act be done; None where the command writes nothing."""
    with lend() as place:
        engine = _made_ready(name, here, place)
        before = state(engine)
        took = forks.measure([_words(LINES[name], here, place)])
        return Whole(before, state(engine), took) if "commit" in took else None


def _kill(forks: Children, lend: Lender, here: Path, name: str, whole: Whole, moment: tuple[str, float]) -> Died:
    """Kill an act at a moment, and see that it is there as a whole or not at all, and that the book goes on."""
    since, wait = moment
    with lend() as place:
        engine = _made_ready(name, here, place)
        line = _words(LINES[name], here, place)

        died = forks.kill([line], at=1, since=since, wait=wait * whole.took[since])
        settled(engine)

        found = state(engine)
        assert found in ({whole.after} if died.acknowledged else {whole.before, whole.after}), name
        again = line if found == whole.before else ["--db", place, "person", "add", "Next Hand"]
        ran = run_cli(again)
        assert 0 == ran.code, (name, ran.err)
        assert found == whole.after or state(engine) == whole.after, name
        with reading(engine) as connection:
            assert [] == verify(connection).broken, name
        engine.dispose()
    return died


def _acts(forks: Children, lend: Lender, here: Path, seed: str) -> Iterator[tuple[str, Whole]]:
    """Yield every command that writes, again and again in another random order."""
    chance, known = Random(seed), dict[str, Whole | None]()
    while True:
        for name in chance.sample(WRITING, len(WRITING)):
            if name not in known:
                known[name] = _whole(forks, lend, here, name)
            whole = known[name]
            if whole is not None:
                yield name, whole


def test_a_killed_act_of_any_kind_is_there_as_a_whole_or_not_at_all(
    forks: Children, lend: Lender, here: Path, request: pytest.FixtureRequest
) -> None:
    """The book is just as before the act or just as after it; the same act again, or the next one, works."""
    seed = request.node.name
    kinds, deaths = set(), Counter[str]()
    moments = zip(cycle(("write", "commit", "begin")), spread(seed, EACH), strict=False)
    for moment, (name, whole) in zip(moments, _acts(forks, lend, here, seed), strict=False):
        deaths[_kind(_kill(forks, lend, here, name, whole, moment))] += 1
        kinds.add(name)
    print(f"{EACH} kills of {len(kinds)} kinds of act: {dict(deaths)}")  # noqa: T201  the count of a long run
    assert deaths.total() == EACH
    assert deaths["in an open transaction"] > 0


def _kind(died: Died) -> str:
    if died.in_writing:
        return "in an open transaction"
    return "acknowledged" if died.acknowledged else "before or after its transaction"
