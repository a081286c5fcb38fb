"""What would have to come by when: needs set against stock and arrivals, day by day.

The netting table of material requirements planning, in a form one can follow by hand:

net = max(0, gross + safety stock - arrivals - on hand before)
on hand after = on hand before + arrivals + receipt - gross

where the receipt is the net itself. Everything is counted in whole steps of the supply.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from collection.analysis.take_order import Lot, take_order, usable
from collection.errors import Refused


class Need(NamedTuple):
    """So many steps are needed on a day, and for what. A day before today counts as today."""

    on: date
    steps: int
    why: str = ""


class Arrival(NamedTuple):
    """So many steps are expected on a day, and from which order."""

    on: date
    steps: int
    why: str = ""


class NetRow(NamedTuple):
    """One day on which something happens, in steps.

    expired: stock that passed its last usable day since the row before; net: what an order must bring by this
    day; on_hand: what is left after this day, the net being received.
    """

    on: date
    expired: int
    gross: int
    arrivals: int
    net: int
    on_hand: int


@dataclass(frozen=True, slots=True)
class Netting:
    """The table and what follows from it whatever the supplier.

    first_short: first day with a net; short: sum of the nets, in steps; held_up: the needs that cannot be met
    if nothing is ordered; overdue: arrivals expected before today, which count for nothing until they come;
    entries_missing: the book of a lot is below zero, so please count.
    """

    rows: tuple[NetRow, ...]
    first_short: date | None
    short: int
    held_up: tuple[Need, ...]
    overdue: tuple[Arrival, ...]
    entries_missing: bool


def net_requirement(gross: int, arrivals: int, before: int, safety_stock: int) -> int:
    """Return what must be received on a day so that it ends with at least the safety stock, in steps."""
    return max(0, gross + safety_stock - arrivals - before)


def packs_needed(steps: int, pack: int, minimum_packs: int = 1) -> int:
    """Return the whole packs of `pack` steps that cover `steps`, in exact integers; none for no need.

    Raises Refused for a pack below one step.
    """
    if pack < 1:
        raise Refused(f"A pack of {pack} steps: a pack holds at least one step.", "Correct the offer.")
    return max(-(-steps // pack), minimum_packs) if steps > 0 else 0


# --- by day ------------------------------------------------------------------------------------------------


class _Stock:
    """Usable stock in take order, and what needs could not get so far."""

    def __init__(self, lots: Iterable[Lot]) -> None:
        self.lots = take_order(lots)
        self.owed = 0

    @property
    def total(self) -> int:
        return sum(lot.steps for lot in self.lots)

    def expire(self, on: date) -> int:
        """Drop what is past its last usable day, and return how much that was."""
        before = self.total
        self.lots = [lot for lot in self.lots if usable(lot, on)]
        return before - self.total

    def add(self, steps: int) -> None:
        """Take in what arrives, without a last usable day; what is owed is paid first."""
        paid = min(steps, self.owed)
        self.owed -= paid
        self.lots.append(Lot(None, steps - paid))

    def take(self, steps: int) -> int:
        """Take what there is, first expired first; what is missing is owed, and returned."""
        left = []
        for lot in self.lots:
            part = min(steps, lot.steps)
            steps -= part
            if part < lot.steps:
                left.append(lot._replace(steps=lot.steps - part))
        self.lots = left
        self.owed += steps
        return steps


def net_by_day(
    needs: Iterable[Need],
    lots: Iterable[Lot],
    arrivals: Iterable[Arrival],
    today: date,
    safety_stock: int = 0,
) -> Netting:
    """Return the netting table from `today` on, a row for today and for each day with an event.

    Lots are used first expired first; stock past its last usable day is not stock. Lots below zero are taken
    from the others, and together they never count as less than nothing. Needs of one day are met in the order
    given. Raises Refused for negative needs, arrivals or safety stock.
    """
    needs, lots, arrivals = list(needs), list(lots), list(arrivals)
    _refuse_negative([*needs, *arrivals], safety_stock)
    arriving: Counter[date] = Counter()
    for arrival in arrivals:
        arriving[arrival.on] += arrival.steps if arrival.on >= today else 0
    days = _days(needs, lots, +arriving, today)
    rows = _rows(days, _opening(lots, today), arriving, safety_stock)
    return Netting(
        rows=rows,
        first_short=next((row.on for row in rows if row.net), None),
        short=sum(row.net for row in rows),
        held_up=_held_up(days, _opening(lots, today), arriving),
        overdue=tuple(arrival for arrival in arrivals if arrival.on < today),
        entries_missing=any(lot.steps < 0 for lot in lots),
    )


def _refuse_negative(listed: Sequence[Need | Arrival], safety_stock: int) -> None:
    for item in listed:
        if item.steps < 0:
            what = f"{item.steps} steps on {item.on}" + (f", {item.why}" if item.why else "")
            raise Refused(f"{what}: a need or an arrival is zero or more.", "Correct the amount.")
    if safety_stock < 0:
        raise Refused(f"A safety stock of {safety_stock} steps is below zero.", "Give zero or more.")


def _opening(lots: Sequence[Lot], today: date) -> _Stock:
    """Return the stock that counts today: expired lots gone, lots below zero taken from the others."""
    stock = _Stock(lot for lot in lots if lot.steps > 0)
    stock.expire(today)
    stock.take(sum(-lot.steps for lot in lots if lot.steps < 0))
    stock.owed = 0  # entries are missing; a plan starts at zero, never below
    return stock


def _days(needs: Sequence[Need], lots: Sequence[Lot], arriving: Iterable[date], today: date) -> dict[date, list[Need]]:
    """Return, in order, today and every day with a need, an arrival or newly expired stock, with its needs.

    Stock that expires after the last need is no event of the plan.
    """
    by_day: defaultdict[date, list[Need]] = defaultdict(list)
    for need in sorted(needs, key=lambda need: need.on):
        by_day[max(need.on, today)].append(need)
    last = max(by_day, default=today)
    ends = [lot.usable_through for lot in lots if lot.usable_through is not None and lot.steps > 0]
    expiring = [end + timedelta(days=1) for end in ends if today <= end < last]
    return {on: by_day[on] for on in sorted({today, *by_day, *arriving, *expiring})}


def _rows(
    days: Mapping[date, Sequence[Need]], stock: _Stock, arriving: Mapping[date, int], safety_stock: int
) -> tuple[NetRow, ...]:
    rows = []
    for on, needs in days.items():
        expired = stock.expire(on)
        gross = sum(need.steps for need in needs)
        net = net_requirement(gross, arriving[on], stock.total, safety_stock)
        stock.add(arriving[on] + net)
        stock.take(gross)
        rows.append(NetRow(on, expired, gross, arriving[on], net, stock.total))
    return tuple(rows)


def _held_up(days: Mapping[date, Sequence[Need]], stock: _Stock, arriving: Mapping[date, int]) -> tuple[Need, ...]:
    """Return the needs that stock and arrivals alone cannot meet in full; what is owed waits in front."""
    held_up = []
    for on, needs in days.items():
        stock.expire(on)
        stock.add(arriving[on])
        held_up += [need for need in needs if stock.take(need.steps)]
    return tuple(held_up)
