"""The command `spindlebook`: global options, commands loaded when called, one place that reports errors."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from datetime import UTC, date, datetime, time
from io import TextIOWrapper
from typing import TYPE_CHECKING

import click

from collection import __version__
from collection.cli.commands import COMMANDS, EVERYDAY, OTHERS
from collection.cli.face import Face
from collection.cli.loaded import Loaded

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

NAME = "spindlebook"
COMPLETE = "_SPINDLEBOOK_COMPLETE"


class Program(Loaded):
    """The program: its help page shows the everyday commands and names the others."""

    table = COMMANDS
    word = "command"

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """Write the everyday commands with what they do, and the names of the others."""
        with formatter.section("Every day"):
            formatter.write_dl([(name, entry.help) for name, entry in EVERYDAY.items()], col_max=12)
        with formatter.section("Now and then"):
            formatter.write_text(", ".join(OTHERS))
        with formatter.section("What to type, step by step"):
            formatter.write_text("spindlebook help")

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """Complete the name of a command from the table, an option as click does."""
        from click.shell_completion import CompletionItem

        found = [
            CompletionItem(name, help=entry.help) for name, entry in COMMANDS.items() if name.startswith(incomplete)
        ]
        return found + click.Command.shell_complete(self, ctx, incomplete)


def _frozen(ctx: click.Context, param: click.Parameter, value: str | None) -> date | None:
    """Read --today; click calls it with the text, or None when the clock is to be read."""
    if value is None:
        return None
    try:
        return datetime.strptime(value, "%Y-%m-%d").replace(tzinfo=UTC).date()
    except ValueError:
        message = f"{value!r} is not a day of the calendar written like 2026-03-01."
        raise click.BadParameter(message, ctx, param) from None


@click.group(cls=Program, name=NAME, context_settings={"help_option_names": ["-h", "--help"]})
@click.option("--db", envvar="SPINDLEBOOK_DB", metavar="FILE|URL", help="The book to use (else SPINDLEBOOK_DB).")
@click.option(
    "--today",
    envvar="SPINDLEBOOK_TODAY",
    metavar="DATE",
    callback=_frozen,
    help="Take this day for today (else SPINDLEBOOK_TODAY).",
)
@click.option(
    "--who",
    envvar="SPINDLEBOOK_WHO",
    metavar="PERSON",
    default="",
    help="Write as this person of the book (else SPINDLEBOOK_WHO).",
)
@click.option("--no-color", is_flag=True, help="Print without bold letters (or set NO_COLOR).")
@click.option("--debug", is_flag=True, help="Print the traceback of a mistake of the program.")
@click.version_option(__version__, prog_name=NAME)
@click.pass_context
def program(ctx: click.Context, db: str | None, today: date | None, who: str, no_color: bool, debug: bool) -> None:
    """Keep the book of a collection of old disk drives: units, measurements, services, supplies."""
    plain = no_color or bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM") == "dumb"
    ctx.color = False if plain else None
    face = Face(
        db=db,
        today=today or _local_day(),
        now=_instant(today),
        color=not plain,
        debug=debug,
        frozen=today is not None,
        who=who.strip(),
    )
    ctx.obj = face
    ctx.call_on_close(face.close)


def _local_day() -> date:
    return datetime.now().astimezone().date()


def _instant(today: date | None) -> datetime:
    """Return the present instant; on a frozen day it stands still at noon, so that a run can be repeated."""
    return datetime.combine(today, time(12), tzinfo=UTC) if today else datetime.now(UTC)


def main() -> None:
    """Run the program on the words of the command line and leave with its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")
    sys.exit(run(sys.argv[1:]))


def run(args: Sequence[str]) -> int:
    """Run one command line and return its exit code; no exception leaves it."""
    debug = False
    try:
        if COMPLETE in os.environ:
            from click.shell_completion import shell_complete

            from collection.cli.completion import teach_shells

            teach_shells()
            return shell_complete(program, {}, NAME, COMPLETE, os.environ[COMPLETE])
        with program.make_context(NAME, list(args)) as ctx:
            debug = ctx.params["debug"]
            program.invoke(ctx)
    except click.exceptions.Exit as leave:
        return leave.exit_code
    except (Exception, KeyboardInterrupt) as error:  # noqa: BLE001  the one place where errors become words
        from collection.cli.failures import report

        return report(error, debug=debug)
    return 0
