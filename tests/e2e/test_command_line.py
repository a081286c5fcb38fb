"""The command line as a whole: help, start-up, exit codes, and what every kind of failure looks like."""

from __future__ import annotations

import errno
import re
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import click
import psycopg
import pytest
from sqlalchemy import create_engine, exc, text

from collection import __version__
from collection.cli.commands import COMMANDS, EVERYDAY, Entry
from collection.cli.face import Face
from collection.cli.main import program as root
from collection.errors import Expected, Moved, NoBook, Refused
from tests.support.cli import Ran, environment, program, run_cli, run_process, run_python

Fails = Callable[..., Ran]


@pytest.fixture
def fail(monkeypatch: pytest.MonkeyPatch) -> Fails:
    """Return a function that runs a command which raises what it is given."""

    def failing(error: BaseException, *, debug: bool = False) -> Ran:
        @click.command("fail")
        def command() -> None:
            raise error

        module = ModuleType("collection.cli.fail")
        module.fail_command = command  # type: ignore[attr-defined]
        monkeypatch.setitem(sys.modules, "collection.cli.fail", module)
        monkeypatch.setitem(COMMANDS, "fail", Entry("fail", "fail_command", "Fail"))
        return run_cli(["fail"], debug=debug, mistake=True)

    return failing


def test_the_first_help_page_shows_the_ten_everyday_commands_first() -> None:
    """A newcomer meets the everyday commands, each with its line, before the names of the others."""
    page = run_cli(["--help"]).out

    assert 10 == len(EVERYDAY)
    places = [page.index(f"\n  {name} ") for name in EVERYDAY]
    assert sorted(places) == places
    assert all(entry.help in page for entry in EVERYDAY.values())
    after = re.split(r"[,\s]+", page[places[-1] :])
    assert [name for name in COMMANDS if name not in EVERYDAY and name not in after] == []


@pytest.mark.parametrize("name", COMMANDS)
def test_the_help_table_says_what_the_command_says(name: str) -> None:
    """The line of the first help page is the first line of the command's own help."""
    with click.Context(root) as context:
        command = root.get_command(context, name)

    assert command is not None
    assert COMMANDS[name].help + "." == (command.help or "").splitlines()[0]


@pytest.mark.parametrize("args", [["--help"], ["--version"], ["completion", "bash"], ["nonsense"]])
def test_nothing_heavy_is_loaded_before_a_command_needs_it(args: list[str]) -> None:
    """Help, version, completion and a mistyped word load click and nothing else from outside Python."""
    script = "import sys\nfrom collection.cli.main import run\nrun(sys.argv[1:])\nprint('|', *sys.modules)"
    loaded = {name.split(".")[0] for name in run_python(script, *args).out.rsplit("|", 1)[1].split()}
    outside = loaded - sys.stdlib_module_names - {"collection", "__main__"}
    assert {"click"} == {name for name in outside if not name.startswith(("_", "sitecustomize"))}
    assert "sqlite3" not in loaded


def test_the_version_is_the_packages_own() -> None:
    """One place holds the version."""
    assert f"spindlebook, version {__version__}\n" == run_cli(["--version"]).out


def test_completion_offers_the_names_of_commands() -> None:
    """A shell gets the commands that begin with what was typed, from the table alone."""
    env = {"_SPINDLEBOOK_COMPLETE": "bash_complete", "COMP_WORDS": "spindlebook re", "COMP_CWORD": "1"}

    names = ["plain,reading", "plain,reorder", "plain,report", "plain,restore"]
    assert names == run_process([], env=env).out.split()


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_gets_its_completion_script(shell: str) -> None:
    """The script asks this program, by its own variable."""
    script = run_cli(["completion", shell]).out

    assert "_SPINDLEBOOK_COMPLETE" in script
    assert f"{shell}_complete" in script


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["duee"], "There is no command 'duee'; did you mean due or demo?\nType: spindlebook --help\n"),
        (
            ["report", "insuranc"],
            "There is no report 'insuranc'; did you mean insurance?\nType: spindlebook report --help\n",
        ),
        (["xyzzy"], "There is no command 'xyzzy'.\nType: spindlebook --help\n"),
        (
            ["undo", "1000000001"],
            (
                "Invalid value for '[ACT]': '1000000001' is no whole number from 1 to 1,000,000,000.\n"
                "Type: spindlebook undo --help\n"
            ),
        ),
        (["--bogus", "due"], "No such option '--bogus'.\nType: spindlebook --help\n"),
        (
            ["completion", "csh"],
            (
                "Invalid value for '{bash|zsh|fish}': 'csh' is not one of 'bash', 'zsh', 'fish'.\n"
                "Type: spindlebook completion --help\n"
            ),
        ),
    ],
)
def test_a_wrong_command_line_says_so_in_two_lines(args: list[str], said: str) -> None:
    """Exit code 2, the wrong word, and where to look."""
    assert Ran(2, "", said) == run_cli(args)


