"""Whether the fit of drift keeps its word on fleets whose truth is known, and whether its judge can say no."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from collection.analysis.drift.fit import fit_fleet
from collection.analysis.drift.found import Instruments, Paths
from collection.analysis.drift.given import Fleet
from tests.support.fleet_oracle import ask_oracle
from tests.support.honesty import GOALS, GOALS_OF_30, NORMAL_95, gather, score, scores
from tests.support.simulated_fleets import BASE, SCENARIOS, Scenario, make_fleet

BY_NAME = {one.name: one for one in SCENARIOS}
# Curved drift is not among them: no straight line can keep the goals there, the oracle's does not.
SHORT = {
    "12 units": 5,
    "3 units": 6,
    "5 units": 6,
    "30 units": 2,
    "10 % stray": 4,
    "heavy tails": 4,
    "more walk": 4,
    "uneven": 4,
    "new belts": 4,
    "jumps": 4,
    "prior x 4": 4,
    "prior / 4": 4,
    "late arrivals": 4,
}


class Said(NamedTuple):
    """A stand-in for a fit."""

    paths: Paths
    instruments: Instruments


def oracle_as_fit(scenario: Scenario, width: float) -> Callable[[Fleet], Said]:
    """Return a fit that says what the oracle does, its standard errors multiplied; fleets are asked for in order."""
    numbers = iter(range(10**6))

    def fit(fleet: Fleet) -> Said:
        oracle = ask_oracle(*make_fleet(scenario, next(numbers)))
        paths = oracle.paths
        narrow = replace(
            paths,
            var_level=paths.var_level * width**2,
            cov=paths.cov * width**2,
            var_slope=paths.var_slope * width**2,
            wander=paths.wander * width**2,
        )
        reach = width * NORMAL_95 * np.sqrt(oracle.variance)
        none = np.zeros(fleet.instruments)
        instruments = Instruments(
            group=none.astype(np.int64),
            to_reference=none == 0,
            offset=oracle.offset,
            low=oracle.offset - reach,
            high=oracle.offset + reach,
            repeatability=none,
            free=none,
        )
        return Said(narrow, instruments)

    return fit


def test_the_same_scenario_and_number_make_the_same_fleet() -> None:
    """A figure of honesty can be had again: fleets come from their names and numbers alone."""
    (one, truth), (same, _), (other, _) = make_fleet(BASE, 3), make_fleet(BASE, 3), make_fleet(BASE, 4)
    assert one.values.tobytes() == same.values.tobytes()
    assert one.values.tobytes() != other.values.tobytes()
    assert len(truth.slope) == one.series == 12


def test_intervals_half_as_wide_as_they_should_be_are_seen_to_miss() -> None:
    """The judge can say no: the oracle passes with its own intervals, and fails with half of their width."""
    honest, _ = score(BASE, oracle_as_fit(BASE, 1.0), 10)
    boastful, _ = score(BASE, oracle_as_fit(BASE, 0.5), 10)
    assert honest.missed() == []
    assert {line.split(":")[0] for line in boastful.missed()} >= {"slope", "year"}


def test_what_is_said_of_fleets_is_what_becomes_of_them() -> None:
    """Intervals of every kind of fleet hold the truth, no wider than need be, and chances said are chances seen."""
    gathered = {
        name: gather(BY_NAME[name], fit_fleet, fleets, first=100 * place)
        for place, (name, fleets) in enumerate(SHORT.items())
    }
    goals = {name: GOALS_OF_30 if BY_NAME[name].units >= 30 else GOALS for name in SHORT}
    missed = {name: scores([gathered[name]], goals[name])[0].missed() for name in SHORT}
    assert {
        name: lines for name in SHORT if (lines := [one for one in missed[name] if not one.startswith("chances")])
    } == {}
    together, _ = scores(list(gathered.values()))
    assert together.missed() == []
    assert all(np.isfinite(one.value) for one in together.bins)
