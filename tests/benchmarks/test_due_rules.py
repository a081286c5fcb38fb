"""How long the rules of the due list take, without any database: run by hand, with `pytest tests/benchmarks`.

Floor: a bare loop over the same units and procedures that looks up when each was last done and compares text.
Measured on a two-core machine: 19 to 25 bare loops, 0.2 to 0.3 s.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from time import process_time

from collection.analysis.schedule import ProcedureRule, UnitFacts, due_list, parse_procedure

TODAY = date(2026, 11, 25)
RULES = [parse_procedure(n, f"procedure {n}", applies_to="drive", every_months=10 + n) for n in range(12)]


def test_ten_thousand_units_take_at_most_40_times_a_bare_loop_and_grow_in_proportion() -> None:
    """Twelve procedures on ten thousand units cost 40 bare loops at most, and ten times a tenth within a third."""
    units = _units(10_000)
    large = _least(lambda: due_list(units, RULES, TODAY))
    small = _least(lambda: due_list(units[:1000], RULES, TODAY))
    floor = _least(lambda: _bare(units, RULES))
    figures = f"{large:.3f} s, {large / floor:.1f} x a bare loop, {large / small:.1f} x a tenth of the units"
    print(figures)  # noqa: T201  a benchmark tells its figures

    assert large <= 40 * floor
    assert large <= 10 * small * 4 / 3


def _units(n: int) -> list[UnitFacts]:
    """Return so many drives of 200 models, each procedure last done on some day of the past 400."""
    drawn = random.Random(1)
    return [
        UnitFacts(
            i,
            f"D{i}",
            "drive",
            "belt",
            "Kestrel",
            f"Rotor {i % 200}",
            last_done={r.id: (TODAY - timedelta(days=drawn.randrange(400))).isoformat() for r in RULES},
        )
        for i in range(n)
    ]


def _bare(units: Sequence[UnitFacts], rules: Sequence[ProcedureRule]) -> int:
    """Return how many of all procedures were last done before this year."""
    return sum(unit.last_done.get(rule.id, "") < "2026" for unit in units for rule in rules)


def _least(run: Callable[[], object]) -> float:
    """Return the least processor time of five runs, in seconds."""
    times = []
    for _ in range(5):
        start = process_time()
        run()
        times.append(process_time() - start)
    return min(times)
