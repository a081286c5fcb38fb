"""How far the stock plan keeps its word: `python -m tests.benchmarks.bench_workshop [--clubs N] [--scenario NAME]`.

One line per scenario and promise: share of order cycles without a shortage (+- standard error), how many cycles, the
oracle's share; mean value of the stock and what expired a year, the oracle's after the stroke; by how much that is
less than an order point by average use and a fixed minimum need that are set to keep as much. "!" marks what misses
its goal. `--markdown` prints the table for the handbook.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import partial

from tests.support.workshop_score import LESS, Kept, Row, rows, saving
from tests.support.workshop_truth import SCENARIOS

MARKDOWN = (
    "| supply | promised | kept, points ± s.e. | cycles | oracle | stock + waste | oracle | less than average use |"
    " less than fixed minimum |\n|---|---|---|---|---|---|---|---|---|"
)


def cells(row: Row) -> list[str]:
    """Return the cells of a row."""
    kept, oracle = row.plan, row.oracle
    return [
        row.scenario.name + ("" if row.scenario.fine else " *"),
        f"{row.wanted:.0%}",
        f"{_share(kept)} ± {100 * kept.share.error:.1f}{'' if kept.share.met else '!'}",
        str(kept.cycles),
        "-" if oracle is None else _share(oracle),
        _money(kept),
        "-" if oracle is None else _money(oracle),
        _less(saving(kept.cost, row.average)),
        _less(saving(kept.cost, row.fixed)),
    ]


def main() -> None:
    """Print the lines of each scenario asked for as soon as they are known, and what all of them come to."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    words.add_argument("--clubs", type=int, default=16)
    words.add_argument("--scenario", action="append")
    words.add_argument("--markdown", action="store_true")
    asked = words.parse_args()
    found: list[Row] = []
    if asked.markdown:
        _say(MARKDOWN)
    with ProcessPoolExecutor(2) as both:
        for scenario in SCENARIOS:
            if asked.scenario is None or scenario.name in asked.scenario:
                # Clubs without any use recorded have few cycles each, so there are more of them.
                clubs = asked.clubs * (4 if scenario.unrecorded else 1)
                new = rows(scenario, clubs, partial(both.map, chunksize=1))
                found += new
                for row in new:
                    texts = cells(row)
                    _say("| " + " | ".join(texts) + " |" if asked.markdown else "  ".join(texts))
    for line in _together(found):
        _say(line)


def _together(found: list[Row]) -> list[str]:
    """Return what all scenarios come to: cycles kept by promise, and stock and waste where both rules can be set."""
    lines = []
    for wanted in sorted({row.wanted for row in found}):
        some = [row for row in found if row.wanted == wanted]
        cycles = sum(row.plan.cycles for row in some)
        good = sum(row.plan.cycles * row.plan.share.value for row in some if row.plan.cycles)
        less = [
            saving(sum(row.plan.cost for row in pairs), sum(getattr(row, rule) for row in pairs))
            for rule in ("average", "fixed")
            for pairs in [[row for row in some if getattr(row, rule) is not None]]
        ]
        lines.append(
            f"All: {wanted:.0%} promised, {100 * good / max(1, cycles):.1f} of {cycles} cycles kept; "
            f"stock and waste {_less(less[0])} less than by average use, {_less(less[1])} than by a fixed minimum."
        )
    return lines


def _share(kept: Kept) -> str:
    return f"{100 * kept.share.value:.1f}"


def _money(kept: Kept) -> str:
    return f"{kept.stock / 100:.2f} + {kept.waste / 100:.2f}"


def _less(part: float | None) -> str:
    return "-" if part is None else f"{part:.0%}" + ("" if part >= LESS else "!")


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
