"""Random acts of every kind, on a file and on a server at once, taken back and brought back in any order.

The two books must answer alike and hold the same; what an undo leaves must be what was there before the act; a small
model tells what the lists must say; and the journal replayed from zero must pass through every state that was seen.
One run of some twenty acts ordinarily, the same each time; SPINDLEBOOK_ACTS=5000 makes it a long one by chance.
"""

from __future__ import annotations

import os
import shlex
import shutil
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, rule, run_state_machine_as_test
from sqlalchemy.engine import Connection

from collection.store.engine import opened
from tests.support.act_lines import FIRST, LINES, filled
from tests.support.bench import set_up_bench
from tests.support.postgres import Server
from tests.support.replay import told_by_journal
from tests.support.small_book import SmallBook
from tests.support.times import NOW, TODAY
from tests.support.two_books import Delta, Row, State, TwoBooks, comparable, connections_kept, difference

STEPS = 25
ACTS = int(os.environ.get("SPINDLEBOOK_ACTS", "25"))


class Beginning(NamedTuple):
    """Where each run takes its two books from, and what was seen while they were made."""

    file: Path
    server: Server
    database: str
    folder: Path
    states: dict[int, State]
    lines: dict[int, Sequence[str]]


@pytest.fixture(scope="module")
def beginning(
    sqlite_template: Path, postgres: Server, postgres_template: str, tmp_path_factory: pytest.TempPathFactory
) -> Beginning:
    """Return a bench with something of each kind, in a file and in a database that are only copied."""
    folder = tmp_path_factory.mktemp("acts")
    file = Path(shutil.copy(sqlite_template, folder / "first.sqlite3"))
    database = postgres.make_copy(postgres_template)
    states: dict[int, State] = {}
    lines: dict[int, Sequence[str]] = {}
    with connections_kept(), pytest.MonkeyPatch.context() as patch:
        patch.setenv("HOME", str(folder / "home"))
        books = TwoBooks(str(file), postgres.url(database), folder)
        for place in books.places:
            with opened(place) as engine:
                set_up_bench(engine, TODAY, NOW)
        states[books.last_act()] = books.state()
        for line in FIRST.strip().splitlines():
            ran = books.run(shlex.split(line))
            assert ran.code == 0, (line, ran)
            states[books.last_act()] = books.state()
            lines[books.last_act()] = shlex.split(line)
        books.close()  # nobody may be connected to what is copied
    return Beginning(file, postgres, database, folder, states, lines)


class RandomActs(RuleBasedStateMachine):
    """One run: some twenty lines on two fresh books."""

    beginning: Beginning

    def __init__(self) -> None:
        super().__init__()
        self.open = ExitStack()
        self.open.enter_context(connections_kept())
        begun = self.beginning
        file = str(shutil.copy(begun.file, begun.folder / "book.sqlite3"))
        url = self.open.enter_context(begun.server.copy(begun.database))
        self.books = TwoBooks(file, url, begun.folder)
        self.model = SmallBook()
        self.model.lines.update(begun.lines)
        self.states = dict(begun.states)
        self.last = self.books.last_act()
        self.changed: dict[int, Delta] = {
            act: difference(begun.states[act - 1], begun.states[act]) for act in begun.lines
        }

    @property
    def state(self) -> State:
        """What the books held after the last act."""
        return self.states[self.last]

    @rule(line=st.sampled_from([line for lines in LINES.values() for line in lines]), data=st.data())
    def act(self, line: str, data: st.DataObject) -> None:
        """Type a line; what is refused changes nothing, and the model knows of some that must be."""
        words = filled(line, lambda names: data.draw(st.sampled_from(names)))
        lent = self.model.on_loan()
        ran = self._type(words)
        if words[:2] == ["loan", "out"] and "--came-back" not in words and any(word in lent for word in words[2:4]):
            assert ran != 0, (words, lent)
        if ran == 0 and self._went_on():
            self.model.did(self.last, words)

    @rule(back=st.integers(1, 30))
    def undo(self, back: int) -> None:
        """Take back one of the last acts, be it an undo itself."""
        act = self.last + 1 - back
        if act in self.changed:
            self._take_back(act)

    @rule()
    def undo_and_bring_back(self) -> None:
        """The last act can always be taken back and brought back, unless it made the book forget somebody."""
        act = self.last
        if self.model.lines.get(self.model.root(act), [""])[:2] == ["person", "forget"]:
            return
        assert self._take_back(act)
        assert self._take_back(self.last)
        assert self.states[act] == self.state

    def _type(self, words: Sequence[str]) -> int:
        before = self.books.digests()
        ran = self.books.run(words)
        if ran.code != 0:
            assert ran.code in (1, 4), ran
            assert before == self.books.digests(), words
        return ran.code

    def _went_on(self) -> bool:
        """Say whether the last line wrote an act, and note what that changed."""
        act = self.books.last_act()
        assert act in (self.last, self.last + 1)
        if act == self.last:
            return False
        state = self.books.state()
        self.changed[act] = difference(self.state, state)
        self.states[act], self.last = state, act
        return True

    def _take_back(self, act: int) -> bool:
        """Take an act back; what it changed must stand as it left it, and becomes what it was."""
        state: dict[Row, tuple[Any, ...] | None] = dict(self.state)
        counted = self.model.counts(act)
        if self._type(["undo", str(act)]) != 0:
            return False
        assert counted
        assert self._went_on()
        self.model.undid(self.last, act)
        for row, (before, after) in self.changed[act].items():
            assert after == state.get(row), (act, row)
            state[row] = before
        assert {} == difference({row: values for row, values in state.items() if values is not None}, self.state)
        return True

    def teardown(self) -> None:
        """Every rule of both books holds, and each journal replayed from zero passes through all that was seen."""
        try:
            assert [] == self.books.broken()
            self.model.compare(self.books.run)
            self.books.each(self._replayed)
        finally:
            self.open.close()

    def _replayed(self, connection: Connection) -> None:
        for told in told_by_journal(connection):
            if told.act in self.states:
                (rows, appended), (seen, seen_appended) = comparable(told), comparable(self.states[told.act])
                assert {} == difference(rows, seen), told.act
                assert appended == seen_appended, told.act


def test_random_acts_are_alike_on_both_databases_and_can_be_taken_back(beginning: Beginning) -> None:
    """Property: whatever is typed and taken back, both books hold what the model, the undo and the journal say."""

    class Run(RandomActs):
        pass

    Run.beginning = beginning
    checks = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]
    run_state_machine_as_test(
        Run,
        settings=settings(
            max_examples=max(ACTS // STEPS, 1),
            stateful_step_count=STEPS,
            deadline=None,
            derandomize="SPINDLEBOOK_ACTS" not in os.environ,
            suppress_health_check=checks,
            phases=[Phase.generate],  # a run has few lines, and leaving some out takes minutes on two databases
        ),
    )
