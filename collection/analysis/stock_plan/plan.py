"""What to do about one supply: the whole way from what is given to what is found."""

from __future__ import annotations

import numpy as np

from collection.analysis.stock_plan import decide
from collection.analysis.stock_plan.draws import Drawn, Floats, Ints, arrivals, draw, how_many_paths
from collection.analysis.stock_plan.found import (
    FINE,
    ORDER_BY,
    ORDER_NOW,
    TOO_LATE,
    UNKNOWN,
    LeadFound,
    PlanFound,
    Range,
    RunOut,
)
from collection.analysis.stock_plan.given import NEVER, SupplyGiven
from collection.analysis.stock_plan.project import Paths, Shelf, held_up, wasted, with_arrivals

_LIKELY = (0.1, 0.9)
_RUN_OUT = (0.05, 0.5, 0.95)
_ROUNDING = 1e-9


def plan_supply(given: SupplyGiven) -> PlanFound:
    """Return what to do about one supply; the same is given, the same is found, to the last bit."""
    drawn = draw(given)
    paths = Paths(drawn)
    coming, overdue = coming_of(given)
    basis = decide.basis_of(given, paths, coming)
    by_supplier = decide.supplying(basis, _sudden(drawn, basis))
    found = decide.candidates(basis, by_supplier)
    place = decide.chosen(found, given.offers, by_supplier)
    supplier = _supplier(given, by_supplier, None if place is None else found[place].offer)
    whole = with_arrivals(paths, basis.shelf, *coming, given.keeps, given.keeps_open)
    out = np.sort(basis.out)
    short = float(np.mean(basis.out <= given.horizon))
    return PlanFound(
        state=_state(basis, supplier),
        on_hand=_on_hand(given),
        planned=_range(drawn.planned),
        unplanned=_unplanned(given, drawn),
        run_out=RunOut(short, *(_day(out, share) for share in _RUN_OUT)),
        short_before=None if supplier is None else decide.short_before(basis.out, supplier.lead),
        order_by=None if supplier is None else supplier.order_by,
        lead=None if supplier is None else LeadFound(*_range(supplier.lead)),
        candidates=tuple(found),
        chosen=place,
        held_up=tuple(held_up(paths, whole, drawn.job_days).tolist()),
        waste=tuple(wasted(basis.shelf, given.horizon).mean(axis=1).tolist()),
        lacking=_lacking(given, paths, whole),
        spare=_spare(given, paths, supplier),
        overdue=overdue,
        entries_missing=any(lot.steps < 0 for lot in given.lots),
    )


def coming_of(given: SupplyGiven) -> tuple[tuple[Floats, Floats], tuple[int, ...]]:
    """Return steps and days of open orders (orders x paths), and the places of those that are not counted on.

    What does not come brings nothing: it is no part of what there will be.
    """
    paths = how_many_paths(given)
    days, overdue = arrivals(given, paths)
    steps = np.array([[float(order.steps)] for order in given.orders]).reshape(-1, 1)
    return (np.where(days < NEVER, steps, 0.0), days), overdue


def _sudden(drawn: Drawn, basis: decide.Basis) -> decide.Sudden:
    """Return when unplanned use comes, and when it alone has taken all there is and comes."""
    paths = basis.paths.paths
    path, day, steps = drawn.sudden
    order = np.lexsort((day, path))
    path, day, steps = path[order], day[order], steps[order]
    first, empties = (np.full(paths, NEVER, dtype=np.int64) for _ in range(2))
    begins = np.flatnonzero(np.r_[True, path[1:] != path[:-1]]) if len(path) else np.zeros(0, dtype=np.int64)
    first[path[begins]] = day[begins]
    total = np.cumsum(steps)
    before = np.repeat(total[begins] - steps[begins], np.diff(np.r_[begins, len(path)]))
    there = basis.shelf.steps.sum(axis=0) + basis.coming[0].sum(axis=0)
    over = np.flatnonzero(total - before > there[path] * (1 + _ROUNDING))
    np.minimum.at(empties, path[over], day[over])
    return decide.Sudden(first, empties)


def _supplier(given: SupplyGiven, known: dict[int, decide.Supplying], offer: int | None) -> decide.Supplying | None:
    """Return the supplier of the chosen offer, else the one from whom one may order last."""
    if offer is not None:
        return known[given.offers[offer].supplier]
    return max(known.values(), key=lambda each: NEVER if each.order_by is None else each.order_by, default=None)


def _state(basis: decide.Basis, supplier: decide.Supplying | None) -> str:
    """Return what to do; what no new order can mend is said where nothing more is to be ordered yet."""
    accepted = 1 - basis.given.wanted
    if supplier is None:
        if np.mean(basis.out <= basis.given.horizon) <= accepted:
            return FINE
        return ORDER_NOW if np.mean(basis.out <= 0) > accepted else UNKNOWN
    beyond_mending = (basis.out < basis.mendable(supplier.lead)) & (basis.out <= basis.given.horizon)
    if supplier.order_by is not None and supplier.order_by <= 0:
        return ORDER_NOW if supplier.order_by == 0 else TOO_LATE
    if np.mean(beyond_mending) > accepted:
        return TOO_LATE
    return FINE if supplier.order_by is None else ORDER_BY


def _on_hand(given: SupplyGiven) -> int:
    there = sum(lot.steps for lot in given.lots if lot.through is None or lot.through >= 0 or lot.steps < 0)
    return max(0, there)


def _range(values: Floats) -> Range:
    low, high = np.quantile(values, _LIKELY)
    return Range(float(values.mean()), float(low), float(high))


def _unplanned(given: SupplyGiven, drawn: Drawn) -> Range | None:
    known = given.unplanned is not None and given.unplanned.has_basis
    return _range(drawn.unplanned) if known else None


def _day(ordered: Ints, share: float) -> int | None:
    """Return the day by which it has happened in a share of the paths."""
    day = int(ordered[min(int(np.ceil(share * len(ordered))) - 1, len(ordered) - 1)])
    return None if day >= NEVER else day


def _lacking(given: SupplyGiven, paths: Paths, shelf: Shelf) -> float:
    """Return what has to come within the horizon so that all of it is met with the chance that is wanted."""
    unmet = np.maximum(paths.by(np.full(paths.paths, float(given.horizon))) - shelf.end, 0.0)
    return float(np.quantile(unmet, given.wanted, method="higher"))


def _spare(given: SupplyGiven, paths: Paths, supplier: decide.Supplying | None) -> float:
    """Return by how much use over a lead time from the day to order by may be above its mean, as often as is wanted."""
    if supplier is None:
        return 0.0
    on = float(max(supplier.order_by or 0, 0))
    use = paths.by(on + supplier.lead) - paths.by(np.full(paths.paths, on - 1))
    return max(0.0, float(np.quantile(use, given.wanted) - use.mean()))
