"""What a person is told around a booking in the drawer: what to mind before it, and what is left after it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from collection.cli.face import Face
from collection.cli.show import note, say

if TYPE_CHECKING:
    from collection.acts.booking import Booked


def caution(face: Face, supply: str) -> None:
    """Say what to mind before a lot is opened, inspected or filled from."""
    from collection.views.supplies import find_supply
    from collection.views.supply_card import cautions_of

    with face.view() as connection:
        cautions = cautions_of(connection, find_supply(connection, supply))
    note(*(f"Caution: {caution}" for caution in cautions))


def tell(booked: Booked) -> None:
    """Say what was booked and what is left."""
    show = booked.supply.show
    say(f"{booked.did[0].upper()}{booked.did[1:]}.")
    lots = [
        (f'lot "{left.lot}" ' if left.lot else "of no known lot ")
        + show(left.steps)
        + (", past its date" if left.past_date else "")
        for left in booked.left
    ]
    say(f"Left: {show(booked.total)}" + (f" ({'; '.join(lots)})." if lots else "."))
    note(*booked.notes)
