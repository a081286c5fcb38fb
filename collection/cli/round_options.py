"""What a round is over: the options that the round and its printed sheet share, so that one fits the other."""

from __future__ import annotations

from typing import Any

import click

from collection.cli.tags import complete_instrument, complete_measurement, complete_procedure

_OPTIONS = (
    click.option(
        "--of",
        "measurement",
        default="",
        metavar="MEASUREMENT",
        shell_complete=complete_measurement,
        help='What is read: "rail voltage[+5 V]".',
    ),
    click.option(
        "--did",
        "procedure",
        default="",
        metavar="PROCEDURE",
        shell_complete=complete_procedure,
        help="What is done; with --of, values as left.",
    ),
    click.option("--location", default="", metavar="PLACE", help="Only units there, or in what stands there."),
    click.option("--standing", default="", metavar="WORD", help="Only units that stand so."),
    click.option("--due", is_flag=True, help="Only units that are due (with --did: for it)."),
    click.option(
        "--instrument", default="", metavar="NAME", shell_complete=complete_instrument, help="What it is read with."
    ),
)


def round_options(command: Any) -> Any:
    """Add what is read or done, on which units, and with which instrument."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command
