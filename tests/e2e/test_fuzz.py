"""Spoilt files into every reader: no mistake of the program, nothing written in part, no hang.

A hundred and sixty files in an ordinary run; SPINDLEBOOK_FUZZ=20000 makes it a long one, SPINDLEBOOK_SEED another.
"""

from __future__ import annotations

import logging
import os
import random
import shlex
import shutil
import signal
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

import pytest

from collection.store.engine import open_engine, reading
from collection.views.verify import verify
from tests.support.act_lines import FIRST, placed
from tests.support.bench import set_up_bench
from tests.support.books import digest
from tests.support.cli import Ran, run_cli
from tests.support.fuzz import spoilt
from tests.support.fuzz_readers import Reader, cleared, readers
from tests.support.times import NOW, TODAY
from tests.support.two_books import write_folder

CASES = int(os.environ.get("SPINDLEBOOK_FUZZ", "160"))
SEED = os.environ.get("SPINDLEBOOK_SEED", "1")
_LOG = logging.getLogger(__name__)
_SECONDS = 2  # of one core, which another test beside this one does not make longer
_SOUND = 1  # files of a kind that are tried as they are
_CODES = (0, 1, 2, 3, 4, 5)


class Bench:
    """A book that every file is tried on, brought back whenever one was taken."""

    def __init__(self, pristine: Path, place: Path) -> None:
        self.pristine = pristine
        self.state, self.content = "", b""
        self.folder = place / "case"
        self.book = place / "book.sqlite3"
        self.before = digest(open_engine(str(pristine)))
        self.bring_back()
        self.answers: Counter[int] = Counter()
        self.slowest = (0.0, "")
        self.last: Ran | None = None

    def try_file(self, reader: Reader, name: str, content: bytes, dice: random.Random | None) -> list[int]:
        """Give a file to a reader; return the exit code of each line. One in five that is taken is held to every rule.

        Without a source of chance the file is one that must be read.
        """
        cleared(self.folder)
        reader.place(self.folder, name, content)
        book = self.folder / name if reader.is_book else self.book
        codes = []
        for line in reader.lines(name, dice):
            words = [word.replace("{file}", name) for word in line]
            ran = self._run(words, book, content if reader.piped else None)
            codes.append(ran.code)
            if reader.is_book:
                assert content == book.read_bytes(), words
            else:
                self._hold(ran)
        if self.state != self.before:
            if dice is None or dice.random() < 0.2:
                self._verify()
            self.bring_back()
        return codes

    def _run(self, words: Sequence[str], book: Path, piped: bytes | None) -> Ran:
        """Run one line, which ends soon, says why it does not, and then leaves no file behind."""
        files = self._files()
        with at_most(_SECONDS * 5):
            begun = time.process_time()
            self.last = ran = run_cli(words, db=book, answers=piped)
            took = time.process_time() - begun
        self.answers[ran.code] += 1
        self.slowest = max(self.slowest, (took, f"{words}"))
        assert ran.code in _CODES, ran
        assert "Traceback" not in ran.out + ran.err, ran
        assert took < _SECONDS, (took, words)
        if ran.code not in (0, 3):
            found = "verify" in words and ran.out.strip()  # which rules are broken is its result
            assert ran.err.strip() or found, ran
            assert files == self._files(), words
        return ran

    def _files(self) -> set[Path]:
        """Return what is in the folder besides results and backups that are kept."""
        return {file for file in self.folder.rglob("*") if not {"cache", "state"} & {*file.parts}}

    def _hold(self, ran: Ran) -> None:
        """Hold the book to be as it was before a line that was refused; mostly its file is, byte by byte."""
        content = self.book.read_bytes()
        if content == self.content:
            return
        state = digest(open_engine(str(self.book)))
        assert state == self.state or ran.code == 0, ran
        self.state, self.content = state, content

    def _verify(self) -> None:
        with reading(open_engine(str(self.book))) as connection:
            assert [] == verify(connection).broken

    def bring_back(self) -> None:
        """Have the book as it was."""
        shutil.copy(self.pristine, self.book)
        self.state, self.content = self.before, self.book.read_bytes()


@contextmanager
def at_most(seconds: float) -> Iterator[None]:
    """Break off what takes longer, so that a reader that never ends is told by its own line and not by the suite's."""

    def hung(_signal: int, _frame: FrameType | None) -> None:
        raise AssertionError(f"no end after {seconds} s")

    former = signal.signal(signal.SIGPROF, hung)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, former)


@pytest.fixture
def bench(sqlite_template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """Return a book with something of each kind, in a folder where the commands run."""
    (tmp_path / "case").mkdir()
    monkeypatch.chdir(tmp_path / "case")
    pristine = Path(shutil.copy(sqlite_template, tmp_path / "pristine.sqlite3"))
    set_up_bench(open_engine(str(pristine)), TODAY, NOW)
    write_folder(tmp_path)
    for line in FIRST.strip().splitlines():
        assert 0 == run_cli(placed(shlex.split(line), tmp_path), db=pristine).code, line
    return Bench(pristine, tmp_path)


def _keep_in(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Have the program keep results and backups in a folder."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(folder / "cache"))
    monkeypatch.setenv("XDG_STATE_HOME", str(folder / "state"))


def test_spoilt_files_are_taken_whole_or_refused_in_plain_words(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """First each reader takes its own files as they are; then whatever chance makes of them breaks nothing."""
    (tmp_path / "made").mkdir()
    _keep_in(tmp_path / "made", monkeypatch)
    known = readers(bench.pristine, tmp_path / "made")
    _keep_in(bench.folder, monkeypatch)
    for reader in known:
        for name, content in list(reader.files.items())[:_SOUND]:
            assert {0} == set(bench.try_file(reader, name, content, None)), (reader.name, name, bench.last)
    broken = []
    for number in range(CASES):
        dice = random.Random(f"{SEED} {number}")
        reader = known[number % len(known)]
        name = dice.choice(sorted(reader.files))
        content = spoilt(reader.files[name], dice.choice(list(reader.files.values())), dice)
        try:
            bench.try_file(reader, name, content, dice)
        except AssertionError as error:
            broken.append(f"file {number} of seed {SEED}: {reader.name}, {name}: {content[:300]!r}\n{error}")
            _LOG.info(broken[-1])
            bench.bring_back()
        if number % 500 == 499:
            _LOG.info("%s files so far, exit codes %s", number + 1, dict(bench.answers))
    _LOG.info("%s files: exit codes %s; the slowest line took %s", CASES, dict(bench.answers), bench.slowest)
    assert not broken, "\n\n".join(broken[:5])
