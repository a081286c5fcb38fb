"""The rows of the reorder list, and beside each what the story of its supply is told from: names, days and money.

Amounts are steps of the supply (`supply.show` says them); what is expected is a mean of steps. Days are dates.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from collection.analysis.netting import Netting
from collection.analysis.stock_plan.found import PlanFound, Range
from collection.analysis.stock_plan.given import AmountGiven, SupplyGiven
from collection.quantity import Money
from collection.views.orders import OrderLine
from collection.views.supplies import Supply
from collection.views.wanted import WantedPart


class PlannedJob(NamedTuple):
    """One piece of planned work that may take some of the supply; the jobs stand as in the jobs given.

    on: when it is expected; spread: standard deviation of that in days; chance: that it happens at all. steps: what it
    takes if it happens, on average. held_up: the chance that it cannot be met in full if nothing is ordered.
    procedure_id: None for a part that the unit waits for, whose `work` is "wanted belt".
    """

    on: date
    spread: float
    chance: float
    unit_id: int
    tag: str
    procedure_id: int | None
    work: str
    steps: float
    held_up: float


class PlannedLot(NamedTuple):
    """One lot on the shelf in take order; name "" for stock of no known lot.

    through: its last usable day, and on what that rests. counted: the plan counts on it. waste: steps that are expected
    to pass their date within the horizon.
    """

    name: str
    steps: int
    opened_on: str | None
    through: date | None
    because: str
    counted: bool
    waste: float


class PlannedOrder(NamedTuple):
    """One line of an open order. steps: still to come, None where nobody told what a pack holds.

    expected: the day that was promised, else the one of the lead time; None without either. counted: the plan counts on
    it; overdue: it does not, so late it is.
    """

    line: OrderLine
    steps: int | None
    promised: bool
    expected: date | None
    counted: bool
    overdue: bool


class Choice(NamedTuple):
    """One quantity that might be ordered, as in the candidates found; lasts None: beyond what is looked at.

    waste: steps that are expected to pass their date; per_day: expected cost a day in minor units; chosen: it won.
    """

    supplier: str
    packs: int
    steps: int
    cost: Money
    lasts: date | None
    chance_short: float
    waste: float
    per_day: float
    keeps_promise: bool
    chosen: bool


class NamedAmount(NamedTuple):
    """What is known of the amount that one kind of use takes; procedure "" for use that no procedure names."""

    procedure: str
    known: AmountGiven


@dataclass(frozen=True, slots=True)
class Planned:
    """The projection of one supply with names and days, as of `today`. The tuples stand in the order of what was given.

    until: the last day that is told about. amounts: of every kind of use given, in its order. netting: the table of
    expected amounts, for a person to follow; events: what happens on each of its days. counted_on: day of the last
    count, "" for never.
    """

    today: date
    until: date
    given: SupplyGiven
    found: PlanFound
    lots: tuple[PlannedLot, ...]
    jobs: tuple[PlannedJob, ...]
    amounts: tuple[NamedAmount, ...]
    orders: tuple[PlannedOrder, ...]
    choices: tuple[Choice, ...]
    netting: Netting
    events: Mapping[date, Sequence[str]]
    counted_on: str

    def on(self, days: int | None) -> date | None:
        """Return the date that so many days from today are; None stays None."""
        return None if days is None else self.today + timedelta(days=days)

    @property
    def drawn_until(self) -> date:
        """The day that paths are drawn to: what lasts longer lasts beyond it."""
        return self.today + timedelta(days=self.given.ahead)


@dataclass(frozen=True, slots=True)
class StockRow:
    """What to do about one supply.

    state: one of the five state words. order_by: last day to order, None for none; may be past. needed_by: the first
    day on which expected amounts fall short. packs: None while nobody offers it; steps: what to buy. supplier, cost:
    None where nothing is bought or nobody offers it; cost is with shipping, shipping the part of it that comes once an
    order. chance_short: that a use cannot be met before an order placed today arrives, or without a lead time within
    the horizon; never 0 or 1, None where no paths were drawn.
    on_hand: within its date. on_order: still to come, late or not. planned, unplanned: what they take by the horizon;
    unplanned None where there is no basis. held_up: the work that may well be held up if nothing is ordered, by day.
    wanted: the parts that units wait for, as "D4: belt". rests_on: sentences, without a full stop; in_short: the most
    telling of it in one clause. ask: the one fact that would help most, "" for none. plan: None for a supply whose
    amounts are not counted.
    """

    supply: Supply
    state: str
    order_by: date | None
    needed_by: date | None
    packs: int | None
    steps: int
    supplier: str | None
    cost: Money | None
    shipping: Money | None
    chance_short: float | None
    on_hand: int
    on_order: int
    planned: Range | None
    unplanned: Range | None
    held_up: tuple[PlannedJob, ...]
    wanted: tuple[str, ...]
    rests_on: tuple[str, ...]
    in_short: str
    ask: str
    plan: Planned | None


@dataclass(frozen=True, slots=True)
class StockList:
    """The rows, most urgent first, as of `today`. until: the last day that is told about.

    loose: parts wanted that are no supply of the book. no_history: units of which nobody knows what is due.
    not_listed: supplies that were never held and that nothing needs.
    """

    today: date
    until: date
    rows: tuple[StockRow, ...]
    loose: tuple[WantedPart, ...]
    no_history: int
    not_listed: int
