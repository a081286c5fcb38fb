"""How honest the fit of drift is: by hand, `python -m tests.benchmarks.bench_honesty [--fleets N] [--scenario NAME]`.

One line per scenario, the oracle's figure after each stroke: coverage of 95 % slope intervals of classes that drift
and of 90 % ranges a year ahead, width of those ranges against the oracle's, area under the curve and share found at 5
% false alarms of units outside +-1 % a year later, the area among units still inside, coverage of 95 % offset
intervals, share of series that get an answer, processor time of a fit, and per bin of chances said (0-2-10-30-70-90-100
%) the points by which what was seen exceeds what was said. "!" marks what misses its goal by more than two standard
errors. N counts fleets of 12 units; a scenario of other fleets makes as many units. `--markdown` prints the table for
the handbook.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from math import isnan

from collection.analysis.drift.fit import fit_fleet
from tests.support.honesty import Figure, Score, score
from tests.support.simulated_fleets import SCENARIOS, Scenario

HEAD = (
    f"{'scenario':15} {'slope95':>8} {'year90':>8} {'width':>5} {'area':>10} {'found':>7} {'inside':>10} "
    f"{'offset95':>8} {'answer':>6} {'ms':>4}  bins, points"
)
MARKDOWN = (
    "| fleets | slopes 95 % | in a year 90 % | width | area | found | area, inside now | offsets 95 % | answered |"
    " seen less said, points |\n|---|---|---|---|---|---|---|---|---|---|"
)


def fleets_of(scenario: Scenario, fleets: int) -> int:
    """Return how many fleets of this scenario have as many units as that many fleets of 12; three at least."""
    return max(3, round(fleets * 12 / scenario.units))


def line(scenario: Scenario, found: Score, oracle: Score) -> str:
    """Return the line of a scenario."""
    return (
        f"{scenario.name:15} {_percent(found.slope, oracle.slope, 8)} {_percent(found.year, oracle.year, 8)} "
        f"{found.width.value:4.2f}{_mark(found.width) or ' '} {_area(found.area, oracle.area)} "
        f"{_percent(found.caught, oracle.caught, 7, 0)} {_area(found.leaving, oracle.leaving)} "
        f"{_percent(found.offset, oracle.offset, 8)} {100 * found.answered.value:5.1f}{_mark(found.answered) or ' '} "
        f"{1000 * found.seconds:4.0f}  {_points(found)}"
    )


def row(scenario: Scenario, found: Score, oracle: Score) -> str:
    """Return the row of a scenario in the handbook's table: figure / oracle's, with "!" where a goal is missed."""
    cells = [
        scenario.name,
        _cell(found.slope, oracle.slope, 1),
        _cell(found.year, oracle.year, 1),
        f"{found.width.value:.2f}{_mark(found.width)}",
        f"{found.area.value:.3f}{_mark(found.area)} / {oracle.area.value:.3f}",
        _cell(found.caught, oracle.caught, 0),
        f"{found.leaving.value:.3f} / {oracle.leaving.value:.3f}",
        _cell(found.offset, oracle.offset, 1),
        f"{100 * found.answered.value:.1f}{_mark(found.answered)}",
        _points(found),
    ]
    return "| " + " | ".join(cells) + " |"


def main() -> None:
    """Print the line of each scenario asked for as soon as it is known."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    words.add_argument("--fleets", type=int, default=60)
    words.add_argument("--scenario", action="append")
    words.add_argument("--markdown", action="store_true")
    asked = words.parse_args()
    _say(MARKDOWN if asked.markdown else HEAD)
    for scenario in _chosen(asked.scenario):
        found, oracle = score(scenario, fit_fleet, fleets_of(scenario, asked.fleets))
        _say((row if asked.markdown else line)(scenario, found, oracle))


def _chosen(names: list[str] | None) -> Iterator[Scenario]:
    return (one for one in SCENARIOS if names is None or one.name in names)


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def _mark(figure: Figure) -> str:
    return "" if figure.met else "!"


def _points(found: Score) -> str:
    return " ".join("." if isnan(one.value) else f"{100 * one.value:+.0f}{_mark(one)}" for one in found.bins)


def _cell(found: Figure, oracle: Figure, digits: int) -> str:
    return f"{100 * found.value:.{digits}f}{_mark(found)} / {100 * oracle.value:.{digits}f}"


def _percent(found: Figure, oracle: Figure, wide: int, digits: int = 1) -> str:
    return f"{100 * found.value:.{digits}f}{_mark(found)}/{100 * oracle.value:.0f}".rjust(wide)


def _area(found: Figure, oracle: Figure) -> str:
    return f"{found.value:.3f}{_mark(found)}/{oracle.value:.3f}".replace("0.", ".").replace("1.000", "1.00").rjust(10)


if __name__ == "__main__":
    main()
