"""What the projection of one supply finds; amounts in steps, days from today."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

FINE = "fine"
ORDER_BY = "order by"
ORDER_NOW = "order now"
TOO_LATE = "cannot arrive in time"
UNKNOWN = "do not know"
STATES = (TOO_LATE, ORDER_NOW, ORDER_BY, UNKNOWN, FINE)  # most urgent first


class Range(NamedTuple):
    """A mean, and what 8 in 10 paths lie between."""

    mean: float
    low: float
    high: float


class RunOut(NamedTuple):
    """When a use can first not be met in full if nothing is ordered.

    chance: that it happens within the horizon. early, middle, late: days by which it has in 5, 50 and 95 of 100 paths;
    None where it has not within the days drawn.
    """

    chance: float
    early: int | None
    middle: int | None
    late: int | None


class Candidate(NamedTuple):
    """One quantity that might be ordered, on the day to order by.

    offer: place in the offers given. cost: minor units with shipping. lasts: the day on which it has run out again in
    half of the paths, None for later than the days drawn. chance_short: of running out between its arrival and that of
    an order placed then. waste: steps that are expected to pass their date. per_day: expected cost per day covered,
    minor units. keeps_promise: chance_short is within what is accepted.
    """

    offer: int
    packs: int
    steps: int
    cost: int
    lasts: int | None
    chance_short: float
    waste: float
    per_day: float
    keeps_promise: bool


class LeadFound(NamedTuple):
    """Days from order to arrival: the mean and what 8 in 10 orders lie between."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class PlanFound:
    """What to do about one supply, and what it rests on.

    on_hand: usable today. planned, unplanned: what planned and unplanned use take within the horizon; unplanned is None
    where there is no basis for it. run_out: if nothing is ordered beyond what is open. short_before: the chance that a
    use cannot be met before an order placed today arrives; None without a lead time. order_by: the last day to order,
    None for none needed within the horizon, or no lead time; may lie before today. chosen: place in candidates, None
    for none. held_up: by job, the chance that it cannot be met in full if nothing is ordered. waste: by lot, steps
    expected to pass their date within the horizon. lacking: what has to come within the horizon for the promise to be
    kept (for a list without offers). spare: the share of stock that is there for surprises while an
    order is out. overdue: places of open orders so late that they are not counted on.
    """

    state: str
    on_hand: int
    planned: Range
    unplanned: Range | None
    run_out: RunOut
    short_before: float | None
    order_by: int | None
    lead: LeadFound | None
    candidates: tuple[Candidate, ...]
    chosen: int | None
    held_up: tuple[float, ...]
    waste: tuple[float, ...]
    lacking: float
    spare: float
    overdue: tuple[int, ...]
    entries_missing: bool

    @property
    def has_enough_coming(self) -> bool:
        """Say whether what is late cannot be mended by ordering more: what is under way is enough from then on."""
        return self.state == TOO_LATE and self.chosen is None and self.lead is not None


@dataclass(frozen=True, slots=True)
class FanFound:
    """On hand at the end of each day from today on: what 10, 50 and 90 of 100 paths lie below.

    with_order: likewise, with the chosen order placed on the day to order by (today if that has passed). arrival: days
    that 8 in 10 arrivals of that order lie between, None without one.
    """

    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]
    with_order: tuple[tuple[float, float, float], ...]
    arrival: tuple[int, int] | None
