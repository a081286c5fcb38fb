"""On hand day by day: what a picture of one supply shows."""

from __future__ import annotations

import numpy as np

from collection.analysis.stock_plan.draws import Floats, draw, lead_days
from collection.analysis.stock_plan.found import FanFound, PlanFound
from collection.analysis.stock_plan.given import NEVER, SupplyGiven
from collection.analysis.stock_plan.plan import coming_of
from collection.analysis.stock_plan.project import Paths, lots_on_shelf, on_hand, with_arrivals

_SHARES = (0.1, 0.5, 0.9)


def fan_of(given: SupplyGiven, found: PlanFound) -> FanFound:
    """Return what is on hand on each day of the horizon, without and with the order that was chosen."""
    paths = Paths(draw(given))
    coming, _ = coming_of(given)
    shelf = lots_on_shelf(paths, given.lots)
    without = with_arrivals(paths, shelf, *coming, given.keeps, given.keeps_open)
    low, middle, high = _shares(on_hand(paths, without), given.horizon)
    if found.chosen is None or found.order_by is None:
        return FanFound(low, middle, high, (), None)
    candidate = found.candidates[found.chosen]
    offer = given.offers[candidate.offer]
    arrives = max(found.order_by, 0) + lead_days(given, offer.supplier, offer.lead, paths.paths)
    steps = np.concatenate([coming[0], np.full((1, paths.paths), float(candidate.steps))])
    comes = np.concatenate([coming[1], arrives[None]])
    ordered = with_arrivals(paths, shelf, steps, comes, given.keeps, given.keeps_open)
    bands = _shares(on_hand(paths, ordered), given.horizon)
    first, last = np.quantile(np.minimum(arrives, NEVER), (_SHARES[0], _SHARES[2]))
    return FanFound(low, middle, high, tuple(zip(*bands, strict=True)), (int(first), int(last)))


def _shares(held: Floats, days: int) -> tuple[tuple[float, ...], ...]:
    bands = np.quantile(held[:, :days], _SHARES, axis=0)
    return tuple(tuple(band.tolist()) for band in bands)
