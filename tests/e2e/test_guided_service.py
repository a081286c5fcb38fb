"""A guided service at a real terminal: asked, answered, taken back, interrupted, gone on with."""

from __future__ import annotations

import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pexpect

from collection.acts.service_given import GivenService, GivenUse
from collection.acts.service_guide import keep_answer
from collection.acts.service_record import record_service
from collection.analysis.guide import Place
from collection.store.engine import fetch, open_engine, reading
from tests.support.bench import IPA
from tests.support.books import digest
from tests.support.cli import environment, run_cli
from tests.support.times import NOW, TODAY
from tests.support.warm import warm_program

_KEPT = {
    "readings": "SELECT count(*) FROM reading WHERE act_id NOT IN (SELECT act_id FROM undone)",
    "tasks": "SELECT count(*) FROM task WHERE act_id NOT IN (SELECT act_id FROM undone)",
    "uses": "SELECT count(*) FROM movement WHERE kind = 'use' AND act_id NOT IN (SELECT act_id FROM undone)",
    "open": "SELECT count(*) FROM service WHERE void = 0 AND closed_on IS NULL",
}


class Sitting:
    """Somebody at a terminal of 80 columns; `seen` is all that stood on it."""

    def __init__(self, book: Path, *words: str) -> None:
        clean = {name: value for name, value in environment().items() if name not in ("COLUMNS", "NO_COLOR")}
        started = warm_program("--no-color", "--db", str(book), "--today", TODAY.isoformat(), "service", *words)
        self.child = pexpect.spawn(
            started[0], started[1:], env={**clean, "TERM": "xterm"}, dimensions=(50, 80), encoding="utf-8", timeout=20
        )
        self.seen = ""

    def answer(self, question: str, text: str) -> None:
        """Wait for a question (its beginning) and answer it."""
        self.child.expect(rf"\n{question}[^\n]*(?:\n  [^\n]*)?: $")
        self.seen += f"{self.child.before}{self.child.after}"
        self.child.sendline(text)

    def end(self) -> int:
        """Return the exit code once the program has ended."""
        self.child.expect(pexpect.EOF)
        self.seen += str(self.child.before)
        self.child.close()
        return -int(self.child.signalstatus) if self.child.signalstatus else int(self.child.exitstatus or 0)

    @property
    def lines(self) -> list[str]:
        """What stood on the screen, line by line."""
        return self.seen.splitlines()


@contextmanager
def _sitting(book: Path, *words: str) -> Iterator[Sitting]:
    made = Sitting(book, *words)
    try:
        yield made
    finally:
        made.child.close(force=True)


def _kept(book: Path) -> dict[str, int]:
    engine = open_engine(str(book))
    with reading(engine) as conn:
        found = {what: int(fetch(conn, sql)[0][0]) for what, sql in _KEPT.items()}
    engine.dispose()
    return found


def test_a_whole_service_is_asked_for_and_kept_block_by_block(book: Path) -> None:
    """Units, limits and amounts stand in the questions, cautions before the work; nothing is wider than 80 columns."""
    with _sitting(book, "record", "D4") as at:
        at.answer("spindle speed", "fast")
        at.answer("spindle speed", "?")
        at.answer("spindle speed", "306.1")
        at.answer("  read with which instrument", "")
        at.answer("radial alignment", "skip all")
        at.answer("which of them", "99")
        at.answer("which of them", "set spindle speed, clean head")
        at.answer("Do the work now", "")
        at.answer("isopropyl alcohol", "")
        at.answer("foam swab", "3")
        at.answer("another supply", "")
        at.answer("another part", "")
        at.answer("spindle speed", "200.0 ms")
        at.answer("head condition", "pass")
        at.answer("findings", "felt worn")
        at.answer("minutes", "some")
        at.answer("minutes", "20")
        at.answer("outcome .ready.", "")
        assert 0 == at.end()

    assert all(len(line) <= 80 for line in at.lines)
    before, _, after = at.seen.partition("Do the work now")
    flat = " ".join(before.split())
    assert "spindle speed (295.5 to 304.5 r/min): " in before
    assert '"fast" is not a number' in before
    assert 'With its instrument: "301.2 @bench counter"' in flat
    assert "There is no 99 in the list." in before
    assert "kept: spindle speed 306.1 r/min, high (295.5 to 304.5)\r\n" in before
    assert "Isopropyl alcohol: danger." in flat
    assert "kept: set spindle speed, clean head\r\n" in after
    assert "isopropyl alcohol 99 % (lot A-1, 10 ml left) [1 ml]: \r\n" in after
    assert "kept: 1 ml of isopropyl alcohol 99 % from lot A-1, by the sheet\r\n" in after
    assert "kept: 3 pieces of foam swab, lint-free from lot S-1\r\n" in after
    assert "kept: spindle speed 300 r/min, within (295.5 to 304.5)\r\n" in after
    assert '"some" is no number of minutes.' in after
    assert "\nD4: service of 2026-03-01\r\n" in after
    assert "standing  ready since 2026-03-01\r\n" in after
    assert 1 == after.count("felt worn\r\nkept: felt worn")
    assert {"readings": 3, "tasks": 2, "uses": 2, "open": 0} == _kept(book)


