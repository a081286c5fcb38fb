"""Amounts as people type them ("2", "2.5 ml", "3 packs"), turned into whole steps of a supply."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import NamedTuple

from collection.analysis.currencies import refuse_unknown_currency
from collection.errors import Refused
from collection.quantity import Money, parse_money, parse_number, show_number, to_steps
from collection.views.supplies import Supply

_AMOUNT = re.compile(r"([+-]?[0-9.,]+)\s*(.*)", re.ASCII | re.DOTALL)
_PACK = ("pack", "packs")


class Amount(NamedTuple):
    """Whole steps of a supply, with the number and the unit as they were typed."""

    steps: int
    entered: str
    entered_in: str

    @property
    def typed(self) -> tuple[str, str]:
        """Number and unit, the form in which a movement keeps them."""
        return self.entered, self.entered_in


def read_amount(supply: Supply, text: str, pack_steps: int | None = None, *, zero: bool = False) -> Amount:
    """Return the amount that `text` spells, in the supply's own unit when it names none.

    pack_steps: steps in one pack, where it is known. zero: whether nothing at all is an amount (a count).
    Raises Refused for what is no amount, a unit that does not convert, a part of a step, and for less than
    nothing.
    """
    match = _AMOUNT.fullmatch(text.strip())
    if match is None:
        example = f"2.5 {supply.measured_in}" if supply.step < 1 else f"2 {supply.measured_in}"
        raise Refused(f'"{text}" is no amount of "{supply.name}".', f'Type a number and a unit, as "{example}".')
    number, unit = parse_number(match[1]), match[2].strip() or supply.measured_in
    if number < 0 or (number == 0 and not zero):
        least = "zero or more" if zero else "above zero"
        raise Refused(f'{text.strip()} of "{supply.name}": an amount is {least}.', "Type it without a minus.")
    if unit.casefold() in _PACK:
        return _packs(supply, number, pack_steps)
    steps = to_steps(number, unit, supply.measured_in, supply.step, supply.density)
    if steps == 0 and number > 0:
        raise Refused(
            f'{text.strip()} of "{supply.name}" is less than half its smallest step, {supply.show(1)}.',
            "Type a greater amount.",
        )
    return Amount(steps, show_number(number), unit)


def price_given(what: str, text: str, currency: str) -> Money:
    """Return the sum that `text` spells. Raises Refused for less than nothing; what: "A price", as it begins it."""
    money = parse_money(text, currency)
    if money.minor < 0:
        raise Refused(f"{what} of {text.strip()} {currency} is below zero.", "Type it without a minus.")
    return money


def sum_given(what: str, text: str, currency: str) -> Money:
    """Return the sum that "12.50" in this currency or "12.50 USD" spells. Raises Refused as `price_given` does."""
    number, _, code = text.strip().partition(" ")
    return price_given(what, number, currency_given(code, currency))


def currency_given(told: str, own: str) -> str:
    """Return the code that is told, `own` for "". Raises Refused for one that no currency has, unless it is `own`.

    What an older book goes by goes on.
    """
    code = told.strip().upper()
    if code and code != own:
        refuse_unknown_currency(code)
    return code or own


def _packs(supply: Supply, number: Decimal, pack_steps: int | None) -> Amount:
    """Return the amount in so many whole packs."""
    if number != int(number):
        raise Refused(f'{number} packs of "{supply.name}": packs are whole.', "Type whole packs, or the amount itself.")
    if pack_steps is None:
        raise Refused(
            f'How much one pack of "{supply.name}" holds is not known: there is no offer, or several differ.',
            f"Type the amount in {supply.measured_in}, or name the offer's supplier with --supplier.",
        )
    return Amount(int(number) * pack_steps, show_number(number), f"packs of {supply.show(pack_steps)}")
