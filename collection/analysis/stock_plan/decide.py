"""When to order and how much, read off the same paths for every candidate.

The day to order by is the latest on which the chance that a use cannot be met before the order arrives is no greater
than is accepted: the lower quantile of (day of running out - lead time) over the paths. Use that nobody planned is seen
when it happens, and answered then: where an order after the next such use would still come in time, there is no reason
to place it before. Such use has no memory, and from day to day it would put the day off, so that nothing were ordered
until the need is there. So the accepted chance is spent once: what of it went by while nothing happened since the stock
last changed is not given again, and a day once named stands.

The quantity is that of the lowest expected cost per day: order and holding over the days until the next run-out, and
the price of what is used a day, with what passes its date on top (the idea of E. Silver and H. Meal, "A heuristic for
selecting lot size quantities", Production and Inventory Management 14(2), 1973: from memory), among those that keep the
promise until the order after it could come. Steady use turns this into the economic order quantity of F. Harris, "How
many parts to make at once", Factory 10(2), 1913, with price breaks.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from collection.analysis.stock_plan.draws import lead_days
from collection.analysis.stock_plan.found import Candidate
from collection.analysis.stock_plan.given import NEVER, OfferGiven, SupplyGiven
from collection.analysis.stock_plan.project import Paths, Shelf, lots_on_shelf, run_out, wasted, with_arrivals

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_MOST_CANDIDATES = 24  # of one offer
_DAYS_A_YEAR = 365.25
_EVEN = 1e-9
LOOK = 7  # days until unplanned use is answered: whoever buys looks once a week; common practice, no source
_LIKELY = 0.5  # chance of running short from which on a day is named
_FEW = 0.02  # share of paths, below which they say little
_LEAST_USED = 1e-3  # part of an order: what is all wasted still costs something a day


class Supplying(NamedTuple):
    """What one supplier's lead time makes of the day to order: lead days and the order's day per path, both whole.

    order_by: None where nothing is needed within the days told about; may lie before today.
    """

    lead: Floats
    after: Floats
    order_by: int | None


class Basis(NamedTuple):
    """What every candidate is judged against.

    shelf, coming: the lots there are, and steps and days of what comes of open orders. out: when a use can first not
    be met without a new order; position: when one can first not be met by all there is and comes, had it come by now;
    lasts: until when that lasts. rate: steps that use takes a day, on average.
    """

    given: SupplyGiven
    paths: Paths
    shelf: Shelf
    coming: tuple[Floats, Floats]
    out: Ints
    position: Ints
    lasts: Floats
    rate: float

    def mendable(self, lead: Floats) -> Ints:
        """Return the day of running out that a new order may still mend.

        What runs short before an open order comes, and before a new one could, is no reason to order more.
        """
        return np.where((self.out < self.position) & (lead > self.out), self.position, self.out)


class Sudden(NamedTuple):
    """Use that nobody planned, in each path: its first day, and the day on which it alone has taken what there is."""

    first: Ints
    empties: Ints


def order_by(out: Ints, lead: Floats, given: SupplyGiven, sudden: Sudden) -> int | None:
    """Return the last day on which an order keeps the promise; None where that is after the days told about.

    An order is placed on that day, or once an unplanned use has been seen, if that is before. What is likely to run
    short within the days told about has a day: the last one on which it need not be looked at again, at the least.
    """
    margin = np.where(out >= NEVER, float(NEVER), out - lead)
    whatever = _at_share(np.sort(margin), 1 - given.wanted)
    late = np.sort(np.where(margin < sudden.first + LOOK, margin, float(NEVER)))
    day = _at_share(late, 1 - given.wanted)
    if day > 0:
        kept = max(0.0, _at_share(late, _left(lead, given, sudden)))
        day = min(kept, _while_nothing_happens(margin, sudden.first, given))
        if np.mean(out <= given.horizon) > _LIKELY:
            day = min(day, max(whatever, float(LOOK)))
    return None if day > given.horizon else int(day)


def _left(lead: Floats, given: SupplyGiven, sudden: Sudden) -> float:
    """Return what is left of the accepted chance after some days on which nothing happened."""
    accepted = 1 - given.wanted
    due = sudden.first < given.quiet
    spent = float(np.mean(due & (sudden.empties - lead < sudden.first + LOOK)))
    if spent >= accepted:
        return 0.0
    return min(accepted, (accepted - spent) / max(1.0 - float(np.mean(due)), _FEW))


def _while_nothing_happens(margin: Floats, first: Ints, given: SupplyGiven) -> float:
    """Return the last day up to which the chance, if nothing unplanned has happened till then, is the accepted one."""
    days = np.arange(1, given.horizon + 2)
    before, both, happened = (
        np.searchsorted(np.sort(each), days) for each in (margin, np.maximum(margin, first), first)
    )
    still = len(margin) - happened
    over = ((before - both) > (1 - given.wanted + _EVEN) * still) & (still >= _FEW * len(margin))
    return float(days[np.argmax(over)] - 1) if over.any() else float(NEVER)


def _at_share(margin: Floats, share: float) -> float:
    """Return the greatest of the sorted values that no more than a share of them lie below."""
    return float(margin[min(int(share * len(margin) + _EVEN), len(margin) - 1)])


def short_before(out: Ints, lead: Floats) -> float:
    """Return the chance that a use cannot be met before an order placed today arrives."""
    return float(np.mean(out < lead))


def supplying(basis: Basis, sudden: Sudden) -> dict[int, Supplying]:
    """Return for each supplier whose lead time is known when to order from it."""
    given, paths = basis.given, basis.paths
    found = {}
    for offer in given.offers:
        if offer.supplier not in found and offer.lead.is_known:
            lead, after = (
                lead_days(given, offer.supplier, offer.lead, paths.paths, after=later) for later in (False, True)
            )
            lead = np.maximum(lead, _not_before(basis, offer.supplier))
            found[offer.supplier] = Supplying(lead, after, order_by(basis.mendable(lead), lead, given, sudden))
    return found


def _not_before(basis: Basis, supplier: int) -> Floats:
    """Return the day before which a new order does not come: it overtakes none of the same supplier."""
    days = [
        np.where(day < NEVER, day, 0.0)
        for order, day in zip(basis.given.orders, basis.coming[1], strict=True)
        if order.supplier == supplier
    ]
    return np.max(days, axis=0) if days else np.zeros(basis.paths.paths)


def candidates(basis: Basis, by_supplier: dict[int, Supplying]) -> list[Candidate]:
    """Return the quantities that each offer allows, judged on the day to order by.

    None where nothing is needed: where one supplier at least is quick enough to be asked later.
    """
    found = list[Candidate]()
    if any(supplier.order_by is None for supplier in by_supplier.values()):
        return found
    for place, offer in enumerate(basis.given.offers):
        supplier = by_supplier.get(offer.supplier)
        if supplier is None:
            continue
        arrives = max(supplier.order_by or 0, 0) + supplier.lead
        found += [_judged(basis, place, packs, supplier, arrives) for packs in _packs(basis, offer, arrives)]
    return found


def chosen(found: Sequence[Candidate], offers: Sequence[OfferGiven], by_supplier: dict[int, Supplying]) -> int | None:
    """Return the place of the best candidate: in time, keeps the promise, cheapest per day, then fewest steps."""

    def rank(place: int) -> tuple[bool, bool, float, float, int, int]:
        one = found[place]
        on = by_supplier[offers[one.offer].supplier].order_by
        broken = 0.0 if one.keeps_promise else one.chance_short
        return on is not None and on < 0, not one.keeps_promise, broken, one.per_day, one.steps, one.offer

    return min(range(len(found)), key=rank, default=None)


def _packs(basis: Basis, offer: OfferGiven, arrives: Floats) -> list[int]:
    """Return the packs worth judging: from the least order to what covers the days told about after arrival."""
    least = max(offer.from_packs, offer.minimum, 1)
    until = np.minimum(arrives + basis.given.horizon, basis.paths.days - 1)
    there = basis.shelf.end + basis.coming[0].sum(axis=0)
    use = float(np.quantile(basis.paths.by(until) - there, basis.given.wanted))
    most = max(least, int(np.ceil(use / offer.pack)))
    if most - least < _MOST_CANDIDATES:
        return list(range(least, most + 1))
    ladder = np.rint(np.geomspace(least, most, _MOST_CANDIDATES)).astype(int)
    return sorted(set(ladder.tolist()))


def _judged(basis: Basis, place: int, packs: int, supplier: Supplying, arrives: Floats) -> Candidate:
    given, paths, offer = basis.given, basis.paths, basis.given.offers[place]
    steps = packs * offer.pack
    amounts = np.concatenate([basis.coming[0], np.full((1, paths.paths), float(steps))])
    comes = np.concatenate([basis.coming[1], arrives[None]])
    shelf = with_arrivals(paths, basis.shelf, amounts, comes, given.keeps, given.keeps_open)
    again = paths.above(shelf.end)
    short = float(np.mean(again < arrives + supplier.after))
    before, after = basis.lasts, shelf.lasts(paths)
    cost = packs * offer.price + offer.shipping
    in_stock = np.maximum(before - arrives, 0.0) + np.maximum(after - np.maximum(before, arrives), 0.0) / 2
    holding = given.holding / _DAYS_A_YEAR * packs * offer.price * float(in_stock.mean())
    covered = max(float(np.mean(after - before)), 1.0)
    waste = float(wasted(shelf, paths.days)[len(basis.shelf.ends) :].sum(axis=0).mean())
    # What is used costs the same on whatever day it is used: only its price counts, not how many days it covers.
    goods = packs * offer.price / max(steps - waste, _LEAST_USED * steps) * basis.rate
    middle = int(np.sort(again)[len(again) // 2])
    return Candidate(
        offer=place,
        packs=packs,
        steps=steps,
        cost=cost,
        lasts=None if middle >= NEVER else middle,
        chance_short=short,
        waste=waste,
        per_day=(offer.shipping + given.order_cost + holding) / covered + goods,
        keeps_promise=short <= 1 - given.wanted + _EVEN,
    )


def basis_of(given: SupplyGiven, paths: Paths, coming: tuple[Floats, Floats]) -> Basis:
    """Return the stock without any new order, and when it runs out."""
    shelf = lots_on_shelf(paths, given.lots)
    whole = with_arrivals(paths, shelf, *coming, given.keeps, given.keeps_open)
    rate = float(paths.by(np.full(paths.paths, float(NEVER))).mean()) / paths.days
    return Basis(given, paths, shelf, coming, run_out(paths, whole), paths.above(whole.end), whole.lasts(paths), rate)
