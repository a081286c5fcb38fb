"""How far the stock plan keeps its word: `python -m tests.benchmarks.bench_workshop [--clubs N] [--first N]`.

One line per scenario and promise: share of order cycles without a shortage (+- standard error), how many cycles, the
oracle's share; mean value of the stock and what expired a year, the oracle's; by how much that is less than an order
point by average use and a fixed minimum need that are set, for this supply and in hindsight, to keep as much. The last
lines tell of all supplies together, and of those rules with one setting for the whole drawer, as a person has it. "!"
marks what misses its goal. Clubs are numbered from `--first` on: what is mended on some is judged on others.
`--scenario NAME` runs a part, `--markdown` prints the table for the handbook.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor

from tests.support.workshop_score import AVERAGE, FIXED, LESS, Judged, Kept, Row, as_good, judge, saving, together
from tests.support.workshop_truth import SCENARIOS

MARKDOWN = (
    "| supply | promised | kept, points ± s.e. | cycles | oracle | stock + waste | oracle | less than average use |"
    " less than fixed minimum |\n|---|---|---|---|---|---|---|---|---|"
)

UNRECORDED = 25  # clubs for one of those with records


def cells(judged: Judged, row: Row) -> list[str]:
    """Return the cells of a row."""
    plan, oracle = row.plan, row.oracle
    return [
        judged.scenario.name + ("" if judged.scenario.fine else " *"),
        f"{row.wanted:.0%}",
        _share(plan),
        str(plan.cycles),
        f"{100 * oracle.share.value:.1f}",
        _money(plan),
        _money(oracle),
        *(_less(saving(plan.cost, as_good(curve, plan.share.value))) for curve in judged.curves.values()),
    ]


def main() -> None:
    """Print the lines of each scenario asked for as soon as they are known, and what all of them come to."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    words.add_argument("--clubs", type=int, default=16)
    words.add_argument("--first", type=int, default=0)
    words.add_argument("--scenario", action="append")
    words.add_argument("--markdown", action="store_true")
    asked = words.parse_args()
    found: list[Judged] = []
    if asked.markdown:
        _say(MARKDOWN)
    with ProcessPoolExecutor(2) as both:
        for scenario in SCENARIOS:
            if asked.scenario is None or scenario.name in asked.scenario:
                # A club without any use recorded has one cycle or none, so there are many of them.
                clubs = asked.clubs * (UNRECORDED if scenario.unrecorded else 1)
                judged = judge(scenario, range(asked.first, asked.first + clubs), both.map)
                found.append(judged)
                for row in judged.rows:
                    texts = cells(judged, row)
                    _say("| " + " | ".join(texts) + " |" if asked.markdown else "  ".join(texts))
    for line in _all(found):
        _say(line)


def _all(found: list[Judged]) -> list[str]:
    """Return what all scenarios come to, by promise."""
    lines = [""]
    for rows in zip(*(judged.rows for judged in found), strict=True):
        plan, oracle = together([row.plan for row in rows]), together([row.oracle for row in rows])
        curves = [
            [together(some) for some in zip(*(judged.curves[rule] for judged in found), strict=True)]
            for rule in (AVERAGE, FIXED)
        ]
        average, fixed = (_less(saving(plan.cost, as_good(curve, plan.share.value))) for curve in curves)
        lines.append(
            f"- All supplies, {rows[0].wanted:.0%} promised: {_share(plan)} % of {plan.cycles} cycles kept, by the "
            f"oracle {_share(oracle)}; one setting for the whole drawer that keeps as much: {average} less stock and "
            f"waste than by average use, {fixed} less than by a fixed minimum."
        )
    return lines


def _share(kept: Kept) -> str:
    return f"{100 * kept.share.value:.1f} ± {100 * kept.share.error:.1f}{'' if kept.share.met else '!'}"


def _money(kept: Kept) -> str:
    return f"{kept.stock / 100:.2f} + {kept.waste / 100:.2f}"


def _less(part: float | None) -> str:
    return "-" if part is None else f"{part:.0%}" + ("" if part >= LESS else "!")


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
