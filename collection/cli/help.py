"""help: pages for the things people come to do, the list of all commands, and the help of one command."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from collection.cli.commands import COMMANDS, EVERYDAY, OTHERS
from collection.cli.help_pages import PAGES
from collection.cli.show import say

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

ALL = "commands"


def _complete(_ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    from click.shell_completion import CompletionItem

    topics = {name: page.about for name, page in PAGES.items()} | {ALL: "Every command"}
    return [CompletionItem(name, help=about) for name, about in topics.items() if name.startswith(incomplete)]


@click.command("help")
@click.argument("topic", required=False, shell_complete=_complete)
@click.pass_context
def help_command(ctx: click.Context, topic: str | None) -> None:
    """Explain the five things people come to do, step by step."""
    name = (topic or "").lower()
    if not name:
        _topics()
    elif name == ALL:
        _commands()
    elif name in PAGES:
        say(PAGES[name].about, bold=True)
        say(*PAGES[name].text.strip("\n").split("\n"))
    elif name in COMMANDS:
        _help_of(ctx, name)
    else:
        raise _unknown(topic or "")


def _topics() -> None:
    width = max(map(len, PAGES))
    say("Type one of these:")
    say(*(f"  spindlebook help {name:<{width}}  {page.about}" for name, page in PAGES.items()))
    say(f"  spindlebook help {ALL}, or the name of one, as: spindlebook help loan")


def _commands() -> None:
    width = max(map(len, COMMANDS))
    for title, table in (("Every day", EVERYDAY), ("Now and then", OTHERS)):
        say(title, bold=True)
        say(*(f"  {name:<{width}}  {entry.help}" for name, entry in table.items()))


def _help_of(ctx: click.Context, name: str) -> None:
    group = ctx.find_root().command
    assert isinstance(group, click.Group)  # noqa: S101  the program is one
    command = group.get_command(ctx, name)
    assert command is not None  # noqa: S101  it is in the table
    with click.Context(command, info_name=name, parent=ctx.find_root()) as own:
        click.echo(command.get_help(own))


def _unknown(topic: str) -> Exception:
    from collection.errors import Refused, nearest

    near = nearest(topic, [*PAGES, *COMMANDS])
    hint = f"Nearest: {', '.join(near)}." if near else f"Type one of: {', '.join(PAGES)}, {ALL}."
    return Refused(f'There is no page of help "{topic}".', hint)
