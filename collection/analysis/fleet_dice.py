"""Seeded chance that gives the same numbers under every Python version, and days counted from today."""

from __future__ import annotations

import math
import random
import re
from collections.abc import Sequence
from typing import TypeVar

from collection.errors import Refused

T = TypeVar("T")

_RELATIVE = re.compile(r"today(?P<days>[+-][0-9]{1,5})?(?:/(?:month|quarter|year))?", re.ASCII)


class Dice:
    """One stream of random numbers, named by its seed.

    Built on `random()` alone: of the standard generator only that is promised to give the same sequence under
    later versions.
    """

    def __init__(self, seed: str) -> None:
        self._random = random.Random(seed).random  # noqa: S311  invented data, no secrets

    def chance(self, probability: float) -> bool:
        """Say yes with this probability."""
        return self._random() < probability

    def whole(self, least: int, most: int) -> int:
        """Return a whole number from `least` to `most`, both included."""
        return least + int(self._random() * (most - least + 1))

    def pick(self, items: Sequence[T]) -> T:
        """Return one of the items."""
        return items[self.whole(0, len(items) - 1)]

    def normal(self, mean: float, sd: float) -> float:
        """Return a normal number (Box and Muller 1958, from memory)."""
        radius = math.sqrt(-2 * math.log(1 - self._random()))
        return mean + sd * radius * math.cos(2 * math.pi * self._random())


def days_from_today(text: str) -> int:
    """Return the days that "today-420" or "today-900/month" lies after today (negative: before)."""
    match = _RELATIVE.fullmatch(text)
    if match is None:
        raise Refused(f'"{text}" is not a day of the demo.', "Write it as today-420.")
    return int(match["days"] or 0)


def day_text(days: int) -> str:
    """Return the text of a day so many days after today (negative: before)."""
    return f"today{days:+d}"
