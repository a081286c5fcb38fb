"""The page docs/commands.md: what every command says when it is asked for help, at a width of 80."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import click

from collection.cli.commands import EVERYDAY, OTHERS
from collection.cli.main import NAME
from collection.cli.main import program as root

_WIDTH = 80
_HEAD = """\
# The commands

This page is written by `python -m tests.support.documents` from the help of the program.
`spindlebook COMMAND --help` shows the same on the screen.

The options of `spindlebook` itself stand before the command: `spindlebook --db FILE due`.
Exit codes: 0 done, nothing to do, or a dry run without refusals; 1 refused or failed, and nothing changed; 2 wrong
command line; 3 findings, only with `--exit-code`; 4 the record moved on; 5 no book, one that is foreign or newer, or no
connection; 130 interrupted.
What `--json` prints stands in [json-keys.md](json-keys.md).
"""
_TITLES = {next(iter(EVERYDAY)): "## Every day\n\n", next(iter(OTHERS)): "## Now and then\n\n"}


def command_tree() -> Iterator[tuple[click.Context, click.Command]]:
    """Yield every command with a context that knows its whole name, the program first, each group before its own."""
    context = click.Context(root, info_name=NAME, **_form(root))
    yield context, root
    for name in (*EVERYDAY, *OTHERS):
        yield from _below(root, name, context)


def _below(group: click.Group, name: str, parent: click.Context) -> Iterator[tuple[click.Context, click.Command]]:
    command = group.get_command(parent, name)
    assert command is not None
    context = click.Context(command, parent=parent, info_name=name, **_form(command))
    yield context, command
    if isinstance(command, click.Group):
        for inner in command.list_commands(context):
            yield from _below(command, inner, context)


def _form(command: click.Command) -> dict[str, Any]:
    return {"terminal_width": _WIDTH, "max_content_width": _WIDTH, **command.context_settings}


def commands_page() -> str:
    """Return the page."""
    return "\n".join([_HEAD, *(_section(context, command) for context, command in command_tree())])


def _section(context: click.Context, command: click.Command) -> str:
    words = context.command_path.split()
    title = _TITLES.get(words[1], "") if len(words) == 2 else ""
    heading = "##" if len(words) == 1 else "###"
    return f"{title}{heading} {context.command_path}\n\n```text\n{command.get_help(context)}\n```\n"
