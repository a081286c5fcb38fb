"""Bases of value, sums of worth per currency and basis, and what a unit has cost."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from collection.errors import Refused, fold, nearest
from collection.quantity import Money, parse_day

# After the ways of valuing that the valuation procedure of the Spectrum standard (Collections Trust) names, in own
# words; "agreed" is the usual third basis of insurers, from memory.
BASES = {
    "replacement": "what another of its kind would cost, with carriage",
    "market": "what the like has been sold for",
    "agreed": "a sum agreed on, as with an insurer or a borrower",
    "purchase": "what was paid for it",
    "purchase adjusted": "what was paid for it, raised by what prices rose since",
    "restoration": "what it would cost to bring it back into its state",
}
OF_MODEL = "replacement value of the model"


def basis_word(text: str) -> str:
    """Return the basis that a text spells. Raises Refused, naming the nearest or all."""
    word = fold(text)
    if word in BASES:
        return word
    near = nearest(text, BASES)
    hint = f"Nearest: {', '.join(near)}." if near else f"Type one of: {', '.join(BASES)}."
    raise Refused(f'Basis "{text.strip()}" is none.', hint)


@dataclass(frozen=True, slots=True)
class Total:
    """A sum of one currency over `units` units, and the same by basis: word, sum, units; the greatest first."""

    total: Money
    units: int
    by_basis: tuple[tuple[str, Money, int], ...]


def totals(worths: Iterable[tuple[Money, str]]) -> list[Total]:
    """Return the sum of each currency, in the order of their codes; currencies are never added to one another."""
    sums: defaultdict[str, defaultdict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for amount, basis in worths:
        sums[amount.currency][basis].append(amount.minor)
    made = []
    for currency, bases in sorted(sums.items()):
        parts = [(basis, Money(sum(minors), currency), len(minors)) for basis, minors in bases.items()]
        parts.sort(key=lambda part: (-part[1].minor, part[0]))
        total = Money(sum(part[1].minor for part in parts), currency)
        made.append(Total(total, sum(part[2] for part in parts), tuple(parts)))
    return made


def age_in_days(valued_on: str, today: date) -> int:
    """Return how old a valuation is, from the first day that its day can mean."""
    return (today - parse_day(valued_on).first).days


def show_age(days: int) -> str:
    """Return an age as a person says it: days up to 60, then months up to two years, then years."""
    if days <= 60:
        return f"{days} day" if days == 1 else f"{days} days"
    months = int(days / 30.4375)
    return f"{months} months" if months < 24 else f"{months // 12} years"
