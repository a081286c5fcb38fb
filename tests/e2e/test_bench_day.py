"""A day at the bench, typed at a terminal of 80 columns on the demo's book: arrivals, a round, services, a part."""

from __future__ import annotations

import json
import shutil
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pexpect
import pytest

from tests.support.cli import environment, run_cli
from tests.support.times import TODAY

_TOUCHED = {"D1", "D2", "D3", "D5", "D6", "D9", "D10", "D12", "D14", "D15", "D16", "P1"}


# What the terminal runs: command after command in one process, since most of the time of each is its start.
_DESK = """
import json, sys
from collection.cli.main import run
while line := sys.stdin.readline():
    print(f"exit {run(json.loads(line))}", flush=True)
"""


class Day:
    """The book of the day, somebody at a terminal of 80 columns, and all that its screens showed."""

    def __init__(self, book: Path) -> None:
        self.book = book
        self.shown = ""
        clean = {name: value for name, value in environment().items() if name not in ("COLUMNS", "NO_COLOR")}
        self.desk = pexpect.spawn(
            *(sys.executable, ["-c", _DESK]),
            env={**clean, "TERM": "xterm"},
            dimensions=(50, 80),
            encoding="utf-8",
            timeout=20,
        )
        self.desk.delaybeforesend = None  # the answer is sent once its question stands there

    def typed(self, *words: str, answers: Sequence[tuple[str, str]] = (), broken_off_at: str = "") -> str:
        """Type a command, answer its questions (their beginnings) in turn, and return the screen.

        The command must end well; with a question to break off at it is answered by Ctrl-C, and must say 130.
        """
        line = json.dumps(["--no-color", "--db", str(self.book), "--today", TODAY.isoformat(), *words])
        self.desk.sendline(line)
        self.desk.expect_exact(f"{line}\r\n")
        screen = ""
        for question, text in answers:
            screen += self._asked(question)
            self.desk.sendline(text)
        if broken_off_at:
            screen += self._asked(broken_off_at)
            time.sleep(0.2)  # a signal between the prompt and the wait for an answer is seen with the answer
            self.desk.sendintr()
        ended = self.desk.expect([r"exit 0\r\n$", r"exit 130\r\n$", r"exit \d+\r\n$"])
        screen += str(self.desk.before)
        assert (1 if broken_off_at else 0) == ended, screen
        self.shown += screen
        return screen.replace("\r\n", "\n")

    def _asked(self, question: str) -> str:
        self.desk.expect(rf"(?:^|\n){question}[^\n]*(?:\n  [^\n]*)?: $")
        return f"{self.desk.before}{self.desk.after}"

    def rows(self, *words: str) -> list[dict[str, Any]]:
        """Return the rows that a program gets of a list."""
        return list(json.loads(run_cli([*words, "--json"], db=self.book).out))


@pytest.fixture
def day(built_demo: Path, tmp_path: Path) -> Iterator[Day]:
    """Yield a day that begins with the demo's book."""
    book = Path(shutil.copy(built_demo, tmp_path / "book.sqlite3"))
    made = Day(book)
    yield made
    made.desk.close(force=True)


def test_a_day_of_twelve_units_is_kept_as_it_was_typed(day: Day) -> None:
    """Each screen says what was kept; afterwards due, history and verify are as the work left them."""
    acts_before = {row["act"] for row in day.rows("history", "--all")}

    _two_arrive(day)
    _speed_goes_round(day)
    _four_are_served(day)
    _a_fault_comes_and_goes(day)
    _a_part_is_fitted_and_others_wanted(day)

    _stands_as_due(day)
    acts = [row for row in day.rows("history", "--all") if row["act"] not in acts_before]
    assert ["undo", "wanted add", "wanted add", "part fit"] == [row["command"] for row in acts[:4]]
    assert [acts[0]["act"]] == [row["undone_by"] for row in acts if row["undone_by"]]
    counting = {row["act"] for row in acts if row["undone_by"] is None}
    assert _touched(day, counting) >= _TOUCHED
    assert 2 == day.typed("history").count("service close ")
    assert "The book keeps all" in day.typed("verify")
    assert not [line for line in day.shown.splitlines() if len(line) > 80]
    assert "Traceback" not in day.shown


def _two_arrive(day: Day) -> None:
    named = ("--model", "OD 55", "--from", "Nils Ovaskerry", "--contents", "drive, no cable", "--location", "bench")
    assert "D15: Ostrellan OD 55, new to the book, arrived 2026-03-01\n" in day.typed("arrival", "D15", *named)
    shown = day.typed(
        "arrival",
        "D16",
        answers=(
            ("D16 is new to the book. Its model", "?"),
            ("D16 is new to the book. Its model", "dm 8"),
            ("Who sent or brought it", "?"),
            ("Who sent or brought it", "Nils Ovaskerry"),
            ("Why did it come", "to be mended"),
            ("What came in the box", "drive, two disks"),
            ("Damage", "bezel cracked"),
            ("For which mains is it set", ""),
            ("Fuse", ""),
            ("Mains cord and plug", "none"),
            ("Where is it put", "bench"),
            ("Anything else", ""),
        ),
    )
    assert "The model as its plate or paper says it" in shown
    assert "A person of the book by name" in shown
    assert "no person" not in shown
    assert "D16: Drossmere DM 8, new to the book, arrived 2026-03-01\n" in shown


