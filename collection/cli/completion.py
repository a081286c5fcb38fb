"""The command `completion`."""

from __future__ import annotations

import click


@click.command("completion")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion_command(shell: str) -> None:
    """Print the completion script of a shell.

    For bash, put this line into ~/.bashrc:  eval "$(spindlebook completion bash)"
    """
    from click.shell_completion import get_completion_class

    from collection.cli.main import COMPLETE, NAME, program

    kind = get_completion_class(shell)
    assert kind is not None  # noqa: S101  click knows the three shells
    script = kind(program, {}, NAME, COMPLETE)
    click.echo(script.source_template % script.source_vars())