@pytest.mark.parametrize("day", ["2026-02-29", "2026-13-01", "1 March", "20260301", "2026-3", "", "x\x1b[31m"])
def test_an_impossible_today_is_refused(day: str) -> None:
    """Only a day of the calendar can be taken for today, by option or by environment."""
    ran = run_cli(["--today", day, "completion", "bash"], today=None)

    assert 2 == ran.code
    assert "is not a day of the calendar written like 2026-03-01" in ran.err
    assert "\x1b" not in ran.err


@pytest.mark.parametrize(
    ("error", "code", "said"),
    [
        (Refused("Lot A has 3 ml; 5 were to be used.", "Type: spindlebook stock"), 1, None),
        (Moved("Unit D1 changed since you looked.", "Look again."), 4, None),
        (NoBook("There is no book at x.", "Type: spindlebook start"), 5, None),
        (Expected("2 units are due.", exit_code=3), 3, "2 units are due.\n"),
        (KeyboardInterrupt(), 130, "Interrupted.\n"),
        (BrokenPipeError(errno.EPIPE, "Broken pipe"), 0, ""),
        (
            UnicodeDecodeError("utf-8", b"D1=\x9d", 3, 4, "invalid start byte"),
            1,
            "What was read is no text in UTF-8; nothing was changed.\nWrite it in UTF-8, then repeat.\n",
        ),
        (EOFError(), 1, "The input ended before the question was answered; nothing was written.\n"),
        (
            MemoryError(),
            1,
            "The memory of this computer ran out; nothing was changed.\nClose other programs first.\n",
        ),
        (
            UnicodeEncodeError("utf-8", "D\udcff", 1, 2, "surrogates not allowed"),
            1,
            "A text holds a character that is none; nothing was changed.\nType it again, in UTF-8.\n",
        ),
        (
            OSError(errno.ENOSPC, "No space left on device", "b.csv"),
            1,
            "b.csv: No space left on device.\nMake room on the disk, then repeat the command.\n",
        ),
        (
            PermissionError(errno.EACCES, "Permission denied", "/x"),
            1,
            "/x: Permission denied.\nName a place that you may read and write, or ask for the right to.\n",
        ),
        (
            sqlite3.OperationalError("database is locked"),
            1,
            "Another program is writing to the book.\nRepeat the command when it is done.\n",
        ),
        (
            exc.OperationalError("INSERT", {}, sqlite3.OperationalError("database or disk is full")),
            1,
            "The disk is full; nothing was changed.\nMake room on it, then repeat the command.\n",
        ),
        (
            sqlite3.OperationalError("attempt to write a readonly database"),
            1,
            "The book cannot be written.\nAsk for the right to write its file and folder.\n",
        ),
        (
            psycopg.OperationalError("connection to server at 'club' failed: refused\nmore"),
            5,
            (
                "There is no connection to the book: connection to server at 'club' failed: refused\n"
                "Check its address and that its server runs, or name another book with --db\n"
            ),
        ),
        (
            psycopg.errors.LockNotAvailable("canceling statement due to lock timeout"),
            1,
            "Another program is writing to the book.\nRepeat the command when it is done.\n",
        ),
    ],
)
def test_every_expected_failure_has_its_words_and_its_code(
    fail: Fails, error: BaseException, code: int, said: str | None
) -> None:
    """One or two lines on standard error, nothing on standard output, no traceback."""
    if isinstance(error, Expected) and said is None:
        said = f"{error.what}\n{error.hint}\n"

    assert Ran(code, "", said or "") == fail(error)


def test_a_mistake_of_the_program_goes_to_a_log(fail: Fails, tmp_path: Path) -> None:
    """A person reads one line and where the rest is; the log holds the traceback."""
    ran = fail(ZeroDivisionError("division by zero"))

    log = tmp_path / "home/.local/state/spindlebook/mistakes.log"
    assert 1 == ran.code
    assert [
        "Spindlebook made a mistake of its own (ZeroDivisionError: division by zero).",
        f"Please report it; what happened is in {log}",
    ] == ran.err.splitlines()
    assert "Traceback" in log.read_text()
    assert "division by zero" in log.read_text()


def test_a_log_that_cannot_be_written_is_no_second_failure(fail: Fails, tmp_path: Path) -> None:
    """Where the log's folder cannot be made the person is told how to see the traceback."""
    (tmp_path / "home").write_text("a file where a folder is wanted")

    ran = fail(ZeroDivisionError("division by zero"))

    assert 1 == ran.code
    assert "repeat with --debug to see it" in ran.err


def test_debug_shows_the_traceback(fail: Fails) -> None:
    """Whoever asks for it sees where the program failed."""
    assert "Traceback" not in fail(ZeroDivisionError("x")).err
    assert "Traceback" in fail(ZeroDivisionError("x"), debug=True).err


def test_an_error_of_the_database_that_nobody_foresaw_is_a_mistake_of_the_program(fail: Fails) -> None:
    """A wrong statement is our defect and is logged, not called a fault of the disk."""
    engine = create_engine("sqlite://")
    with engine.connect() as connection, pytest.raises(exc.OperationalError) as raised:
        connection.execute(text("SELECT * FROM nowhere"))
    engine.dispose()

    assert "mistake of its own" in fail(raised.value).err


