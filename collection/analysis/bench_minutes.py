"""How long each procedure takes at the bench: by the services of the past where enough tell, else by its sheet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from statistics import median
from typing import NamedTuple

# Where neither a sheet nor enough services tell, and for a plain look: common practice, no source.
ASSUMED_MINUTES = 30
ENOUGH = 5  # services from which on their median counts


class Minutes(NamedTuple):
    """Minutes of one procedure; services: how many told it, 0 for its sheet. assumed: not even that told it."""

    minutes: int
    services: int
    assumed: bool


def minutes_told(
    sheets: Mapping[int, int | None], services: Iterable[tuple[int, tuple[int, ...]]]
) -> dict[int, Minutes]:
    """Return the minutes of every procedure by id.

    sheets: minutes by the sheet of each, None where it says none. services: the minutes of a service and the
    procedures done in it. Of a service with several procedures each has its share by the sheets; where one of those
    says none, or says no time at all, the service tells nothing. From ENOUGH services on the median counts, rounded.
    """
    told: defaultdict[int, list[float]] = defaultdict(list)
    for minutes, done in services:
        parts = [1] if len(done) == 1 else [sheets.get(each) or 0 for each in done]
        if minutes > 0 and all(parts):
            for each, part in zip(done, parts, strict=True):
                told[each].append(minutes * part / sum(parts))
    return {each: _of_one(sheet, told[each]) for each, sheet in sheets.items()}


def _of_one(sheet: int | None, told: list[float]) -> Minutes:
    if len(told) >= ENOUGH:
        return Minutes(max(1, round(median(told))), len(told), assumed=False)
    return Minutes(ASSUMED_MINUTES, 0, assumed=True) if sheet is None else Minutes(sheet, 0, assumed=False)
