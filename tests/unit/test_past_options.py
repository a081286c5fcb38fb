"""Every list and card can be of another day, and nothing that writes can."""

from __future__ import annotations

from collections.abc import Iterator

import click

from collection.cli.main import program as root

# What prints rows of what it wrote or looked up outside of the book's past.
NOT_OF_ANOTHER_DAY = {"verify", "where", "backup list", "backup prune"}
_LOOKS = ("list", "show", "history", "overdue", "unchecked", "reservations")


def _commands(command: click.Command, context: click.Context, words: str) -> Iterator[tuple[str, set[str]]]:
    if not isinstance(command, click.Group):
        yield words, {option for parameter in command.params for option in parameter.opts}
        return
    for name in command.list_commands(context):
        found = command.get_command(context, name)
        assert found is not None
        yield from _commands(found, click.Context(found, parent=context, info_name=name), f"{words} {name}".strip())


COMMANDS = dict(_commands(root, click.Context(root), ""))


def test_every_list_and_card_can_be_of_another_day() -> None:
    """A new list must take both options: @past_options of collection.cli.past."""
    lists = {name for name in COMMANDS if name.rpartition(" ")[2] in _LOOKS} - NOT_OF_ANOTHER_DAY
    lists |= {"due", "drift", "stock", "reorder", "report insurance", "report due", "report unit-history"}

    assert [] == sorted(name for name in lists if not {"--as-of", "--known-on"} <= COMMANDS[name])


def test_nothing_that_asks_for_a_reason_or_a_key_to_write_is_of_another_day() -> None:
    """What is written is written today."""
    back = {name for name, options in COMMANDS.items() if "--as-of" in options}

    assert [] == sorted(name for name in back if COMMANDS[name] & {"--reason", "--yes", "--on"} and name != "plan")
