"""The command `completion`, and what the shells get wrong about names with blanks and commas."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click
from click.shell_completion import BashComplete, FishComplete, add_completion_class, get_completion_class

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

_SPECIAL = re.compile(r"([^\w@%+=:,./-])")


class _Bash(BashComplete):
    """bash puts an offer on the line as it is: blanks and signs of its own must be escaped, and read as such."""

    source_template = BashComplete.source_template.replace("read type value", "read -r type value")

    def format_completion(self, item: CompletionItem) -> str:
        """Return an offer that bash reads as one word."""
        value = _SPECIAL.sub(r"\\\1", item.value) if item.type == "plain" else item.value
        return f"{item.type},{value}"


class _Fish(FishComplete):
    """The script for fish would cut an offer at its first comma."""

    source_template = FishComplete.source_template.replace('string split ","', 'string split --max 1 ","')


def teach_shells() -> None:
    """Let offers with blanks and commas reach the line whole; before click is asked for any."""
    add_completion_class(_Bash)
    add_completion_class(_Fish)


@click.command("completion")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion_command(shell: str) -> None:
    """Print the completion script of a shell.

    For bash, put this line into ~/.bashrc:  eval "$(spindlebook completion bash)"
    """
    from collection.cli.main import COMPLETE, NAME, program

    teach_shells()
    kind = get_completion_class(shell)
    assert kind is not None  # noqa: S101  click knows the three shells
    script = kind(program, {}, NAME, COMPLETE)
    click.echo(script.source_template % script.source_vars())
