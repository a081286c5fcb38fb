"""What the ledger of a supply teaches about its use: how much a use takes, and how often nobody planned it.

The model is that of `analysis/stock_plan`; here stands what it is fed with.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from collection.analysis.stock_plan.given import AmountGiven, UnplannedGiven

NEVER, SAID, CLASS, NO_PRIOR = "never", "said", "class", "none"


@dataclass(frozen=True, slots=True)
class RestsOn:
    """The facts that what was learnt of a supply rests on.

    measured: uses whose amount was weighed, counted or told. by_sheet: uses booked by the sheet, which teach nothing
    about amounts by themselves. from_counts: those of them whose amount a later count told. spread_known: the spread
    was taken from uses; else it is assumed. events: uses that no schedule foresaw. since: the ISO day from which every
    use is taken to be written down, None for a supply of which nothing was ever booked. unit_months: how long its units
    were watched since; units: how many there are now. prior: SAID (a person guessed how many a year), NEVER (a person
    said none), CLASS (other supplies of its class: class_name), NO_PRIOR.
    """

    measured: int
    by_sheet: int
    from_counts: int
    spread_known: bool
    events: int
    since: str | None
    unit_months: float
    units: int
    prior: str
    class_name: str


@dataclass(frozen=True, slots=True)
class SupplyLearnt:
    """What the ledger teaches about the use of one counted supply; amounts in steps.

    amounts: by procedure id what one job takes, for every procedure whose sheet has the supply; under None what one
    event that nobody planned takes, missing where nothing tells. unplanned: events that no schedule foresees, its
    `amount` 0 until it has a place among the amounts given; None where a person said that there are none and none was
    booked; it may have no basis (`has_basis`). drying: steps a day that an open lot loses, and the standard deviation
    of that. counted_on: ISO day of the last count.
    """

    amounts: Mapping[int | None, AmountGiven]
    unplanned: UnplannedGiven | None
    drying: tuple[float, float]
    counted_on: str | None
    rests_on: RestsOn
