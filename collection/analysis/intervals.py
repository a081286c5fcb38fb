"""Whether a procedure comes round too often or too seldom, from how units came in as found.

The results of the units of a class are put together and held against the share that is wanted within limits at the end
of the interval (1 less the accepted risk). Units come in at all times, so pass and fail are weighed by the months since
the procedure was done last: units are lost at one rate a month, and the bounds of that rate are those that make the
number found outside as small, or as large, as the chance allows. Where all come in after the same time these are the
exact binomial bounds of C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404-413. Numbers tell more: the place
between the limits, in proportion to the months, has a normal distribution with the prior 1/spread, whose one-sided
bounds are the classical tolerance limits. ILAC-G24:2022 / OIML D 10:2022, clause 6, has such ways as method 5, "other
statistical approaches" (headings read, text from memory). Nothing here changes an interval.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, exp, floor, lgamma, log, log1p
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

LONGER, SHORTER, SAME, TOO_LITTLE = ("longer", "shorter", "same", "too little")
BY_COUNTS, BY_NUMBERS = "counts", "numbers"
ASSURANCE = 0.95

# All four: common practice, no source.
LEAST_STEP, LONGEST_STEP, SHORTEST_STEP = 1.25, 1.5, 0.5  # a change is of a quarter at least, and of a half at most
_SEEN_BY = 5  # nothing is trusted further than a quarter beyond the time after which so many visits were seen
_LEAST_NUMBERS, _LEAST_UNITS = 6, 3  # before a spread is believed
_NEAR = 0.5  # numbers of visits before half of the interval would be drawn out too far

_DRAWS = 4000
_MOST_NEEDED = 500
_FINENESS = 2  # visits are put together by half months
_LEAST_RATE, _MOST_RATE = 1e-9, 100.0  # lost a month


class Visit(NamedTuple):
    """How a unit came in, so many months after a procedure was done on it last.

    within: all that was read as found was within limits.
    """

    unit_id: int
    months: float
    within: bool


class Place(NamedTuple):
    """A number read as found, by where it lay between its limits: -1 on the lower one, 1 on the upper one.

    of: which measurement and point, as one word.
    """

    of: str
    unit_id: int
    months: float
    at: float


class Tally(NamedTuple):
    """How many visits found all within limits, whenever they were.

    low, high: the exact 95 % interval of the share. units: different ones. months: of the visit in the middle, 0
    without one. end_low, end_high: the 95 % interval of the share within at the end of the interval.
    """

    within: int
    came: int
    low: float
    high: float
    units: int
    months: float
    end_low: float
    end_high: float


@dataclass(frozen=True, slots=True)
class Proposal:
    """What to make of an interval.

    what: LONGER, SHORTER, SAME or TOO_LITTLE. months: the one proposed, as it is unless longer or shorter. sure: for
    how many months the share within is surely as wanted. by: BY_COUNTS or BY_NUMBERS, what says so. needed: how many
    more must come in within limits at the end of the interval, and none outside, before a longer one is proposed by
    counts; None where something is proposed, or far off.
    """

    what: str
    months: int
    sure: int
    by: str
    tally: Tally
    needed: int | None


def propose(
    visits: Sequence[Visit], places: Sequence[Place], every_months: int, risk: float, *, all_numbers: bool
) -> Proposal:
    """Return what the results of one class say of an interval of so many months.

    risk: the accepted share outside limits at its end. all_numbers: everything that is judged has a place, so that
    numbers may speak for the whole.
    """
    rates, tally, wanted = _Rates(visits), _tally(visits, every_months), 1 - risk
    lasting = -log(wanted)  # what a rate times its months may come to
    safe, by = _safe(rates, visits, lasting, _safe_by_numbers(places, every_months, wanted) if all_numbers else 0)
    sure = floor(safe)
    if visits and every_months * rates.low(1 - ASSURANCE) > lasting:
        return Proposal(SHORTER, _shorter(lasting / rates.middle(), every_months), sure, BY_COUNTS, tally, None)
    if sure >= LEAST_STEP * every_months:
        return Proposal(LONGER, min(sure, floor(LONGEST_STEP * every_months)), sure, by, tally, None)
    weight = sum(min(1.0, visit.months / every_months) for visit in visits)
    what = SAME if sure >= every_months or weight >= ceil(log(1 - ASSURANCE) / log(wanted)) else TOO_LITTLE
    return Proposal(what, every_months, sure, by, tally, _needed(visits, every_months, lasting))


def _safe(rates: _Rates, visits: Sequence[Visit], lasting: float, numbers: int) -> tuple[float, str]:
    """Return for how many months the share within is surely as wanted, and what says so.

    numbers: for how many the numbers say it; they are believed where what came in agrees with them.
    """
    safe, by = lasting / rates.high(1 - ASSURANCE), BY_COUNTS
    if numbers > safe and numbers * rates.middle() <= lasting:
        safe, by = float(numbers), BY_NUMBERS
    return min(safe, LEAST_STEP * _seen(visits)), by


def share_bounds(within: int, came: int, chance: float) -> tuple[float, float]:
    """Return the exact interval of a share of which `within` of `came` were seen, missed with this chance at most."""
    alike = _Rates([Visit(0, 1.0, place < within) for place in range(came)])
    return (exp(-alike.high(chance / 2)) if within else 0.0), exp(-alike.low(chance / 2))


class _Rates:
    """At which rates a month units may be lost, given how they came in."""

    def __init__(self, visits: Iterable[Visit]) -> None:
        seen = list(visits)
        self._out = sum(not visit.within for visit in seen)
        self._all_out = self._out == len(seen)
        self._times: Mapping[float, int] = Counter(_rounded(visit.months) for visit in seen)

    def high(self, chance: float) -> float:
        """Return the rate above which so few outside would have at most this chance."""
        return _MOST_RATE if self._all_out else _root(lambda rate: chance - self._up_to(rate)[0])

    def is_above(self, rate: float, chance: float) -> bool:
        """Say whether so few outside would have at most this chance at a rate."""
        return self._up_to(rate)[0] <= chance

    def low(self, chance: float) -> float:
        """Return the rate below which so many outside would have at most this chance."""
        return 0.0 if not self._out else _root(lambda rate: 1 - self._up_to(rate)[1] - chance)

    def middle(self) -> float:
        """Return the rate that is as likely too high as too low."""
        return _root(lambda rate: 0.5 - sum(self._up_to(rate)) / 2)

    def _up_to(self, rate: float) -> tuple[float, float]:
        """Return the chances that at most as many as were are found outside, and that fewer are."""
        import numpy as np

        chances = np.ones(1)
        for months, many in self._times.items():
            chances = np.convolve(chances, _binomial(many, -np.expm1(-rate * months), self._out))[: self._out + 1]
        return float(chances.sum()), float(chances[: self._out].sum())


def _rounded(months: float) -> float:
    return max(1, round(months * _FINENESS)) / _FINENESS


@lru_cache(maxsize=256)
def _ways(many: int, most: int) -> Floats:
    """Return the logarithms of in how many ways 0 to `most` of so many can happen."""
    import numpy as np

    some = range(min(many, most) + 1)
    return np.array([lgamma(many + 1) - lgamma(n + 1) - lgamma(many - n + 1) for n in some], dtype=np.float64)


def _binomial(many: int, chance: float, most: int) -> Floats:
    """Return the chances that 0 to `most` of so many happen."""
    import numpy as np

    held = min(chance, 1 - 1e-15)
    ways = _ways(many, most)
    some = np.arange(len(ways))
    chances: Floats = np.exp(ways + some * log(held) + (many - some) * log1p(-held))
    return chances


def _root(rising: Callable[[float], float]) -> float:
    """Return the rate at which a rising function is zero."""
    low, high = log(_LEAST_RATE), log(_MOST_RATE)
    for _ in range(45):
        middle = (low + high) / 2
        low, high = (middle, high) if rising(exp(middle)) < 0 else (low, middle)
    return exp((low + high) / 2)


def _tally(visits: Sequence[Visit], every_months: int) -> Tally:
    within, came = sum(visit.within for visit in visits), len(visits)
    if not came:
        return Tally(0, 0, 0.0, 1.0, 0, 0.0, 0.0, 1.0)
    rates, chance = _Rates(visits), (1 - ASSURANCE) / 2
    ends = (exp(-every_months * rate) for rate in (rates.high(chance), rates.low(chance)))
    units = len({visit.unit_id for visit in visits})
    middle = float(median(visit.months for visit in visits))
    return Tally(within, came, *share_bounds(within, came, 1 - ASSURANCE), units, middle, *ends)


def _seen(visits: Sequence[Visit]) -> float:
    """Return the months after which enough visits were seen."""
    months = sorted((visit.months for visit in visits), reverse=True)
    return months[_SEEN_BY - 1] if len(months) >= _SEEN_BY else 0.0


def _shorter(expected: float, every_months: int) -> int:
    """Return the shorter interval: at least half of what it was, and a month less at least where that can be."""
    least = max(1, ceil(SHORTEST_STEP * every_months))
    return max(least, min(floor(expected), every_months - 1))


def _needed(visits: Sequence[Visit], every_months: int, lasting: float) -> int | None:
    """Return how many more within limits at the end of the interval would allow a longer one by counts."""

    def enough(more: int) -> bool:
        rates = _Rates([*visits, *[Visit(0, every_months, True)] * more])
        return rates.is_above(lasting / ceil(LEAST_STEP * every_months), 1 - ASSURANCE)

    needed = bisect_left(range(_MOST_NEEDED), True, key=enough)
    return max(needed, 1) if needed < _MOST_NEEDED else None


def _safe_by_numbers(places: Sequence[Place], every_months: int, wanted: float) -> int:
    """Return for how many months each measurement surely keeps its limits as often as wanted; 0 if one says too little.

    Drift goes on straight: in twice the time a unit goes twice as far.
    """
    of: dict[str, list[Place]] = defaultdict(list)
    for place in places:
        of[place.of].append(place)
    return min((_one_measurement(group, every_months, wanted) for _, group in sorted(of.items())), default=0)


def _one_measurement(group: Sequence[Place], every_months: int, wanted: float) -> int:
    near = [place for place in group if place.months >= _NEAR * every_months]
    if len(near) < _LEAST_NUMBERS or len({place.unit_id for place in near}) < _LEAST_UNITS:
        return 0
    import numpy as np

    from collection.analysis.distributions import normal_cdf

    a_month, many = np.array(sorted(place.at / place.months for place in near)), len(near)
    dice = np.random.default_rng(many)
    spread = a_month.std(ddof=1) * np.sqrt((many - 1) / dice.chisquare(many - 1, _DRAWS))
    middle = a_month.mean() + spread / np.sqrt(many) * dice.standard_normal(_DRAWS)
    spread = np.maximum(spread, 1e-9)
    months = np.arange(1, 2 * every_months + 1)[:, None]
    within = normal_cdf((1 / months - middle) / spread) - normal_cdf((-1 / months - middle) / spread)
    holds = np.quantile(within, 1 - ASSURANCE, axis=1) >= wanted
    return len(holds) if holds.all() else int(np.argmin(holds))
