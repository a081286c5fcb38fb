"""What a person at a terminal sees: tables that fit it, bold headings, questions, progress."""

from __future__ import annotations

import sys

import pexpect
import pytest

from tests.support.cli import environment

_LIST = """
from collection.cli.show import Column, emit
emit([{"tag": "D1", "why": "re-lube rails: 12 months since 3 Oct 2025"}], [Column("tag"), Column("why")])
"""
_QUESTIONS = """
from collection.cli.show import ask, confirm
print("hertz", ask("Mains frequency", "50", parse))
print("write", confirm("Write 3 rows?"))
"""
_PARSE = """
from collection.errors import Refused
def parse(text):
    if text not in ("50", "60"):
        raise Refused(f"{text} Hz: mains have 50 or 60.", "Type one of them.")
    return int(text)
"""


def _spawn(script: str, columns: int = 80, **env: str) -> pexpect.spawn[str]:
    clean = {name: value for name, value in environment().items() if name not in ("COLUMNS", "NO_COLOR")}
    return pexpect.spawn(
        sys.executable,
        ["-c", script],
        env={**clean, "TERM": "xterm", **env},
        dimensions=(24, columns),
        encoding="utf-8",
        timeout=20,
    )


def _raw(script: str, columns: int = 80, **env: str) -> str:
    child = _spawn(script, columns, **env)
    text = str(child.read())
    child.close()
    assert 0 == child.exitstatus
    return text


def _screen(script: str, columns: int = 80, **env: str) -> list[str]:
    return _raw(script, columns, **env).splitlines()


def test_a_wide_terminal_shows_each_row_on_one_line() -> None:
    """At 80 columns nothing is wrapped, and the heading is bold."""
    assert [
        "\x1b[1mtag  why\x1b[0m",
        "D1   re-lube rails: 12 months since 3 Oct 2025",
    ] == _screen(_LIST)


@pytest.mark.parametrize(("columns", "env"), [(40, {}), (200, {"COLUMNS": "40"})])
def test_a_narrow_terminal_wraps_the_text(columns: int, env: dict[str, str]) -> None:
    """At 40 columns, real or asked for by COLUMNS, the reason goes on below itself and nothing is lost."""
    assert [
        "\x1b[1mtag  why\x1b[0m",
        "D1   re-lube rails: 12 months since 3",
        "     Oct 2025",
    ] == _screen(_LIST, columns, **env)


@pytest.mark.parametrize(
    ("columns", "lines"),
    [
        (29, ["Kept in /home/mirel/book.file", "", "two"]),
        (28, ["Kept in", "  /home/mirel/book.file", "", "two"]),
        (20, ["Kept in", "  /home/mirel/book.file", "", "two"]),
    ],
)
@pytest.mark.parametrize("function", ["say", "note"])
def test_a_sentence_goes_on_below_itself_and_a_path_stays_whole(function: str, columns: int, lines: list[str]) -> None:
    """One that fits is left alone; where the path alone is too wide it is not broken, so that it can be copied."""
    script = f"from collection.cli.show import {function}\n{function}('Kept in /home/mirel/book.file', '', 'two')"

    assert lines == _screen(script, columns)


def test_an_unanswered_question_takes_its_default_and_a_wrong_answer_is_asked_again() -> None:
    """A refused answer says why and asks again; an empty one is the default; only yes is yes."""
    child = _spawn(_PARSE + _QUESTIONS)
    child.expect_exact("Mains frequency [50]: ")
    child.sendline("55")
    child.expect_exact("55 Hz: mains have 50 or 60. Type one of them.")
    child.expect_exact("Mains frequency [50]: ")
    child.sendline("")
    child.expect_exact("hertz 50")
    child.expect_exact("Write 3 rows? [y/N]: ")
    child.sendline("yes")
    child.expect_exact("write True")
    child.expect(pexpect.EOF)
    child.close()
    assert 0 == child.exitstatus


def test_an_empty_answer_to_a_yes_or_no_is_no() -> None:
    """Pressing Enter writes nothing."""
    child = _spawn("from collection.cli.show import confirm\nprint('write', confirm('Write 3 rows?'))")
    child.expect_exact("Write 3 rows? [y/N]: ")
    child.sendline("")
    child.expect_exact("write False")
    child.expect(pexpect.EOF)
    child.close()


_PROGRESS = """
import time
from collection.cli.show import progress
with progress("readings.csv") as tick:
    tick(1, 1_200_000)
    time.sleep(WAIT)
    tick(600_000, 1_200_000)
print("done")
"""


def test_long_work_shows_how_far_it_is_and_clears_the_line() -> None:
    """After half a second the label and the counts appear; at the end they are gone from the line."""
    shown = "readings.csv: 600,000 of 1,200,000"

    assert f"\r{shown}\r{' ' * len(shown)}\rdone\r\n" == _raw(_PROGRESS.replace("WAIT", "0.6"))


def test_short_work_shows_no_progress() -> None:
    """What takes less than half a second leaves the screen alone."""
    assert "done\r\n" == _raw(_PROGRESS.replace("WAIT", "0.1"))