def test_an_interrupted_service_loses_one_answer_and_goes_on(book: Path) -> None:
    """Ctrl-C after a block, then a kill in the middle of an answer; what was answered before is all there."""
    with _sitting(book, "record", "D4") as at:
        at.answer("spindle speed", "306.1 @bench counter")
        at.answer("radial alignment", "skip all")
        at.answer("which of them", "clean head")
        at.answer("Do the work now", "yes")
        at.child.expect_exact("[1 ml]: ")
        time.sleep(0.2)  # a signal between the prompt and the wait for an answer is seen with the answer
        at.child.sendintr()
        assert 130 == at.end()
    assert (
        "What was answered is kept, and the service of D4 is open.\r\nGo on: spindlebook service resume D4" in at.seen
    )
    assert {"readings": 1, "tasks": 1, "uses": 0, "open": 1} == _kept(book)
    assert "open, next: supplies" in run_cli(["unit", "show", "D4"], db=book).out

    with _sitting(book, "resume") as at:
        at.answer("isopropyl alcohol", "2 ml")
        at.child.expect_exact("[2 pieces]: ")
        at.child.send("1")
        at.child.kill(signal.SIGKILL)
        assert -signal.SIGKILL == at.end()
    assert {"readings": 1, "tasks": 1, "uses": 1, "open": 1} == _kept(book)

    with _sitting(book, "resume", "d4") as at:
        at.answer("foam swab", "back")
        at.answer("isopropyl alcohol", "back")
        at.answer("which of them", "skip all")
        at.answer("another supply", "back")
        at.answer("which of them", "back")
        at.answer("spindle speed", "back")
        at.answer("spindle speed", "skip all")
        at.answer("which of them", "")
        at.answer("another supply", "")
        at.answer("another part", "skip")
        at.answer("findings", "")
        at.answer("minutes", "")
        assert 0 == at.end()
    assert "D4: service open since 2026-03-01, next: supplies" in at.seen
    assert "This is the first question." in at.seen
    assert at.seen.rstrip().endswith("Nothing was kept.")
    assert {"readings": 0, "tasks": 0, "uses": 0, "open": 0} == _kept(book)
    assert "standing  ready since 2025-01-10" in run_cli(["unit", "show", "D4"], db=book).out


def test_what_the_last_unit_was_answered_is_taken_over(book: Path) -> None:
    """Tasks, amounts and minutes are; a value is read on each unit. Ready needs a reason while something is missing."""
    engine = open_engine(str(book))
    given = GivenService(
        did=("clean head",), used=(GivenUse(IPA, "3", "ml"),), minutes=25, findings="dust", outcome="on the bench"
    )
    record_service(engine, "D1", given, today=TODAY, now=NOW)
    engine.dispose()

    with _sitting(book, "record", "D4") as at:
        at.answer("spindle speed", "same")
        at.answer("spindle speed", "skip all")
        at.answer("which of them", "same as the last unit")
        at.answer("Do the work now", "")
        at.answer("isopropyl alcohol", "same")
        at.answer("another part", "")
        at.answer("head condition", "")
        at.answer("findings", "same")
        at.answer("minutes", "same")
        at.answer("outcome .on the bench.", "ready")
        at.answer("  all the same", "")
        at.answer("outcome .on the bench.", "ready")
        at.answer("  all the same", "loupe lent out")
        assert 0 == at.end()

    assert "A value is read on each unit, not taken from D1" in at.seen
    assert "kept: 3 ml of isopropyl alcohol 99 % from lot A-1\r\n" in at.seen
    assert "kept: none of foam swab, lint-free\r\n" in at.seen
    assert "as D1: dust\r\nkept: dust\r\n" in at.seen
    assert "kept: 25 minutes\r\n" in at.seen
    assert "Not ready: head condition is missing as left.\r\n" in at.seen
    assert "Doubtful:  ready: ready all the same (loupe lent out)" in at.seen.replace("outcome ready", " ready")
    assert {"readings": 0, "tasks": 2, "uses": 2, "open": 0} == _kept(book)


def test_a_unit_that_is_not_at_hand_needs_a_reason_first(book: Path) -> None:
    """Before anything else is asked; the reason stands with the service. Without one nothing is asked."""
    with _sitting(book, "record", "D9") as at:
        at.answer("  it is here all the same", "")
        assert 0 == at.end()
    with _sitting(book, "record", "D9") as at:
        at.answer("  it is here all the same", "found behind shelf B")
        at.answer("spindle speed", "301.2 @bench counter")
        at.child.expect_exact("kept: spindle speed 301.2 r/min")
        at.seen += str(at.child.before)

    assert "D9 is missing and not at hand.\r\n" in at.seen
    card = run_cli(["unit", "show", "D9"], db=book).out
    assert "found behind shelf B" in card
    assert "open, next: as found" in card


def test_without_a_terminal_nothing_is_asked_and_nothing_written(book: Path) -> None:
    """Answers in a pipe are not taken for a person's; the refusal names the options. Several open ones are listed."""
    engine = open_engine(str(book))
    before = digest(engine)
    piped = run_cli(["service", "record", "D4"], db=book, answers="306.1\n\n")
    none = run_cli(["service", "resume"], db=book)
    for tag in ("D4", "D1"):
        given = GivenService(did=("clean head",))
        keep_answer(engine, tag, given, Place("supplies"), is_open=False, today=TODAY, now=NOW)
        if tag == "D4":
            assert 1 == run_cli(["service", "resume"], db=book).code
            assert before != digest(engine)
    listed = run_cli(["service", "resume"], db=book)
    engine.dispose()

    assert (
        "What was done to D4 is not said, and there is no terminal to ask at.\n"
        "Add --did, --as-found, --as-left, --used, --findings or --from; see: spindlebook service record --help\n"
    ) == piped.err
    assert (1, 0) == (piped.code, none.code)
    assert "No guided service is open. Type: spindlebook service record TAG\n" == none.out
    assert (
        "tag  open since  next\nD4   2026-03-01  supplies\nD1   2026-03-01  supplies\n"
        "Type: spindlebook service resume TAG\n"
    ) == listed.out
