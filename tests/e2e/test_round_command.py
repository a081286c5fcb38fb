"""round from the command line, without a terminal: arguments, standard input and forms."""

from __future__ import annotations

import json
from pathlib import Path

import pexpect

from collection.store.engine import open_engine
from tests.support.books import digest
from tests.support.cli import Ran, environment, program, run_cli
from tests.support.times import TODAY

SPEED = ("round", "--of", "spindle speed", "--instrument", "bench counter")


def _run(book: Path, *args: str, answers: str | None = None) -> Ran:
    return run_cli(args, db=book, answers=answers)


def test_lines_are_read_from_standard_input_and_summed_up(book: Path) -> None:
    """One line per unit with what it says, who is high, and how to take it back."""
    ran = _run(book, *SPEED, answers="D1=300.1\n\nD2 = 306 \nd4=199.8 ms\n")

    assert 0 == ran.code, ran
    assert "3 told, 1 high (D2)." in ran.out
    assert "spindlebook undo" in ran.out
    assert "300.3 r/min" in ran.out


def test_nothing_told_is_refused_with_what_to_type(book: Path) -> None:
    """A script that pipes nothing learns of it."""
    ran = _run(book, *SPEED, answers="")

    assert (1, "") == (ran.code, ran.out)
    assert "Type TAG=VALUE" in ran.err


def test_a_form_is_shown_first_then_written_and_the_same_file_adds_nothing(book: Path, tmp_path: Path) -> None:
    """Written, filled in, shown without writing, brought in with --yes, brought in again."""
    form = tmp_path / "speeds.csv"
    assert 0 == _run(book, *SPEED, "D1", "D2", "--write", str(form)).code
    form.write_text(form.read_text("utf-8-sig").replace("304.5,,", "304.5,300,"))
    lines = [line for line in form.read_text().splitlines() if line.startswith("D")]
    assert 2 == len(lines)

    engine = open_engine(str(book))
    before = digest(engine)
    shown = _run(book, "round", "--from", str(form), "--json")
    assert before == digest(engine)
    assert {"new"} == {row["kind"] for row in json.loads(shown.out)}, shown

    assert "Written as one act" in _run(book, "round", "--from", str(form), "--yes").out
    after = digest(engine)
    again = _run(book, "round", "--from", str(form), "--yes")
    assert "Nothing new" in again.out
    assert after == digest(engine)


def test_what_is_refused_in_a_form_is_named_by_its_row(book: Path, tmp_path: Path) -> None:
    """Nothing is written; the good rows are shown as well."""
    form = tmp_path / "form.csv"
    form.write_text("round of,spindle speed\ninstrument,hand strobe\ntag,value\nD1,300\nD77,300\nD2,abc\n")

    ran = _run(book, "round", "--from", str(form), "--yes", "--json")
    assert 1 == ran.code
    assert [(4, "new"), (5, "refused"), (6, "refused")] == [(row["row"], row["kind"]) for row in json.loads(ran.out)]
    assert "2 lines are refused; nothing was written." in ran.err


def test_cautions_stand_before_the_work_on_the_screen_and_in_the_form(book: Path, tmp_path: Path) -> None:
    """Where a procedure is done on many units the caution is read before the first."""
    ran = _run(book, "round", "--did", "dust out", "D1", "D2")
    assert 0 == ran.code, ran
    assert ran.out.index("Before the work") < ran.out.index("2 told")

    form = tmp_path / "form.csv"
    assert 0 == _run(book, "round", "--did", "dust out", "D4", "--write", str(form)).code
    text = form.read_text("utf-8-sig")
    assert 0 < text.index("caution,") < text.index("D4")


def _sit_down(book: Path) -> pexpect.spawn[str]:
    words = [*program()[1:], "--db", str(book), "--today", TODAY.isoformat(), *SPEED]
    return pexpect.spawn(
        program()[0],
        words,
        env=environment({"TERM": "xterm"}),
        dimensions=(50, 80),
        encoding="utf-8",
        timeout=60,
    )


def test_a_killed_round_goes_on_where_it_was_and_ends_as_one_act(book: Path) -> None:
    """What was typed before the battery died is there again; Ctrl-C says how to go on."""
    first = _sit_down(book)
    for prompt, typed in (("D1 .*: ", "300.1"), ("D2 .*: ", "306")):
        first.expect(prompt)
        first.sendline(typed)
    first.expect("D3 .*: ")
    first.kill(9)
    first.close()

    second = _sit_down(book)
    second.expect("Going on: 2 told before.")
    second.expect("D3 .*: ")
    second.sendintr()
    second.expect("Put the 2 told so far into the book now.*: ")
    second.sendline("n")
    second.expect("To go on:")
    second.expect(pexpect.EOF)
    second.close()
    assert 130 == second.exitstatus

    third = _sit_down(book)
    for prompt, typed in (("D3 .*: ", ""), ("D4 .*: ", "299"), ("Enter puts.*: ", "")):
        third.expect(prompt)
        third.sendline(typed)
    third.expect(r"3 told, 1 high \(D2\), 1 passed over \(D3\)")
    third.expect(pexpect.EOF)
    third.close()
    assert (0, "round") == (third.exitstatus, json.loads(_run(book, "history", "--json").out)[0]["command"])
