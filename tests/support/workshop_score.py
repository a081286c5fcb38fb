"""How far the plan's promises hold in simulated clubs, and what they cost beside rules that keep as much.

The share of order cycles without a shortage is pooled over the clubs of a scenario; its standard error allows for the
cycles of one club going wrong together. A goal counts as met when it lies within two standard errors.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

import numpy as np

from collection.analysis.stock_plan.plan import plan_supply
from tests.support.honesty import Figure, share
from tests.support.workshop_book import Book
from tests.support.workshop_rules import AverageUse, FixedMinimum, Planned, Told
from tests.support.workshop_run import Lived, Rule, live
from tests.support.workshop_truth import Scenario, make_world

PLAN, ORACLE, AVERAGE, FIXED = "plan", "oracle", "average use", "fixed minimum"
PROMISED = (0.90, 0.95, 0.99)
BELOW, ABOVE = 0.02, 0.03  # points that the share may lie below what is promised, and above it where packs are small
LESS = 0.20  # less stock and waste than a rule without a plan that keeps as much
FACTORS = tuple(float(0.3 * 1.3**step) for step in range(19))  # of the rules without a plan
PATHS = 500


class Asked(NamedTuple):
    """A club to live in by a rule: setting is the chance wanted, or the factor of a rule without a plan."""

    scenario: Scenario
    number: int
    rule: str
    setting: float


Mapped = Callable[[Callable[[Asked], Lived], Sequence[Asked]], Iterable[Lived]]


def lived_by(asked: Asked) -> Lived:
    """Return what came of a club that lived by a rule."""
    world = make_world(asked.scenario, asked.number)
    rules: dict[str, Callable[[], Rule]] = {
        PLAN: lambda: Planned(plan_supply, asked.setting, PATHS),
        ORACLE: lambda: Told(plan_supply, world, asked.setting, PATHS),
        AVERAGE: lambda: AverageUse(asked.setting),
        FIXED: lambda: FixedMinimum(asked.setting),
    }
    return live(world, rules[asked.rule](), Book(world, exact=asked.rule == ORACLE))


class Kept(NamedTuple):
    """What came of one rule in all clubs of a scenario: share of cycles without a shortage, how many; stock and waste.

    Money in minor units: the mean value of the stock, and what expired in a year.
    """

    share: Figure
    cycles: int
    stock: float
    waste: float

    @property
    def cost(self) -> float:
        """Mean value of the stock and what expired in a year."""
        return self.stock + self.waste


class Row(NamedTuple):
    """One promise: what the plan kept of it, and the oracle."""

    wanted: float
    plan: Kept
    oracle: Kept


class Judged(NamedTuple):
    """One scenario: a row for each promise, and what the rules without a plan keep, by each of `FACTORS`."""

    scenario: Scenario
    rows: list[Row]
    curves: dict[str, list[Kept]]


def saving(cost: float, other: float | None) -> float | None:
    """Return by what part a cost is less than another; None where there is no other."""
    return None if not other else 1 - cost / other


def kept(lived: Sequence[Lived], goal: tuple[float, float], *, unrecorded: bool = False) -> Kept:
    """Return what came of a rule. unrecorded: only cycles that began when no use had been written down count."""
    cycles = [
        (number, cycle.short)
        for number, one in enumerate(lived)
        for cycle in one.cycles
        if not unrecorded or not cycle.recorded
    ]
    good = np.array([not short for _, short in cycles], dtype=np.float64)
    clubs = np.array([number for number, _ in cycles], dtype=np.int64)
    count = max(1, len(lived))
    return Kept(
        share(good, clubs, goal),
        len(cycles),
        sum(one.stock for one in lived) / count,
        sum(one.waste for one in lived) / count,
    )


def goal_of(scenario: Scenario, wanted: float) -> tuple[float, float]:
    """Return between what the share of cycles without a shortage has to lie."""
    return wanted - BELOW, min(1.0, wanted + ABOVE) if scenario.fine else 1.0


def judge(scenario: Scenario, clubs: Sequence[int], mapped: Mapped, promised: Sequence[float] = PROMISED) -> Judged:
    """Return what came of the clubs of these numbers; the oracle is asked in half of them."""

    def ask(rule: str, setting: float, some: Sequence[int]) -> Kept:
        lived = list(mapped(lived_by, [Asked(scenario, club, rule, setting) for club in some]))
        return kept(lived, goal_of(scenario, setting), unrecorded=scenario.unrecorded)

    curves = {rule: [ask(rule, factor, clubs) for factor in FACTORS] for rule in (AVERAGE, FIXED)}
    rows = [
        Row(wanted, ask(PLAN, wanted, clubs), ask(ORACLE, wanted, clubs[: (len(clubs) + 1) // 2]))
        for wanted in promised
    ]
    return Judged(scenario, rows, curves)


def together(some: Sequence[Kept]) -> Kept:
    """Return what came of one rule in several scenarios: all cycles, and the sum of the money."""
    cycles = sum(one.cycles for one in some)
    counted = [one for one in some if one.cycles]
    value = sum(one.share.value * one.cycles for one in counted) / max(1, cycles)
    error = sum((one.share.error * one.cycles) ** 2 for one in counted) ** 0.5 / max(1, cycles)
    goal = counted[0].share if counted else Figure(np.nan, np.nan)
    return Kept(
        Figure(value, error, goal.low, 1.0), cycles, sum(one.stock for one in some), sum(one.waste for one in some)
    )


def as_good(curve: Sequence[Kept], wanted: float) -> float | None:
    """Return what it costs a rule to reach a share, between its two nearest settings; None where it never does."""
    before: Kept | None = None
    for one in curve:
        if one.share.value >= wanted:
            if before is None or one.share.value == before.share.value:
                return one.cost
            part = (wanted - before.share.value) / (one.share.value - before.share.value)
            return before.cost + part * (one.cost - before.cost)
        before = one
    return None
