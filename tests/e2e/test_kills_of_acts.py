"""An act of any kind that is killed is in the book as a whole or not at all, on both databases.

An ordinary run kills a few of them, SPINDLEBOOK_KILLS=500 every kind several times.
"""

from __future__ import annotations

from collections import Counter
from itertools import cycle
from pathlib import Path

import pytest

from tests.support.kills import KILLS, Children, Died, spread
from tests.support.whole_acts import Acts, Lender

pytestmark = pytest.mark.kills

EACH = 3 * KILLS // 10  # kills on each database


def test_a_killed_act_of_any_kind_is_there_as_a_whole_or_not_at_all(
    forks: Children, lend: Lender, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """The book is just as before the act or just as after it; the same act again, or the next one, works."""

    def kill(lines: list[list[str]], since: str, wait: float) -> Died:
        return forks.kill(lines, at=1, since=since, wait=wait)

    acts = Acts(forks, lend, tmp_path, request.node.name)
    kinds, deaths = set(), Counter[str]()
    moments = zip(cycle(("write", "commit", "begin")), spread(request.node.name, EACH), strict=False)
    for (since, fraction), name in zip(moments, acts.each(), strict=False):
        died = acts.disturbed(name, kill, since, fraction)
        kinds.add(name)
        deaths[_kind(died)] += 1
    print(f"{EACH} kills of {len(kinds)} kinds of act: {dict(deaths)}")  # noqa: T201  the count of a long run
    assert deaths.total() == EACH
    assert deaths["in an open transaction"] > 0


def _kind(died: Died) -> str:
    if died.in_writing:
        return "in an open transaction"
    return "acknowledged" if died.acknowledged else "before or after its transaction"
