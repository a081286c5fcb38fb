"""How much one use takes: what is seen of it, and what the projection is given.

An amount is seen where somebody weighed or counted it, or where a count told what went over the uses booked by the
sheet; then it is a total over several uses. What a sheet says is no observation: it is the starting point that a few
uses outweigh (`analysis/stock_plan`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import NamedTuple

from collection.analysis.stock_plan.given import ENOUGH_FREE, LEAST_SPREAD, USUAL_SPREAD, AmountGiven
from collection.analysis.use_counts import Counting, went_by_sheet
from collection.analysis.use_occasions import Key, Occasion, SheetLine

EVENT = None  # the key under which events stand that no schedule foresaw


class Seen(NamedTuple):
    """One observation: so many uses took so much together, in steps.

    alone: nothing else took part in it, so that it tells of the spread. counted: a count told it.
    """

    uses: float
    total: float
    alone: bool
    counted: bool


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviation of a use as a part of its mean; free: the uses beyond the means they took; 0, None: none."""

    of_mean: float | None
    free: float

    @property
    def is_known(self) -> bool:
        """Say whether enough uses tell."""
        return self.of_mean is not None and self.free >= ENOUGH_FREE

    @property
    def to_plan(self) -> float:
        """Return what to plan with: what is known, never too little, else what is usual."""
        return max(LEAST_SPREAD, self.of_mean) if self.is_known and self.of_mean is not None else USUAL_SPREAD


def seen_amounts(
    found: Mapping[Key, Occasion], counts: Iterable[Counting], drying: float, sheets: Mapping[int, SheetLine]
) -> dict[int | None, list[Seen]]:
    """Return what is seen of the amounts, by procedure, and under EVENT of events that no schedule foresaw.

    A use of several procedures together is spread over them as their sheets have it.
    """
    seen: defaultdict[int | None, list[Seen]] = defaultdict(list)
    for each in found.values():
        if each.teaches:
            for key, share, alone in _keys(each, sheets):
                seen[key].append(Seen(1.0, each.steps * share, alone, counted=False))
    for count in counts:
        for key, one in _spread_over(count, found, drying, sheets):
            seen[key].append(one)
    return dict(seen)


def _keys(each: Occasion, sheets: Mapping[int, SheetLine]) -> list[tuple[int | None, float, bool]]:
    """Return under which keys an occasion is seen, with the share of its steps, and whether it is the only one."""
    whole = sum(sheets[number].steps for number in each.sheets)
    several = len(each.sheets)
    keys: list[tuple[int | None, float, bool]] = [
        (number, sheets[number].steps / whole if whole else 1 / several, several == 1) for number in sorted(each.sheets)
    ]
    return keys if each.planned else [*keys, (EVENT, 1.0, True)]


def _spread_over(
    count: Counting, found: Mapping[Key, Occasion], drying: float, sheets: Mapping[int, SheetLine]
) -> list[tuple[int | None, Seen]]:
    """Spread what went before a count over the uses booked by the sheet, in proportion to what was booked."""
    if not count.by_sheet:
        return []
    ratio = went_by_sheet(count, drying) / count.booked
    uses, total = defaultdict[int | None, float](float), defaultdict[int | None, float](float)
    for key, taken in count.by_sheet.items():
        occasion = found[key]
        for name, share, _ in _keys(occasion, sheets):
            uses[name] += taken / occasion.steps
            total[name] += taken * share * ratio
    one_kind = len({name for name in uses if name is not EVENT} or uses) == 1
    return [(name, Seen(uses[name], total[name], one_kind, counted=True)) for name in uses]


def spread_of(seen: Sequence[Seen]) -> Spread:
    """Return the spread of one kind of use about its own mean; totals of several uses weigh as many."""
    alone = [each for each in seen if each.alone and each.uses > 0]
    uses, total = sum(each.uses for each in alone), sum(each.total for each in alone)
    if len(alone) < 2 or total <= 0:
        return Spread(None, 0.0)
    mean = total / uses
    squares = sum(each.uses * (each.total / each.uses - mean) ** 2 for each in alone)
    return Spread(sqrt(squares / (len(alone) - 1)) / mean, len(alone) - 1.0)


def pooled(spreads: Iterable[Spread]) -> Spread:
    """Return the spread that several kinds of use share, each weighed by the uses beyond its mean."""
    known = [each for each in spreads if each.of_mean is not None]
    free = sum(each.free for each in known)
    if not free:
        return Spread(None, 0.0)
    return Spread(sqrt(sum(each.free * (each.of_mean or 0.0) ** 2 for each in known) / free), free)


def amount_given(
    line: SheetLine, seen: Sequence[Seen], spread: Spread, times: tuple[int, int], piece: int
) -> AmountGiven:
    """Return what the projection is given of the amount of one procedure; times count where the sheet is not sure."""
    services, taken = times if line.chance < 1 else (0, 0)
    return AmountGiven(
        sheet=line.steps or None,
        uses=sum(each.uses for each in seen),
        total=sum(each.total for each in seen),
        spread=spread.to_plan,
        chance=line.chance,
        times=services,
        taken=taken,
        piece=piece,
    )
