"""What is on the shelf in each path: use set against lots, first expired first out, in closed form.

Say D(t) is all that has left the shelf by the end of day t. Lots leave one after another, so each serves D between two
levels: it begins where the lot before it ended, and ends once it is empty or past its last usable day, whichever is
first: level(lot) = min(level(before) + steps, max(level(before), D(last usable day))). A use on day t is met while D(t)
is not above the level of the lots that are there by then; what could not be met waits for what arrives next. So a path
takes a few look-ups and no walk through its days. The order of lots is that of the World Health Organization's good
distribution practices, glossary, "first expiry/first out"; what arrives goes last, as it was made last.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from collection.analysis.stock_plan.draws import Drawn
from collection.analysis.stock_plan.given import NEVER, LotGiven

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_CLOSE = 1e-9  # part of an amount that is rounding
_WEEK = 7  # days whose drying is taken at once


class Paths:
    """Cumulative use by path and day, made ready for being looked up.

    What leaves the shelf stands in one row, path after path and day after day, with the sum of all so far beside it:
    both rise along the row, so that one search serves all paths.
    """

    def __init__(self, drawn: Drawn) -> None:
        self.paths, self.days = len(drawn.planned), drawn.days
        self._every = np.arange(self.paths)
        self._drawn = drawn
        self.missing = drawn.missing
        some = drawn.steps > 0
        moment = 2 * (drawn.path[some] * self.days + drawn.day[some])
        steps = drawn.steps[some]
        if drawn.drying is not None:
            moment, steps = _with_drying(moment, steps, drawn.drying, self.days)
        order = np.argsort(moment, kind="stable")
        self._moment, self._steps = moment[order], steps[order]
        self._sum = np.cumsum(self._steps)
        bounds = np.searchsorted(self._moment, 2 * self.days * np.arange(self.paths + 1), side="left")
        self._first, self._end = bounds[:-1], bounds[1:]
        self._before = np.concatenate([[0.0], self._sum])[self._first]
        self._close = _CLOSE * (1.0 + float(np.max(self._total(self._end), initial=0.0)))
        self._next_use = None if drawn.drying is None else _next_use(self._moment)

    def _total(self, place: Ints) -> Floats:
        """Return what has left in each path before a place in the row."""
        last = self._sum[place - 1] if len(self._sum) else np.zeros(len(place))
        return np.where(place > self._first, last - self._before, 0.0)

    def _passes(self, level: Floats) -> Ints:
        """Return the place of what brings the sum of each path above a level; its end for nothing."""
        place = np.searchsorted(self._sum, self._before + level + self._close, side="right")
        return np.clip(place, self._first, self._end)

    def _day(self, place: Ints) -> Ints:
        """Return the day of a place in the row of each path."""
        if not len(self._moment):
            return np.zeros(len(place), dtype=np.int64)
        return self._moment[np.minimum(place, len(self._moment) - 1)] // 2 - self._every * self.days

    def above(self, level: Floats) -> Ints:
        """Return the first day of each path on which a use brings what has left above a level; NEVER for none.

        What dries alone leaves no use unmet: the day is that of the first use from then on.
        """
        place = self._passes(level)
        if self._next_use is not None:
            place = np.minimum(self._next_use[place], self._end)
        return np.where(place < self._end, self._day(place), NEVER)

    def reaches(self, level: Floats) -> Floats:
        """Return when what has left comes to a level, as if each use were spread over the days since the one before.

        So half a use is half of the time between two; `days` where it does not within the days drawn.
        """
        place = self._passes(level)
        since = np.where(place > self._first, self._day(place - 1), -1)
        taken = self._steps[np.minimum(place, len(self._steps) - 1)] if len(self._steps) else np.ones(self.paths)
        part = np.clip((level - self._total(place)) / taken, 0, 1)
        return np.where(place < self._end, since + part * (self._day(place) - since), float(self.days))

    def by(self, day: Floats) -> Floats:
        """Return what has left by the end of a day in each path: nothing before today, all after the last day."""
        at = 2 * (self._every * self.days + np.clip(day, 0, self.days - 1).astype(np.int64)) + 1
        return np.where(day < 0, 0.0, self._total(np.searchsorted(self._moment, at, side="right")))

    def day_by_day(self) -> Floats:
        """Return what has left by the end of each day (paths x days)."""
        used = np.cumsum(self._drawn.by_day(), axis=1)
        if self._drawn.drying is None:
            return used
        return np.asarray(used + self._drawn.drying[:, None] * np.arange(1, self.days + 1))


def _with_drying(moment: Ints, steps: Floats, drying: Floats, days: int) -> tuple[Ints, Floats]:
    """Return the moments and steps of uses with what dries, week by week, after the uses of the day in its middle."""
    weeks = np.arange(_WEEK // 2, days, _WEEK)
    dried = 2 * (np.arange(len(drying))[:, None] * days + weeks).ravel() + 1
    return np.concatenate([moment, dried]), np.concatenate([steps, np.repeat(drying * _WEEK, len(weeks))])


def _next_use(moment: Ints) -> Ints:
    """Return for each place in the row, its end included, that of the first use from there on."""
    many = len(moment)
    here = np.where(moment % 2 == 0, np.arange(many), many)
    return np.append(np.minimum.accumulate(here[::-1])[::-1], many)


@dataclass(frozen=True, slots=True, eq=False)
class Shelf:
    """The levels of use that a row of lots serves; arrays (lots x paths).

    steps: of each lot. begins, ends: levels. comes: day from which it is there. through: last usable day.
    """

    steps: Floats
    begins: Floats
    ends: Floats
    comes: Floats
    through: Floats

    @property
    def end(self) -> Floats:
        """The level that all lots together serve."""
        return self.ends[-1] if len(self.ends) else np.zeros(self.ends.shape[1])

    def lasts(self, paths: Paths) -> Floats:
        """Return until when it lasts: until it is used up, or what is left has passed its date."""
        used_up = paths.reaches(self.end)
        if not len(self.ends):
            return used_up
        left = self.steps[-1] - (self.ends[-1] - self.begins[-1]) > _CLOSE * self.steps[-1]
        return np.where(left, np.clip(self.through[-1], used_up, paths.days), used_up)


def lots_on_shelf(paths: Paths, lots: Sequence[LotGiven]) -> Shelf:
    """Return the levels that the lots on the shelf serve.

    What the book has below zero, and what the shelf has less than the book, is taken from the lots that are used first.
    """
    missing = paths.missing - sum(min(lot.steps, 0) for lot in lots)
    begins = np.zeros(paths.paths)
    rows = []
    for lot in lots:
        there = lot.steps if lot.through is None or lot.through >= 0 else 0
        taken = np.minimum(max(there, 0), missing)
        missing = missing - taken
        row = _serve(paths, begins, max(there, 0) - taken, lot.through, lot.open_days, 0.0)
        rows.append(row)
        begins = row[2]
    return _shelf(rows, paths.paths)


def with_arrivals(
    paths: Paths, shelf: Shelf, steps: Floats, comes: Floats, keeps: int | None, keeps_open: int | None
) -> Shelf:
    """Return the shelf with what arrives after it: steps, comes (arrivals x paths), in whatever order it comes."""
    order = np.argsort(comes, axis=0, kind="stable")
    steps, comes = np.take_along_axis(steps, order, axis=0), np.take_along_axis(comes, order, axis=0)
    rows = list(zip(shelf.steps, shelf.begins, shelf.ends, shelf.comes, shelf.through, strict=True))
    begins = shelf.end
    for amount, day in zip(steps, comes, strict=True):
        through = None if keeps is None else day + keeps
        row = _serve(paths, begins, amount, through, keeps_open, day)
        rows.append(row)
        begins = row[2]
    return _shelf(rows, paths.paths)


_Row = tuple[Floats, Floats, Floats, Floats, Floats]


def _serve(
    paths: Paths,
    begins: Floats,
    steps: Floats,
    through: Floats | int | None,
    open_days: int | None,
    comes: Floats | float,
) -> _Row:
    """Return steps, begin, end, first and last day of the lot that follows the level `begins`."""
    coming = np.broadcast_to(np.asarray(comes, dtype=float), steps.shape)
    last = np.broadcast_to(np.asarray(float(NEVER) if through is None else through, dtype=float), steps.shape)
    if open_days is not None:
        opened = np.maximum(paths.above(begins), coming)
        last = np.minimum(last, opened + open_days)
    full = begins + steps
    ends = np.where(last >= paths.days, full, np.minimum(full, np.maximum(begins, paths.by(last))))
    return steps, begins, np.where(coming < NEVER, ends, begins), coming, last


def _shelf(rows: Sequence[_Row], paths: int) -> Shelf:
    if not rows:
        return Shelf(*(np.zeros((0, paths)) for _ in range(5)))
    return Shelf(*(np.array(part) for part in zip(*rows, strict=True)))


# --- what follows from it ----------------------------------------------------------------------------------


def shortages(paths: Paths, shelf: Shelf) -> list[tuple[Ints, Floats]]:
    """Return from when to before when uses cannot be met, for what is there at first and after each arrival.

    Days per path; a time that ends no later than it begins is none.
    """
    first = int((shelf.comes <= 0).all(axis=1).sum()) if len(shelf.comes) else 0
    found = []
    for place in range(first, len(shelf.ends) + 1):
        level = shelf.ends[place - 1] if place else np.zeros(paths.paths)
        until = shelf.comes[place] if place < len(shelf.comes) else np.full(paths.paths, float(NEVER))
        since = paths.above(level)
        if place > first:
            since = np.maximum(since, np.minimum(shelf.comes[place - 1], NEVER)).astype(np.int64)
        found.append((since, until))
    return found


def run_out(paths: Paths, shelf: Shelf) -> Ints:
    """Return the first day of each path on which a use cannot be met in full; NEVER for none."""
    day = np.full(paths.paths, NEVER, dtype=np.int64)
    for since, until in shortages(paths, shelf):
        day = np.minimum(day, np.where(since < until, since, NEVER))
    return day


def held_up(paths: Paths, shelf: Shelf, job_days: npt.NDArray[np.int32]) -> Floats:
    """Return for each job in how many paths it falls into a time in which uses cannot be met."""
    held = np.zeros(job_days.shape, dtype=bool)
    for since, until in shortages(paths, shelf):
        held |= (job_days >= since) & (job_days < until) & (job_days < NEVER)
    return np.asarray(held.mean(axis=1)) if len(held) else np.zeros(0)


def wasted(shelf: Shelf, by: int) -> Floats:
    """Return what of each lot passes its last usable day before a day (lots x paths)."""
    left = shelf.steps - (shelf.ends - shelf.begins)
    return np.where((shelf.through < by) & (shelf.comes < NEVER), np.maximum(left, 0.0), 0.0)


def on_hand(paths: Paths, shelf: Shelf) -> Floats:
    """Return what is usable at the end of each day (paths x days)."""
    held = np.zeros((paths.paths, paths.days))
    days, taken = np.arange(paths.days), paths.day_by_day()
    for steps, begins, ends, comes, last in zip(
        shelf.steps, shelf.begins, shelf.ends, shelf.comes, shelf.through, strict=True
    ):
        served = np.minimum(np.maximum(taken - begins[:, None], 0.0), (ends - begins)[:, None])
        there = (comes[:, None] <= days) & (days <= last[:, None])
        held += np.where(there, steps[:, None] - served, 0.0)
    return held
