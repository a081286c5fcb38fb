"""A group that shows its commands from a table and loads only the one that is called."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import ClassVar

import click

from collection.cli.commands import Entry
from collection.errors import nearest


class Loaded(click.Group):
    """A group of the commands in `table`, whose modules are loaded when they are called; word: what one is called."""

    table: ClassVar[Mapping[str, Entry]]
    word: ClassVar[str]

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  the table is the same everywhere
        """Return the names in the order of the help page."""
        return list(self.table)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002  same
        """Load a command, or return None when there is none of that name."""
        if cmd_name not in self.table:
            return None
        entry = self.table[cmd_name]
        command = getattr(import_module(f"collection.cli.{entry.module}"), entry.attribute)
        assert isinstance(command, click.Command)  # noqa: S101  the table is ours
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command of a line, and offer the nearest names for a mistyped one."""
        name = args[0]
        if name not in self.table and not name.startswith("-") and not ctx.resilient_parsing:
            known = " or ".join(nearest(name, self.table))
            message = f"There is no {self.word} {name!r}" + (f"; did you mean {known}?" if known else ".")
            raise click.UsageError(message, ctx)
        return super().resolve_command(ctx, args)
