"""Ctrl-C, pipes that close, terminals that are narrow or know few letters: never a traceback, never half an act."""

from __future__ import annotations

import json
import shlex
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pexpect
import pytest
from sqlalchemy.engine import Engine

from collection.cli.table import width_of
from collection.store.engine import open_engine
from tests.support.bench import SWAB, set_up_bench
from tests.support.books import digest, scalar
from tests.support.cli import Ran, environment, program, run_cli, run_process, run_python
from tests.support.kills import Children
from tests.support.terminal import screen
from tests.support.times import NOW, TODAY
from tests.support.warm import warm_program

SERVICE = ["service", "record", "D1", "--findings", "worn", "--used", f"{SWAB}=1"]


@pytest.fixture
def demo(built_demo: Path) -> Path:
    """Return the demo's book; nobody may write to it."""
    return built_demo


@pytest.fixture
def bench(engine: Engine) -> Engine:
    """Return a book with a shelf and a drawer, on each database."""
    set_up_bench(engine, TODAY, NOW)
    return engine


def _shell(line: str) -> Ran:
    ran = subprocess.run(
        ["bash", "-o", "pipefail", "-c", line],
        check=False,
        capture_output=True,
        text=True,
        env=environment(),
        timeout=60,
    )
    return Ran(ran.returncode, ran.stdout, ran.stderr)


def _line(db: Path, *words: str) -> str:
    return shlex.join(program("--db", str(db), "--today", TODAY.isoformat(), *words))


# --- Ctrl-C --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("wait", [0.0, 0.005])
def test_ctrl_c_in_the_middle_of_an_act_writes_nothing(
    forks: Children, bench: Engine, book_url: str, tmp_path: Path, wait: float
) -> None:
    """An import and a service, interrupted while their transaction is open: code 130, one word, the same book."""
    rows = ["tag,measurement,taken_on,instrument,value,stage"]
    rows += [f"D1,spindle speed,2025-{day % 12 + 1:02}-01,bench counter,300.{day:04},between" for day in range(3000)]
    (tmp_path / "csv").mkdir()
    (tmp_path / "csv" / "readings.csv").write_text("\n".join(rows), encoding="utf-8")
    before = digest(bench)
    for command in (["import", str(tmp_path / "csv"), "--yes"], SERVICE):
        died = forks.kill([["--db", book_url, *command]], at=1, since="write", wait=wait, sign=signal.SIGINT)

        ((code, _out, err),) = died.answers
        assert (130, "Interrupted.\n") == (code, err)
        assert before == digest(bench)
    assert 0 == run_cli(SERVICE, db=book_url).code


def test_ctrl_c_while_the_program_is_loading_is_one_word(tmp_path: Path) -> None:
    """The signal comes while modules are imported, and before the command has been looked at."""
    words = [sys.executable, "-X", "importtime", *program("--db", str(tmp_path / "book"), "due")[1:]]
    with subprocess.Popen(words, stderr=subprocess.PIPE, text=True, env=environment()) as child:
        assert child.stderr is not None
        for line in child.stderr:
            if line.split("|")[-1].strip().startswith("click."):  # the first that the entry loads
                child.send_signal(signal.SIGINT)
                break
        said = [line for line in child.stderr if not line.startswith("import time:")]

    assert (130, ["Interrupted.\n"]) == (child.returncode, said)


_DROPPED = """
import signal, time, weakref
from collection.cli import entry, main

class Thrown: pass

def begin():
    thrown = Thrown()
    kept = weakref.ref(thrown, lambda _: signal.raise_signal(signal.SIGINT))
    del thrown
    time.sleep(5)
    print("written")

main.main = begin
entry.main()
"""


def test_ctrl_c_while_an_object_is_thrown_away_is_not_dropped() -> None:
    """Python ignores what is raised in the call that tells of it; the act went on and was kept."""
    ran = run_python(_DROPPED)

    assert (130, "", "Interrupted.\n") == (ran.code, ran.out, ran.err)


def test_a_question_that_is_interrupted_writes_nothing(sqlite_book: Path, tmp_path: Path) -> None:
    """Ctrl-C at the question whether to write: code 130, and the book is as it was."""
    (tmp_path / "csv").mkdir()
    (tmp_path / "csv" / "locations.csv").write_text("location\nattic\n", encoding="utf-8")
    before = digest(open_engine(str(sqlite_book)))
    words = program("--db", str(sqlite_book), "import", str(tmp_path / "csv"))
    child = pexpect.spawn(words[0], words[1:], env=environment(), encoding="utf-8", timeout=20)
    child.expect_exact("Write this into the book? [y/N]: ")
    time.sleep(0.2)  # a person is slower than the way from the question to the read(2) that the signal breaks off
    child.sendintr()
    child.expect_exact("Interrupted.")
    child.expect(pexpect.EOF)
    child.close()

    assert 130 == child.exitstatus
    assert before == digest(open_engine(str(sqlite_book)))


# --- pipes ---------------------------------------------------------------------------------------------------


