"""supply inspect: look at a lot, and note what was found."""

from __future__ import annotations

from typing import Any

import click

from collection.cli.face import Face
from collection.cli.show import say
from collection.cli.supply_told import caution, tell
from collection.cli.tags import complete_supply
from collection.errors import typed


@click.command("inspect")
@click.argument("supply", shell_complete=complete_supply)
@click.argument("lot")
@click.option("--result", default="", metavar="pass|fail", help="What was found.")
@click.option("--good-through", default="", metavar="DATE", help="Until when it is good: 2027-03-31, or 2027-03.")
@click.option("--on", default="", metavar="DATE", help="Day of the inspection (else today).")
@click.option("--note", default="", metavar="TEXT", help="What was seen.")
@click.option("--anyway", default="", metavar="REASON", help="Why it is good for longer than its material is given.")
@click.pass_obj
def inspect_command(face: Face, /, supply: str, **told: Any) -> None:
    """Note what an inspection of a lot found, past its date or before.

    Without --result it only says what to look for. A lot of rubber that passed gets the one extension of its material
    unless --good-through names an earlier day. A lot that failed is not used any more.
    """
    from collection.acts.lot_inspections import GivenInspection, inspect_lot

    caution(face, supply)
    if not told["result"]:
        _say_look(face, supply, told["lot"])
        return
    tell(inspect_lot(face.engine(), supply, GivenInspection(**told), today=face.today, now=face.now))


def _say_look(face: Face, supply: str, lot: str) -> None:
    """Say what is known of the lot, what to look for, and what to type then."""
    from collection.analysis.inspecting import signs_of_decay
    from collection.cli.stock import lot_line
    from collection.views.stock import stock_of_lot

    with face.view() as connection:
        row = stock_of_lot(connection, face.today, supply, lot)
    signs, source = signs_of_decay(row.supply.ageing)
    say(lot_line(row), f"Look for: {signs} ({source}).")
    say(f"Then type: spindlebook supply inspect {typed(row.supply.name)} {typed(lot)} --result pass, or --result fail")
