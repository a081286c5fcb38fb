"""What the openings of a bench calendar take out of the drawer, one after another, and what it lacks for them.

Each takes what its procedures took so far on average, by the same estimate that the stock plan draws from: the sheet is
where that starts. What is taken only sometimes counts with how often; parts of a step are summed up over the openings
and rounded up, as in `needs`. Lots leave in take order; what is past its date on the day of an opening is no stock.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import ceil
from typing import NamedTuple

from collection.analysis.expected_use import how_often, mean_steps
from collection.analysis.needs import SheetAmount
from collection.analysis.stock_plan.given import AmountGiven
from collection.analysis.take_order import Lot, take, usable

# Parts of a step that a mean is told in: finer, a mean of 2.04 pieces would ask for a third one at the first opening.
_PARTS = 10


class Usual(NamedTuple):
    """What one procedure takes of one supply on average, in steps.

    uses: how many uses that were weighed, counted or told stand behind it besides the sheet. fits: the models that the
    supply fits, folded; empty for all. known: something tells at all; where nothing does, steps are 0.
    """

    procedure_id: int
    supply_id: int
    steps: Fraction
    uses: float = 0.0
    fits: frozenset[str] = frozenset()
    known: bool = True


def usual_amount(sheet: SheetAmount, learnt: AmountGiven | None) -> Usual:
    """Return what a procedure takes by its sheet and by what its uses taught; None: the sheet alone."""
    if learnt is None:
        steps, often, uses = float(sheet.steps), sheet.chance, 0.0
    else:
        steps = mean_steps(learnt) or 0.0
        often, uses = Fraction(how_often(learnt)).limit_denominator(), learnt.uses
    each = Fraction(round(steps * _PARTS), _PARTS)
    return Usual(sheet.procedure_id, sheet.supply_id, each * often, uses, sheet.fits, steps > 0)


class Coming(NamedTuple):
    """So many steps that an open order is expected to bring on a day."""

    on: date
    steps: int


@dataclass(frozen=True, slots=True)
class Shelf:
    """What there is of a supply: its lots, and what open orders are to bring.

    counted: its amounts are counted; else (by the pack) nothing is subtracted, and it lacks only where nothing is left.
    """

    lots: tuple[Lot, ...]
    coming: tuple[Coming, ...] = ()
    counted: bool = True


class Asks(NamedTuple):
    """An opening as the drawer sees it: when, which procedures, and the folded names of the unit's model."""

    on: date
    procedures: tuple[int, ...]
    models: frozenset[str]


class Take(NamedTuple):
    """What an opening takes of a supply, in steps.

    short: what the lots lack of it; coming: what of that open orders are expected to bring by then. left: usable on
    that day after it, None where amounts are not counted.
    """

    supply_id: int
    steps: int
    short: int
    coming: int
    left: int | None


class Drawer:
    """The stock as it runs down from opening to opening; `look` says what one would take, `take` takes it."""

    def __init__(self, amounts: Iterable[Usual], shelves: Mapping[int, Shelf]) -> None:
        """Begin with what there is; a supply without a shelf is not looked after and never told of."""
        self._shelves = shelves
        self._usual: defaultdict[int, list[Usual]] = defaultdict(list)
        for amount in amounts:
            if amount.supply_id in shelves:
                self._usual[amount.procedure_id].append(amount)
        self._expected: defaultdict[int, Fraction] = defaultdict(Fraction)
        self._lots = {supply: {lot.id: lot for lot in shelf.lots} for supply, shelf in shelves.items()}
        self._owed: defaultdict[int, int] = defaultdict(int)  # what orders must bring for openings before

    def look(self, asks: Asks) -> tuple[Take, ...]:
        """Return what an opening would take of each supply, in the order of its procedures."""
        return tuple(
            self._look(supply, ceil(after) - ceil(self._expected[supply]), asks.on)
            for supply, after in self._wanted(asks).items()
            if ceil(after) > ceil(self._expected[supply])
        )

    def take(self, asks: Asks) -> tuple[Take, ...]:
        """Take what an opening takes, and return it."""
        takes = self.look(asks)
        self._expected.update(self._wanted(asks))
        for each in takes:
            if self._shelves[each.supply_id].counted:
                lots = self._lots[each.supply_id]
                for taken in take(lots.values(), each.steps, asks.on)[0]:
                    lots[taken.lot] = lots[taken.lot]._replace(steps=lots[taken.lot].steps - taken.steps)
                self._owed[each.supply_id] += each.short
        return takes

    def _wanted(self, asks: Asks) -> dict[int, Fraction]:
        """Return the expected amounts of all openings up to this one, of the supplies that it asks for."""
        wanted: dict[int, Fraction] = {}
        for procedure in asks.procedures:
            for amount in self._usual.get(procedure, ()):
                if not (amount.fits and amount.fits.isdisjoint(asks.models)):
                    before = wanted.get(amount.supply_id, self._expected[amount.supply_id])
                    wanted[amount.supply_id] = before + amount.steps
        return wanted

    def _look(self, supply: int, steps: int, on: date) -> Take:
        shelf, lots = self._shelves[supply], self._lots[supply].values()
        there = sum(lot.steps for lot in lots if lot.steps > 0 and usable(lot, on))
        if not shelf.counted:
            return Take(supply, steps, 0 if there else steps, 0, None)
        short = max(0, steps - there)
        expected = sum(each.steps for each in shelf.coming if each.on <= on) - self._owed[supply]
        return Take(supply, steps, short, min(short, max(0, expected)), max(0, there - steps))


def sum_of_day(openings: Iterable[Sequence[Take]]) -> tuple[Take, ...]:
    """Return what the openings of one day take together, by supply in the order in which they come."""
    sums: dict[int, Take] = {}
    for takes in openings:
        for each in takes:
            before = sums.get(each.supply_id, Take(each.supply_id, 0, 0, 0, None))
            sums[each.supply_id] = Take(
                each.supply_id,
                before.steps + each.steps,
                before.short + each.short,
                before.coming + each.coming,
                each.left,
            )
    return tuple(sums.values())
