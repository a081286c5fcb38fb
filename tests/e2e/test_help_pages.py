"""help TOPIC: pages that fit a terminal and say only what can be typed."""

import shlex

import click
import pytest

from collection.cli.commands import COMMANDS
from collection.cli.face import Face
from collection.cli.help_pages import PAGES
from collection.cli.main import program
from tests.support.cli import run_cli
from tests.support.times import NOW, TODAY

LINES = [(name, line) for name, page in PAGES.items() for line in page.text.strip("\n").split("\n")]
TYPED = [line.strip() for _, line in LINES if line.startswith("  ")]


def test_each_line_fits_eighty_columns() -> None:
    """A page is read at the bench, on whatever terminal stands there."""
    assert [line for _, line in LINES if len(line) > 78] == []


@pytest.mark.parametrize("line", TYPED)
def test_each_line_to_type_is_one_that_the_program_takes(line: str) -> None:
    """Its command exists, and its options and arguments are read without a complaint."""
    name, *words = shlex.split(line)
    assert name == "spindlebook"
    face = Face(db=None, today=TODAY, now=NOW, color=False, debug=False)
    context: click.Context = click.Context(program, info_name=name, obj=face)
    command: click.Command = program
    while isinstance(command, click.Group):
        found = command.get_command(context, words[0])
        assert found is not None, words[0]
        command, context = found, click.Context(found, info_name=words.pop(0), parent=context)
    command.make_context(context.info_name, words, parent=context.parent)


def test_help_lists_its_pages_and_every_command_has_one() -> None:
    """Five tasks, all commands, and the help of each command by name."""
    assert [name for name in PAGES if f"spindlebook help {name}" not in run_cli(["help"]).out] == []
    assert len(PAGES) == 5
    assert all(entry.help in run_cli(["help", "commands"]).out for entry in COMMANDS.values())
    assert "Usage: spindlebook due" in run_cli(["help", "due"]).out
    assert "What is waiting" in run_cli(["help", "bench"]).out


def test_an_unknown_page_is_refused_with_the_nearest() -> None:
    """A mistyped topic names what was meant."""
    ran = run_cli(["help", "bnech"])

    assert ran.code == 1
    assert "bench" in ran.err
