"""supply: book supplies into and out of the drawer."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar

import click

from collection.cli.edits import lot_edit_command, supply_edit_command
from collection.cli.face import Face
from collection.cli.show import say
from collection.cli.supply_inspect import inspect_command
from collection.cli.supply_look import history_command, list_command, show_command
from collection.cli.supply_told import caution, tell
from collection.cli.tags import complete_supply
from collection.cli.whole import Whole
from collection.errors import Refused, typed

P = ParamSpec("P")
T = TypeVar("T")
_MINUS = re.compile(r"-\.?[0-9]")


class AmountCommand(click.Command):
    """A command that takes an amount: one below zero is refused in words, not as an unknown option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Refuse a number with a minus before its first digit."""
        for arg in args:
            if _MINUS.match(arg):
                raise Refused(f'"{arg}": an amount is never below zero.', "Type it without a minus.")
        return super().parse_args(ctx, args)


_SUPPLY = click.argument("supply", shell_complete=complete_supply)
_QUANTITY = click.argument("quantity", nargs=-1, required=True)
_MAYBE_QUANTITY = click.argument("quantity", nargs=-1)
_LOT = click.option("--lot", default="", metavar="LOT", help="Which lot.")
_ON = click.option("--on", default="", metavar="DATE", help="Day on which it happened (else today).")
_PAST_DATE = click.option("--past-date-anyway", is_flag=True, help="It was past its date and used all the same.")
_REASON = click.option("--reason", default="", metavar="TEXT", help="Why.")


def _taking(*parameters: Any) -> Callable[[Callable[P, T]], Callable[P, T]]:
    def add(command: Callable[P, T]) -> Callable[P, T]:
        for parameter in reversed(parameters):
            command = parameter(command)
        return click.pass_obj(command)  # type: ignore[arg-type]

    return add


@click.group("supply")
def supply_group() -> None:
    """Book supplies into and out of the drawer.

    A QUANTITY is a number in the unit of the supply, or with a unit: 3, 2.5 ml, 1 l, 2 packs. Lots leave in the order
    in which they pass their date.
    """


supply_group.add_command(list_command)
supply_group.add_command(show_command)
supply_group.add_command(history_command)
supply_group.add_command(inspect_command)
supply_group.add_command(supply_edit_command)
supply_group.add_command(lot_edit_command)


@supply_group.command("add")
@click.argument("name")
@click.option("--kind", required=True, metavar="WORD", help="belt, lubricant, solvent, swab, spare ...")
@click.option("--measured-in", required=True, metavar="UNIT", help="piece, g, ml, m ...")
@click.option("--step", default="", metavar="NUMBER", help="Smallest amount (else 1 piece, 0.01 of a unit).")
@click.option(
    "--tracked",
    type=click.Choice(["count", "pack", "no"]),
    default="count",
    show_default=True,
    help="By count, by the pack (bought when the last one is opened), or not at all.",
)
@click.option("--density", default="", metavar="NUMBER", help="In g/ml, so that mass and volume convert.")
@click.option("--polymer", default="", metavar="WORD", help="What rubber it is: NBR, CR, EPDM ...")
@click.option("--thickener", default="", metavar="WORD", help="What thickens a grease: lithium, PFPE ...")
@click.option("--strength", default="", metavar="TEXT", help="As 99 %.")
@click.option("--size", default="", metavar="TEXT", help="As 5 x 0.6 mm, or NLGI 2.")
@click.option("--fits", default="", metavar="MODELS", help="Models it fits, separated by semicolons.")
@click.option("--shelf-life", "shelf_life_months", type=Whole(), metavar="MONTHS", help="Sealed.")
@click.option("--open-life", "open_life_months", type=Whole(), metavar="MONTHS", help="Once open.")
@click.option("--note", default="", metavar="TEXT", help="Anything else.")
@click.pass_obj
def add_command(face: Face, /, **told: Any) -> None:
    """Add a supply to the book.

    Its unit and its smallest step stay as they are once it is used.
    """
    from collection.acts.supplies import GivenSupply, add_supply

    supply = add_supply(face.engine(), GivenSupply(**told), today=face.today, now=face.now)
    say(f'Added "{supply.name}", counted in steps of {supply.show(1)}.')
    say(f"Next: spindlebook supply receive {typed(supply.name)} QUANTITY")


@supply_group.command("receive", cls=AmountCommand)
@_taking(
    _SUPPLY,
    _MAYBE_QUANTITY,
    click.option("--lot", default="", metavar="LOT", help="Name of the new lot (else the day)."),
    click.option("--price", default="", metavar="AMOUNT", help="What the whole lot cost."),
    click.option("--currency", default="", metavar="CODE", help="As EUR (else the book's)."),
    click.option("--supplier", default="", metavar="NAME", help="Who sent it."),
    click.option("--expires", "expires_on", default="", metavar="DATE", help="As printed: 2027-06 or 2027-06-30."),
    click.option("--made", default="", metavar="WHEN", help="As printed: 3/94 (a quarter), 1994-09."),
    click.option("--order", default="", metavar="ORDER", help="The order it came by."),
    click.option("--location", default="", metavar="NAME", help="Where it was put."),
    click.option("--on", default="", metavar="DATE", help="Day it came (else today); 2023 if no more is known."),
)
def receive_command(face: Face, /, supply: str, quantity: tuple[str, ...], **told: str) -> None:
    """Book what came in as a new lot.

    With --order and no QUANTITY all that the order still waits for has come; "2 packs" takes the size of a pack from
    the offer.
    """
    from collection.acts.receive import GivenLot, receive_supply

    given = GivenLot(quantity=" ".join(quantity), **told)
    tell(receive_supply(face.engine(), supply, given, today=face.today, now=face.now))


@supply_group.command("use", cls=AmountCommand)
@_taking(
    _SUPPLY,
    _QUANTITY,
    _LOT,
    _ON,
    click.option("--unit", "tag", default="", metavar="TAG", help="The unit it was used on."),
    click.option("--planned", is_flag=True, help="Planned work took it (else it counts as unplanned)."),
    click.option(
        "--basis",
        type=click.Choice(["sheet", "measured", "count"]),
        default="measured",
        show_default=True,
        help="How the amount is known.",
    ),
    _PAST_DATE,
    _REASON,
)
def use_command(face: Face, /, supply: str, quantity: tuple[str, ...], **told: Any) -> None:
    """Book what was used outside a service.

    It leaves the lot that passes its date first, unless --lot names one. What the book does not have is booked all the
    same and marked as doubtful.
    """
    from collection.acts.supplies import use_supply

    tell(use_supply(face.engine(), supply, " ".join(quantity), **told, today=face.today, now=face.now))


@supply_group.command("open")
@_taking(_SUPPLY, _LOT, _ON, _PAST_DATE)
def open_command(face: Face, /, supply: str, **told: Any) -> None:
    """Book that a lot was opened: its open life starts.

    Without --lot it is the next unopened one.
    """
    from collection.acts.supplies import open_lot

    caution(face, supply)
    tell(open_lot(face.engine(), supply, **told, today=face.today, now=face.now))


@supply_group.command("count", cls=AmountCommand)
@_taking(_SUPPLY, _QUANTITY, _LOT, _ON)
def count_command(face: Face, /, supply: str, quantity: tuple[str, ...], lot: str, on: str) -> None:
    """Book how much there is, of one lot or of all of them.

    Of a total over several lots, what is missing is put on opened lots first and what is more on the newest, and marked
    as inferred.
    """
    from collection.acts.counting import count_supply

    amount = " ".join(quantity)
    tell(count_supply(face.engine(), supply, amount, lot=lot, on=on, today=face.today, now=face.now))


@supply_group.command("discard", cls=AmountCommand)
@_taking(_SUPPLY, _MAYBE_QUANTITY, _LOT, _ON, _REASON)
def discard_command(face: Face, /, supply: str, quantity: tuple[str, ...], **told: str) -> None:
    """Book that some of a lot was thrown away.

    Without QUANTITY all of it. A --reason is required: expired, dried out, spilt, damaged.
    """
    from collection.acts.shift import discard_supply

    tell(discard_supply(face.engine(), supply, " ".join(quantity), **told, today=face.today, now=face.now))


@supply_group.command("return", cls=AmountCommand)
@_taking(_SUPPLY, _MAYBE_QUANTITY, _LOT, _ON, _REASON)
def return_command(face: Face, /, supply: str, quantity: tuple[str, ...], **told: str) -> None:
    """Book that some of a lot went back to its supplier.

    Without QUANTITY all of it.
    """
    from collection.acts.shift import return_supply

    tell(return_supply(face.engine(), supply, " ".join(quantity), **told, today=face.today, now=face.now))


@supply_group.command("move", cls=AmountCommand)
@_taking(_SUPPLY, click.argument("location"), _MAYBE_QUANTITY, _LOT, _ON)
def move_command(face: Face, /, supply: str, location: str, quantity: tuple[str, ...], **told: str) -> None:
    """Book that a supply was put into another location.

    Without QUANTITY all of it, of every lot unless --lot names one.
    """
    from collection.acts.shift import move_supply

    amount = " ".join(quantity)
    tell(move_supply(face.engine(), supply, location, amount, **told, today=face.today, now=face.now))


@supply_group.command("repack", cls=AmountCommand)
@_taking(
    _SUPPLY,
    _QUANTITY,
    click.option("--into", required=True, metavar="LOT", help="Name of the new lot."),
    click.option("--lot", default="", metavar="LOT", help="The lot it comes from."),
    _ON,
)
def repack_command(face: Face, /, supply: str, quantity: tuple[str, ...], **told: str) -> None:
    """Book that some of a lot was filled into a lot of its own.

    The new lot keeps the age and the worth of what it was filled from.
    """
    from collection.acts.shift import repack_supply

    caution(face, supply)
    tell(repack_supply(face.engine(), supply, " ".join(quantity), **told, today=face.today, now=face.now))


@supply_group.command("reverse")
@_taking(_SUPPLY, click.argument("number", type=click.IntRange(min=1)), _REASON)
def reverse_command(face: Face, /, supply: str, number: int, reason: str) -> None:
    """Take one movement back by booking its opposite.

    NUMBER is the one that supply history shows. Rows booked as one, as a use over two lots, are taken back as one.
    """
    from collection.acts.reversal import reverse_movement

    tell(reverse_movement(face.engine(), supply, number, reason=reason, today=face.today, now=face.now))
