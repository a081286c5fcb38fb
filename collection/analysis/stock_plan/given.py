"""What the projection of one supply is given: stock, work ahead, what is known of amounts, suppliers and their times.

Amounts are whole steps of the supply where the book has them, and means of steps where they are estimates. Days are
whole days from today (0: today). Nothing here knows a date or a name: whoever asks keeps both beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

NEVER = 10**6  # days: a day that is not within those drawn
HORIZON = 365  # days that are told about
AHEAD = 730  # days that are drawn: an order placed within the horizon is judged by what comes after it
SHEET_USES = 2  # past uses for which an amount on a procedure's sheet counts
SAID_ORDERS = 2  # past orders for which a supplier's word counts
USUAL_SPREAD = 0.35  # of an amount, as a part of its mean, until uses tell; common practice, no source
LEAST_SPREAD = 0.10
USUAL_LEAD_SPREAD = 0.5  # of a lead time likewise; common practice, no source
ENOUGH_FREE = 8  # uses beyond the means they took, from which on a spread is taken from them
WANTED = 0.95  # chance of having enough until an order comes


class LotGiven(NamedTuple):
    """One lot on the shelf, the lots in take order.

    through: its last usable day as it stands, below 0 if that has passed, None if it has none. open_days: how long it
    keeps from the day it is opened; None for one that is open already or keeps as long open.
    """

    steps: int
    through: int | None = None
    open_days: int | None = None


class AmountGiven(NamedTuple):
    """What is known of the amount that one kind of use takes, in steps.

    sheet: the amount of the sheet (None: there is none). uses, total: how many uses were weighed, counted or told, and
    what they took together. spread: standard deviation of a use as a part of its mean. chance, times, taken: how often
    a use takes any, by the sheet (1: always), and in how many of so many services it was taken. piece: steps of one
    piece where a use takes whole pieces, 0 for what is weighed or poured.
    """

    sheet: float | None
    uses: float = 0.0
    total: float = 0.0
    spread: float = USUAL_SPREAD
    chance: float = 1.0
    times: int = 0
    taken: int = 0
    piece: int = 0


class JobGiven(NamedTuple):
    """One piece of planned work: when, how sure, and which of the amounts it takes.

    day: about when it is done; below 0 for what should have been done and has not been. spread: standard deviation of
    that, in days; 0: on that very day. chance: that it happens at all.
    """

    day: float
    spread: float
    chance: float
    amount: int


class WorkDay(NamedTuple):
    """A day within a year from today on, and the units that were worked on about that day of a past year."""

    ahead: int
    units: int


class UnplannedGiven(NamedTuple):
    """Use that no schedule knows: so many events in so many unit-months, with a prior gamma(shape, rate).

    shape, rate 0: no prior. a_month: unit-months that pass in a month (30.4375 days) from now on. amount: what one
    event takes. follows: how many more follow one within a month than chance has follow. last: days since the last one,
    None for longer than such a month.
    """

    events: int
    exposure: float
    shape: float
    rate: float
    a_month: float
    amount: int
    follows: float = 0.0
    last: int | None = None

    @property
    def has_basis(self) -> bool:
        """Say whether anything at all is known: a time that was watched, or a prior."""
        return self.exposure > 0 or self.rate > 0


class LeadGiven(NamedTuple):
    """What is known of the days from order to arrival.

    said: the supplier's word (None: none). observed: days of past orders. spread: as a part of the mean.
    """

    said: float | None
    observed: tuple[int, ...] = ()
    spread: float = USUAL_LEAD_SPREAD

    @property
    def is_known(self) -> bool:
        """Say whether there is anything to go by."""
        return self.said is not None or bool(self.observed)


class OrderGiven(NamedTuple):
    """What is still to come of an order: steps, days since it was placed, and the day it was confirmed for, if any.

    keeps: days that what arrives keeps (None: no end known). supplier: the number that its offers have.
    """

    steps: int
    elapsed: int
    lead: LeadGiven
    confirmed: int | None = None
    keeps: int | None = None
    supplier: int | None = None


class OfferGiven(NamedTuple):
    """One price of one supplier: of a pack in minor units, for orders of so many packs and more.

    supplier: a number that offers of one supplier share. minimum: the supplier's least order in packs.
    """

    supplier: int
    pack: int
    price: int
    from_packs: int
    minimum: int
    shipping: int
    lead: LeadGiven


@dataclass(frozen=True, slots=True)
class SupplyGiven:
    """All that the projection of one supply rests on; equal ones give equal answers, to the last bit.

    seed: what its random numbers start from. wanted: the chance of having enough until an order comes. keeps,
    keeps_open: days that a new lot keeps, and once it is open. drying: steps a day that an open lot loses, and its
    standard deviation. unbooked: steps that the shelf has less than the book until the next count tells, and their
    standard deviation. order_cost: what placing an order is worth to its owner, minor units; holding: cost of holding
    stock, part of its value a year. quiet: days since stock last changed by a use, an arrival or an order. work_days:
    the days of work of past years, as days of the year that begins today. ahead, horizon: days that are drawn and told.
    """

    seed: int
    lots: tuple[LotGiven, ...] = ()
    jobs: tuple[JobGiven, ...] = ()
    amounts: tuple[AmountGiven, ...] = ()
    unplanned: UnplannedGiven | None = None
    orders: tuple[OrderGiven, ...] = ()
    offers: tuple[OfferGiven, ...] = ()
    wanted: float = WANTED
    keeps: int | None = None
    keeps_open: int | None = None
    drying: tuple[float, float] = (0.0, 0.0)
    unbooked: tuple[float, float] = (0.0, 0.0)
    order_cost: int = 0
    holding: float = 0.10
    quiet: int = 0
    work_days: tuple[tuple[WorkDay, ...], ...] = ()
    horizon: int = HORIZON
    ahead: int = AHEAD
    paths: int = 4000
