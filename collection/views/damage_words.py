"""Sums, conditions and worths in one line, as a damage is told on a screen and on paper."""

from __future__ import annotations

from collections.abc import Callable

from collection.quantity import Money
from collection.views.condition_checks import ConditionCheck
from collection.views.worth import Valued


def joined(*parts: str) -> str:
    """Return the parts that are told, with a comma between them."""
    return ", ".join(part for part in parts if part)


def sum_words(money: Money | None) -> str:
    """Return a sum with its currency; "" for none."""
    return f"{money.text} {money.currency}" if money else ""


def check_words(check: ConditionCheck | None, day: Callable[[str], str]) -> str:
    """Return a condition check; "" for none. day: how a day is shown."""
    if check is None:
        return ""
    return joined(check.condition, check.grade, day(check.checked_on), check.by and f"by {check.by}")


def worth_words(worth: Valued | None, day: Callable[[str], str]) -> str:
    """Return a valuation; "" for none. day: how a day is shown."""
    return "" if worth is None else f"{sum_words(worth.amount)} ({joined(worth.basis, day(worth.valued_on))})"