def test_a_reader_that_has_enough_is_no_failure() -> None:
    """`spindlebook completion bash | head -1` ends quietly, though the pipe is closed early."""
    shell = f"{' '.join(map(_quoted, program('completion', 'bash')))} | true; exit ${{PIPESTATUS[0]}}"
    result = subprocess.run(["bash", "-c", shell], capture_output=True, text=True, check=False, env=environment())

    assert (0, "") == (result.returncode, result.stderr)


def test_output_to_a_full_disk_says_so() -> None:
    """What could not be written is not silently lost."""
    with Path("/dev/full").open("w") as full:
        result = subprocess.run(
            program("--help"), stdout=full, stderr=subprocess.PIPE, text=True, check=False, env=environment()
        )

    assert 1 == result.returncode
    assert [
        "No space left on device.",
        "Make room on the disk; before you repeat the command, see whether it was done: spindlebook history",
    ] == result.stderr.splitlines()


@pytest.mark.parametrize("closed", ["<&-", ">&-", "2>&-"])
def test_a_closed_stream_is_no_failure(closed: str) -> None:
    """The program runs without standard input, output or error."""
    shell = f"{' '.join(map(_quoted, program('completion', 'bash')))} {closed}"
    result = subprocess.run(["bash", "-c", shell], capture_output=True, text=True, check=False, env=environment())

    assert (0, "") == (result.returncode, result.stderr)


def _quoted(word: str) -> str:
    return "'" + word + "'"


@pytest.mark.parametrize("env", [{"LC_ALL": "C", "PYTHONUTF8": "0"}, {"PYTHONIOENCODING": "latin-1"}])
def test_odd_letters_never_raise(env: dict[str, str]) -> None:
    """Where the terminal cannot show a letter, or a name is no text at all, a '?' stands in its place."""
    ran = run_process(["µ\udcff磁"], env=env)

    assert 2 == ran.code
    assert "There is no command" in ran.err
    assert "Traceback" not in ran.err


@pytest.mark.parametrize(
    ("args", "env", "color"),
    [
        ([], {}, True),
        (["--no-color"], {}, False),
        ([], {"NO_COLOR": "1"}, False),
        ([], {"NO_COLOR": ""}, True),
        ([], {"TERM": "dumb"}, False),
    ],
)
def test_colour_is_left_out_where_it_is_not_wanted(
    monkeypatch: pytest.MonkeyPatch, args: list[str], env: dict[str, str], color: bool
) -> None:
    """NO_COLOR (no-color.org: present and not empty), a dumb terminal and --no-color each turn it off."""
    monkeypatch.setenv("TERM", "xterm")
    for name, value in env.items():
        monkeypatch.setenv(name, value)

    assert color == _face(monkeypatch, args).color


def _face(monkeypatch: pytest.MonkeyPatch, args: list[str]) -> Face:
    seen: list[Face] = []

    @click.command("look")
    @click.pass_obj
    def command(face: Face) -> None:
        seen.append(face)

    module = ModuleType("collection.cli.look")
    module.look_command = command  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "collection.cli.look", module)
    monkeypatch.setitem(COMMANDS, "look", Entry("look", "look_command", "Look"))
    assert 0 == run_cli([*args, "look"], today=None).code
    return seen[0]


def test_a_frozen_day_freezes_the_instant(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a given day the clock stands still at noon UTC, so a run can be repeated to the letter."""
    monkeypatch.setenv("SPINDLEBOOK_TODAY", "2026-03-01")
    by_environment, by_option = _face(monkeypatch, []), _face(monkeypatch, ["--today", "2024-02-29"])

    assert ("2026-03-01", "2026-03-01T12:00:00+00:00") == _clock(by_environment)
    assert ("2024-02-29", "2024-02-29T12:00:00+00:00") == _clock(by_option)


def _clock(face: Face) -> tuple[str, str]:
    return face.today.isoformat(), face.now.isoformat()


def test_the_book_in_use_is_the_option_then_the_environment_then_the_data_folder(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The nearer word counts, and without any the book stands in the person's data folder."""
    assert str(tmp_path / "home/.local/share/spindlebook/book.sqlite3") == _face(monkeypatch, []).location
    monkeypatch.setenv("SPINDLEBOOK_DB", "env.sqlite3")
    assert "env.sqlite3" == _face(monkeypatch, []).location
    assert "opt.sqlite3" == _face(monkeypatch, ["--db", "opt.sqlite3"]).location
    monkeypatch.setenv("SPINDLEBOOK_DB", "")
    assert str(tmp_path / "home/.local/share/spindlebook/book.sqlite3") == _face(monkeypatch, []).location


def test_ctrl_c_leaves_with_130() -> None:
    """An interrupted command says one word and leaves with the code of an interrupt."""
    script = (
        "import os, signal, sys, collection.cli.completion as c\n"
        "c.completion_command.callback = lambda shell: os.kill(os.getpid(), signal.SIGINT)\n"
        "from collection.cli.main import run\nsys.exit(run(['completion', 'bash']))"
    )
    assert Ran(130, "", "Interrupted.\n") == run_python(script)
