"""The options of commands that change a record: one for each thing it says, and how the change is told."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import click

from collection.cli.show import say

if TYPE_CHECKING:
    from collection.acts.edit import Edited

_NOTHING = "(nothing)"


def field_options(
    *options: tuple[str, str, str], named: Mapping[str, str] | None = None, reason: bool = True
) -> Callable[[Any], Any]:
    """Add an option for each (name, what stands for its value, help), and --reason.

    A command is handed None for what was not told. named: the column an option is for, where its name is another.
    """

    def add(command: Any) -> Any:
        if reason:
            command = click.option(
                "--reason", default="", metavar="TEXT", help="Why it is changed; the history keeps it."
            )(command)
        for name, stands, text in reversed(options):
            column = (named or {}).get(name, name.replace("-", "_"))
            command = click.option(f"--{name}", column, metavar=stands, help=text)(command)
        return command

    return add


def given_of(told: Mapping[str, str | None]) -> dict[str, str]:
    """Return what was told by column. Raises UsageError where that is nothing."""
    given = {name: text for name, text in told.items() if text is not None}
    if not given:
        raise click.UsageError("Nothing to change is given.")
    return given


def tell_edited(edited: Edited) -> None:
    """Say what changed, before and after."""
    for name, before, after in edited.changes:
        say(f"{edited.name}: {name.replace('_', ' ')} {before or _NOTHING} -> {after or _NOTHING}")
    if not edited.changes:
        say(f"Nothing to do: {edited.name} says so already.")
