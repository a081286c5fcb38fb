"""What a schedule of insured contents is made of: sums, how old a value is, and what the condition of average does."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from collection.analysis.months import add_months
from collection.errors import Refused
from collection.quantity import Money, parse_day

# Insurers and insurance institutes ask for a look at the values every year (their published guidance).
USUAL_MONTHS = 12
# From which part of the total on an item gets a page of its own: common practice, no source.
USUAL_PAGE_SHARE = Fraction(1, 10)

CURRENT, OLD, OF_MODEL, NONE = "current", "out of date", "of its model", "not valued"
AT_COST, WITH_ANOTHER = "at cost", "with another"


def value_state(valued_on: str, day: date, months: int) -> str:
    """Return whether a valuation is current on a day or out of date: made more than so many months before.

    valued_on: maybe only a month or a year; its first day counts, so that an old value never passes for a new one.
    """
    return OLD if add_months(parse_day(valued_on).first, months) < day else CURRENT


@dataclass(frozen=True, slots=True)
class Sum:
    """What the things of one name (a location, an owner) are worth in one currency, and how many they are."""

    name: str
    total: Money
    things: int


def sums_by(named: Iterable[tuple[str, Money]]) -> list[Sum]:
    """Return the sums by name and currency, names in order and "" last; currencies are never added to one another."""
    found: defaultdict[tuple[str, str], list[int]] = defaultdict(list)
    for name, amount in named:
        found[name, amount.currency].append(amount.minor)
    ordered = sorted(found, key=lambda key: (not key[0], key[0].casefold(), key[1]))
    return [Sum(name, Money(sum(found[name, code]), code), len(found[name, code])) for name, code in ordered]


def paid_by_average(loss: Money, insured: Money, at_risk: Money) -> Money:
    """Return what a claim is paid under the condition of average: loss x sum insured / value at risk.

    Never more than the loss, nor than the sum insured. Rounded to the nearest minor unit, halves up (common practice,
    no source). Source of the rule: published policy wordings of the condition of average and their worked example,
    100 000 x 300 000 / 500 000 = 60 000. Whether a policy has the condition is for its wording to say.
    Raises Refused for sums below zero and of different currencies.
    """
    if len({loss.currency, insured.currency, at_risk.currency}) > 1:
        raise Refused("A loss, a sum insured and a value of different currencies.", "Take each currency by itself.")
    if min(loss.minor, insured.minor, at_risk.minor) < 0:
        raise Refused("A loss, a sum insured or a value below zero.", "Type sums of zero or more.")
    share = min(Fraction(1), Fraction(insured.minor, at_risk.minor)) if at_risk.minor else Fraction(1)
    paid = int(loss.minor * share + Fraction(1, 2))
    return Money(min(paid, loss.minor, insured.minor), loss.currency)


# Object ID (ICOM; Getty), categories 1.1 to 1.11 in its order.
OBJECT_ID = (
    "Photographs", "Type of object", "Materials and techniques", "Measurements", "Inscriptions and markings",
    "Distinguishing features", "Title", "Subject", "Date or period", "Maker", "Short description",
)  # fmt: skip
# The words at the head of a line of a note by which a category is told that no field of the book carries.
NOTED = {
    "materials": "Materials and techniques",
    "size": "Measurements",
    "title": "Title",
    "subject": "Subject",
    "made": "Date or period",
}


def noted(*notes: str) -> tuple[dict[str, str], tuple[str, ...]]:
    """Return the Object ID categories that lines of notes tell ("made: 1984"), and what else each note says.

    The first note that tells a category counts: that of a unit before that of its model.
    """
    told: dict[str, str] = {}
    rest = []
    for note in notes:
        own, left = defaultdict[str, list[str]](list), []
        for line in note.splitlines():
            word, _, text = line.partition(":")
            category = NOTED.get(word.strip().casefold())
            if category and text.strip():
                own[category].append(text.strip())
            else:
                left.append(line.strip())
        told = {category: "; ".join(lines) for category, lines in own.items()} | told
        rest.append(" ".join(filter(None, left)))
    return told, tuple(rest)
