"""Run the program as a person would: in this process, which is fast, or in one of its own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import click
from click.testing import CliRunner

from collection.cli.face import state_folder
from collection.cli.main import run
from tests.support.times import TODAY

_MISTAKE = "made a mistake of its own"
ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Ran:
    """What a run left behind: exit code, standard output, standard error."""

    code: int
    out: str
    err: str


class _WithHandler(click.Command):
    """Lets click's runner call the program with its own handling of errors."""

    def main(self, args: Sequence[str] | None = None, *_: Any, **__: Any) -> Any:
        """Run and leave with the exit code."""
        sys.exit(run(args or ()))


def run_cli(
    args: Sequence[str],
    *,
    db: str | Path | None = None,
    today: date | None = TODAY,
    answers: str | bytes | None = None,
    debug: bool = False,
    mistake: bool = False,
) -> Ran:
    """Run a command line in this process.

    `answers` is standard input; it is no terminal, so questions take their defaults. A mistake of the program
    fails the test with its traceback, unless `mistake` says that the test is about one.
    """
    place = ["--db", str(db)] if db is not None else []
    day = ["--today", today.isoformat()] if today is not None else []
    flag = ["--debug"] if debug else []
    result = CliRunner().invoke(_WithHandler("spindlebook"), [*flag, *place, *day, *args], input=answers)
    assert mistake or _MISTAKE not in result.stderr, (state_folder() / "mistakes.log").read_text()
    return Ran(result.exit_code, result.stdout, result.stderr)


def run_well(book: Path, *args: str) -> Ran:
    """Run a command line on a book that has to work."""
    ran = run_cli(args, db=book)
    assert 0 == ran.code, ran
    return ran


def rows_of(book: Path, *args: str) -> list[dict[str, Any]]:
    """Return the rows that a list prints with --json."""
    rows: list[dict[str, Any]] = json.loads(run_well(book, *args, "--json").out)
    return rows


def run_process(
    args: Sequence[str], *, env: Mapping[str, str] | None = None, answers: str | None = None, wait: float = 60
) -> Ran:
    """Run a command line in a process of its own; `env` adds to the environment. Output is read as UTF-8."""
    return _process(program(*args), env, answers, wait)


def run_python(script: str, *args: str) -> Ran:
    """Run a few lines of Python in a process of their own, with the source tree importable."""
    return _process([sys.executable, "-c", script, *args], None, None, 60)


def _process(words: Sequence[str], env: Mapping[str, str] | None, answers: str | None, wait: float) -> Ran:
    result = subprocess.run(
        words,
        check=False,
        capture_output=True,
        encoding="utf-8",
        errors="backslashreplace",
        input=answers or "",
        env=environment(env),
        timeout=wait,
    )
    return Ran(result.returncode, result.stdout, result.stderr)


def program(*args: str) -> list[str]:
    """Return the words that start the program from this source tree."""
    return [sys.executable, "-c", "from collection.cli.entry import main; main()", *args]


def environment(more: Mapping[str, str] | None = None) -> dict[str, str]:
    """Return this environment with the source tree importable and with `more` on top."""
    return {**os.environ, "PYTHONPATH": str(ROOT), **(more or {})}
