"""The lines of an order as they are typed: "white grease=2 of 50 g @ 9.00", "white grease=2, expires 2027-06"."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from collection.acts.order_receive import GivenArrival
    from collection.acts.orders import GivenLine

_FACTS = {"expires": "expires_on", "made": "made", "lot": "lot"}


def placed_line(text: str) -> GivenLine:
    """Return the line of an order that a text spells. Raises UsageError for one without "=PACKS"."""
    from collection.acts.orders import GivenLine

    supply, equals, rest = text.rpartition("=")
    if not equals or not supply.strip():
        raise click.UsageError(f'{text!r} is no order of a supply; type "SUPPLY=PACKS", as "white grease=2".')
    amount, _, price = rest.partition("@")
    packs, _, pack = amount.partition(" of ")
    return GivenLine(supply.strip(), packs.strip(), pack.strip(), price.strip())


def arrived_line(text: str) -> GivenArrival:
    """Return what came of a supply, as a text spells it; without "=" it is all that is still to come of it.

    Raises UsageError for a fact that is none of expires, made and lot, and for one that is said twice.
    """
    from collection.acts.order_receive import GivenArrival
    from collection.acts.receive import GivenLot

    supply, equals, rest = text.rpartition("=")
    if not equals:
        return GivenArrival(text.strip(), GivenLot())
    amount, _, asked = rest.partition("@")
    price, *behind = asked.split(",")
    quantity, *more = (part.strip() for part in [*amount.split(","), *behind])
    facts: dict[str, str] = {}
    for part in more:
        name, _, value = part.partition(" ")
        if name not in _FACTS or not value.strip() or _FACTS[name] in facts:
            raise click.UsageError(
                f'{part!r} says nothing of a lot; type as "white grease=2, expires 2027-06, made 3/94, lot A @ 9.00".'
            )
        facts[_FACTS[name]] = value.strip()
    return GivenArrival(supply.strip(), GivenLot(quantity=quantity, pack_price=price.strip(), **facts))
