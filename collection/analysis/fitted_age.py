"""How long rubber that is fitted is given: it ages from the day it was fitted.

It is given what its material is given on the shelf, from the day of fitting on (common practice, no source): nobody
publishes how long an old belt runs. So this never says that a part is bad, only that it is past what it is given.
"""

from __future__ import annotations

from datetime import date

from collection.analysis.months import add_months
from collection.analysis.shelf_life import (
    AGE_UNKNOWN,
    RUBBER_KINDS,
    Lives,
    SupplyFacts,
    UsableThrough,
    is_rubber,
    rubber_life,
    span,
)
from collection.errors import fold
from collection.quantity import parse_day

PAST = "past what its rubber is given"
LOOK = "age unknown: inspect"


def fitted_through(part: str, fitted_on: str, supply: SupplyFacts | None, lives: Lives) -> UsableThrough | None:
    """Return through which day a fitted part is given, None for one that is not of rubber.

    part: what it is called; supply: what it came out of, None for a part from a donor. fitted_on: maybe partial, then
    its first day counts. Nobody knows how old a donor's belt is, nor what a book without a table gives: no date then.
    """
    if supply is None:
        return UsableThrough(None, AGE_UNKNOWN) if fold(part) in RUBBER_KINDS else None
    if not is_rubber(supply):
        return None
    life = rubber_life(supply, lives)
    if life is None:
        return UsableThrough(None, AGE_UNKNOWN)
    because = f"fitted {fitted_on} + {span(life.months)}, common practice; {life.source}"
    return UsableThrough(add_months(parse_day(fitted_on).first, life.months), because)


def fitted_word(given: UsableThrough | None, day: date) -> str:
    """Return what is to be said of a fitted part on a day: "" while there is nothing."""
    if given is None:
        return ""
    if given.through is None:
        return LOOK
    return PAST if given.through < day else ""