@pytest.mark.usefixtures("looked_at")
@pytest.mark.parametrize(
    "words",
    [["due"], ["history", "--json"], ["reading", "list", "D1", "--all"]],
    ids=" ".join,
)
def test_a_reader_that_has_enough_is_no_failure(demo: Path, words: list[str]) -> None:
    """`| head -1` gets its line and the program ends without a word."""
    ran = _shell(f"{_line(demo, *words)} | head -1")

    assert (0, "") == (ran.code, ran.err)
    assert 1 == len(ran.out.splitlines())


@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&- <&-", "| true"])
def test_an_act_is_done_whatever_becomes_of_its_words(demo: Path, tmp_path: Path, closed: str) -> None:
    """A closed stream neither stops an act nor turns it into a failure."""
    book = Path(shutil.copy(demo, tmp_path / "book"))

    ran = _shell(f"{_line(book, 'service', 'record', 'D1', '--findings', 'seen')} {closed}")

    assert (0, "") == (ran.code, ran.err)
    assert 1 == scalar(open_engine(str(book)), "SELECT count(*) FROM service WHERE findings = 'seen'")


def test_words_that_no_longer_fit_on_a_disk_do_not_hide_that_the_act_is_done(demo: Path, tmp_path: Path) -> None:
    """Whoever would repeat the command is told to look first."""
    book = Path(shutil.copy(demo, tmp_path / "book"))

    ran = _shell(f"{_line(book, 'person', 'add', 'Ansa')} > /dev/full")

    assert 1 == ran.code
    assert "see whether it was done: spindlebook history" in ran.err
    assert "person add" in run_cli(["history"], db=book).out


# --- terminals -----------------------------------------------------------------------------------------------

LISTS = (["due"], ["stock"], ["reorder"], ["unit", "list"], ["unit", "show", "D3"], ["loan", "list", "--all"])


@pytest.mark.usefixtures("looked_at")
@pytest.mark.parametrize("words", LISTS, ids=" ".join)
def test_nothing_is_wider_than_a_narrow_terminal(demo: Path, monkeypatch: pytest.MonkeyPatch, words: list[str]) -> None:
    """At 40 columns lists are wrapped or turned into blocks; not one line runs over."""
    monkeypatch.setattr("collection.cli.show._is_terminal", lambda _: True)
    monkeypatch.setenv("COLUMNS", "40")

    lines = run_cli(words, db=demo).out.splitlines()

    assert 5 < len(lines)
    assert [] == [line for line in lines if width_of(line) > 40]


@pytest.mark.usefixtures("looked_at")
def test_a_real_terminal_of_40_columns_shows_the_same(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the test above takes for a terminal is what a terminal gets."""
    monkeypatch.setattr("collection.cli.show._is_terminal", lambda _: True)
    monkeypatch.setenv("COLUMNS", "40")

    assert run_cli(["due"], db=demo).out == screen("due", db=demo, columns=40)


@pytest.mark.parametrize(
    ("env", "shown"),
    [({"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}, "µ"), ({"PYTHONIOENCODING": "koi8-r"}, "?")],
)
def test_a_letter_that_a_terminal_does_not_have_is_no_failure(demo: Path, env: dict[str, str], shown: str) -> None:
    """A locale without an encoding gets UTF-8, another encoding a question mark; programs get UTF-8 from both."""
    words = ["--db", str(demo), "--today", TODAY.isoformat(), "stock"]

    ran, given = run_process(words, env=env), run_process([*words, "--json"], env=env)

    assert (0, "", 0) == (ran.code, ran.err, given.code)
    assert f"filter capacitor, 4700 {shown}F 25 V" in ran.out
    assert "filter capacitor, 4700 µF 25 V" in [row["supply"] for row in json.loads(given.out)]


@pytest.mark.usefixtures("looked_at")
def test_no_letter_is_bold_where_none_is_wanted(demo: Path) -> None:
    """At a terminal, where headings are bold otherwise."""
    words = warm_program("--db", str(demo), "--today", TODAY.isoformat(), "due")
    common = {name: value for name, value in environment().items() if name != "NO_COLOR"} | {"TERM": "xterm"}

    bold, *plain = (_at_terminal(words, {**common, **more}) for more in ({}, {"NO_COLOR": "1"}, {"TERM": "dumb"}))

    assert "\x1b[1m" in bold
    assert ["due  " in shown and "\x1b" not in shown for shown in plain] == [True, True]


def _at_terminal(words: list[str], env: dict[str, str]) -> str:
    child = pexpect.spawn(words[0], words[1:], env=env, encoding="utf-8", timeout=30)
    text = str(child.read())
    child.close()
    return text


# --- folders -------------------------------------------------------------------------------------------------


def test_a_folder_that_is_gone_is_named(tmp_path: Path) -> None:
    """The program is started in a folder that no longer exists, and its book is named by a short name."""
    gone = tmp_path / "gone"
    gone.mkdir()
    line = f"cd {gone} && rmdir {gone} && {_line(Path('book'), 'due')}"

    assert Ran(5, "", "The folder you are in is gone.\nGo to another, or give the full path of a book.\n") == _shell(
        line
    )


def test_a_home_of_nobody_is_refused() -> None:
    """A slip behind the tilde is no mistake of the program."""
    ran = run_cli(["due"], db="~nobody-of-that-name/book")

    assert 5 == ran.code
    assert "~nobody-of-that-name/book: nobody here has a home of that name." == ran.err.splitlines()[0]