def _speed_goes_round(day: Day) -> None:
    shown = day.typed(
        *("round", "--of", "spindle speed", "--standing", "ready", "--instrument", "bench counter"),
        answers=(
            ("D1 ", "300.2"),
            ("D2 ", "299.8"),
            ("D3 ", "305.1"),
            ("D5 ", "300.4"),
            ("D9 ", "306.2"),
            ("D12 ", "300.0"),
            ("6 units told", ""),
        ),
    )
    assert "6 told, 2 high (D3, D9).\n" in shown


def _four_are_served(day: Day) -> None:
    """One is broken off and gone on with, one answered as the last, one by the sheet, one the service of an arrival."""
    begun = day.typed(
        *("service", "record", "D9"),
        answers=(
            ("spindle speed", "306.2"),
            ("  read with which instrument", ""),
            ("radial alignment", "skip all"),
            ("which of them", "1"),
            ("Do the work now", ""),
        ),
        broken_off_at="another supply",
    )
    before, _, after = begun.partition("which of them")
    assert "set spindle speed           due 2026-03-01" in before
    assert "A decayed belt turns to tar" not in before
    assert "Wear a wrist strap" in before
    assert "kept: set spindle speed\n" in after
    assert "Go on: spindlebook service resume D9\n" in after
    resumed = day.typed(
        *("service", "resume", "D9"),
        answers=(
            ("another supply", ""),
            ("another part", ""),
            ("spindle speed", "300.0"),
            ("findings", "drifted up"),
            ("minutes", "20"),
            ("outcome", "ready"),
        ),
    )
    assert "standing  ready since 2026-03-01\n" in resumed
    alike = day.typed(
        *("service", "record", "D3"),
        answers=(
            ("spindle speed", "305.1"),
            ("  read with which instrument", ""),
            ("radial alignment", "skip all"),
            ("which of them", "same"),
            ("Do the work now", ""),
            ("another supply", ""),
            ("another part", ""),
            ("spindle speed", "299.9"),
            ("findings", "same"),
            ("minutes", "same"),
            ("outcome", "ready"),
        ),
    )
    assert "as D9: set spindle speed\n" in alike
    assert "kept: drifted up\n" in alike
    by_the_sheet = day.typed(
        *("service", "record", "D10", "--did", "dust out", "--did", "clean and re-lube rails"),
        *("--did", "visual check of capacitors", "--as-left", "visual condition of capacitors=pass"),
        *("--by-the-sheet", "--minutes", "55"),
    )
    assert "done      dust out, clean and re-lube rails, visual check of capacitors\n" in by_the_sheet
    assert "0.5 g" in by_the_sheet
    came = day.typed(
        *("service", "record", "D15", "--did", "arrival check", "--did", "check spindle speed"),
        *("--did", "visual check of capacitors", "--as-left", "spindle speed=300.2", "--instrument", "bench counter"),
        *("--outcome", "on the bench"),
    )
    assert "standing  on the bench since 2026-03-01\n" in came


def _a_fault_comes_and_goes(day: Day) -> None:
    """Its words find it in another form too; closed, what cured it stands beside it."""
    day.typed("fault", "add", "P1", "hum and a rattling lid", "--when", "warm")
    assert "rail and ripple check" in next(row for row in day.rows("due") if row["tag"] == "P1")["procedures"]
    closed = day.typed("fault", "close", "P1", "--cause", "loose screw", "--cure", "screw tightened")
    assert "closed 2026-03-01" in closed
    found = day.typed("fault", "find", "rattle", "lid")
    assert "P1" in found
    assert "screw tightened" in found


def _a_part_is_fitted_and_others_wanted(day: Day) -> None:
    """The second is wanted for the wrong unit and taken back."""
    assert "D6: front, from unit D7, fitted 2026-03-01.\n" in day.typed("part", "fit", "D6", "front", "--donor", "D7")
    day.typed("wanted", "add", "D14", "pressure spring")
    day.typed("wanted", "add", "P2", "mains cord")
    assert "Taken back: act" in day.typed("undo", "--reason", "wrong unit")
    assert [("D14", "pressure spring")] == [(row["tag"], row["part"]) for row in day.rows("wanted", "list")]


def _stands_as_due(day: Day) -> None:
    shown = day.typed("due")
    due = {row["tag"]: row["procedures"] for row in day.rows("due")}
    assert all(tag in shown for tag in due)
    # What was set, served, looked over or mended is not; D2 and D4 have one day's readings since they were set.
    assert {"P4", "D14", "D8", "P6", "D16", "D2", "D4"} == set(due)
    assert "arrival check" in due["D16"]


def _touched(day: Day, acts: set[int]) -> set[str]:
    """Return the tags of the units in whose history one of the acts stands."""
    tags = [row["tag"] for row in day.rows("unit", "list")]
    return {tag for tag in tags if acts & {row["act"] for row in day.rows("history", tag)}}
