"""When a measurement of a unit is to be read again, and by which rule.

The rules, in their order: limits breached (now), the shortest interval, the accepted risk, twice the span observed,
the longest interval. The chance of lying outside the limits is the forecast of the true value held against them (a
conformance probability in the sense of JCGM 106:2012, carried forward in time); the span bounds how far a straight line
is trusted beyond the readings it was drawn through. Intervals count from the last reading.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from collection.errors import Refused
from collection.quantity import show_day

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Days = npt.NDArray[np.datetime64]
    Bools = npt.NDArray[np.bool_]
    Ints = npt.NDArray[np.int64]
    Chance = Callable[[Ints, Floats], Floats]

LIMIT, SHORTEST, RISK, SPAN, LONGEST = RULES = ("limit", "shortest", "risk", "span", "longest")

USUAL_RISK = 0.10
LEAST_RISK, MOST_RISK = 0.001, 0.5
# Without a procedure that names its months: common practice, no source.
USUAL_LONGEST = 24
# The shortest interval is this part of the longest, and one month at least: common practice, no source.
_SHORTEST_PART = 4
_TIMES_SPAN = 2


def intervals(every_months: int | None) -> tuple[int, int]:
    """Return the shortest and the longest interval in months, for a procedure that is done every so many."""
    longest = every_months or USUAL_LONGEST
    return max(1, longest // _SHORTEST_PART), longest


def check_risk(risk: float) -> float:
    """Return an accepted risk (a chance, not per cent) that can be kept; Refused outside 0.1 to 50 %."""
    if not LEAST_RISK <= risk <= MOST_RISK:
        raise Refused(
            f"An accepted risk of {show_risk(risk)} is outside {LEAST_RISK * 100:g} to {show_risk(MOST_RISK)}.",
            "Type it as 10%.",
        )
    return risk


def parse_risk(text: str) -> float:
    """Return the accepted risk that a text spells ("10%", "2.5 %", "0.1"), as a chance."""
    number = text.strip()
    try:
        risk = float(number.removesuffix("%")) / (100 if number.endswith("%") else 1)
    except ValueError:
        raise Refused(f'"{text}" is not a risk.', "Type it as 10%.") from None
    return check_risk(risk)


def show_risk(risk: float) -> str:
    """Return a risk as a person reads it: "10 %"."""
    return f"{risk * 100:g} %"


def because(rule: str, every_months: int | None, outside: str, breached: str, risk: float) -> str:
    """Return why a day is the one, in words that name the rule.

    every_months: of the procedure that reads it without setting it, None without one. outside: what it is to break its
    limits ("outside 295.5 to 304.5 r/min"). breached: what lies so at the last reading ("corrected level 304.9 r/min").
    """
    shortest, longest = map(_months, intervals(every_months))
    words = {
        LIMIT: f"{breached} is {outside}",
        SHORTEST: f"shortest interval, more than {show_risk(risk)} risk of being {outside} by then",
        RISK: f"{show_risk(risk)} risk of being {outside} by then",
        SPAN: f"readings trusted for twice their span, {shortest} at least",
        LONGEST: f"longest interval, {longest}",
    }
    return words[rule]


def sentence(what: str, day: date, rule: str, why: str, day_form: str = "long") -> str:
    """Return when something is to be read again, and why: "spindle speed: recheck by 14 May 2026, ..."."""
    when = "now" if rule == LIMIT else f"by {show_day(day.isoformat(), day_form)}"
    return f"{what}: recheck {when}, {why}"


def _months(n: int) -> str:
    return f"{n} month" if n == 1 else f"{n} months"


def recheck_all(
    first_read: Days, last_read: Days, every_months: Ints, breached: Bools, chance: Chance, today: date, risk: float
) -> tuple[Days, Ints]:
    """Return for many series the days by which they are read again, and the places in RULES of the rules that set them.

    One element per series: first_read, last_read of its present segment; every_months, 0 where no procedure names
    any; breached, its limits are, at the last reading. chance: of being outside, of the series at these places, so
    many days after the last reading of each; NaN where nothing is known. risk: the accepted chance.
    """
    import numpy as np

    longest = np.where(every_months > 0, every_months, USUAL_LONGEST)
    by_shortest = _add_months(last_read, np.maximum(1, longest // _SHORTEST_PART))
    by_longest = _add_months(last_read, longest)
    by_span = np.maximum(last_read + _TIMES_SPAN * (last_read - first_read), by_shortest)
    least, most = ((day - last_read).astype(np.float64) for day in (by_shortest, np.minimum(by_span, by_longest)))
    after = _risk_days(chance, least, most, risk)
    known = np.isfinite(after)
    by_risk = last_read + np.where(known, after, 0).astype("timedelta64[D]")
    now = np.full(last_read.shape, np.datetime64(today, "D"))
    rule = np.select([breached, after <= least, known, by_span < by_longest], [0, 1, 2, 3], 4)
    return np.choose(rule, [now, by_shortest, by_risk, by_span, by_longest]), rule


def _risk_days(chance: Chance, shortest: Floats, latest: Floats, risk: float) -> Floats:
    """Return after how many days the chance of being outside passes a risk for the first time; NaN where it does not.

    What lies before the shortest interval is given as any day up to it, what lies after `latest` is not looked for.
    Between the two the chance is taken to pass the risk once: the day is found by halving.
    """
    import numpy as np

    everyone = np.arange(len(latest))
    day = np.where(chance(everyone, latest) > risk, latest, np.nan)
    for early in (shortest, np.zeros(len(latest))):
        day = np.where(chance(everyone, early) > risk, early, day)
    between = np.flatnonzero(day > shortest)
    low, high = shortest[between], day[between]
    while (high - low > 1).any():
        middle = np.floor((low + high) / 2)
        above = chance(between, middle) > risk
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    day[between] = high
    return day


def _add_months(days: Days, months: Ints) -> Days:
    """Return the same day of the month so many months on, or that month's last day if it is shorter."""
    import numpy as np

    month = days.astype("datetime64[M]")
    of_month = days - month.astype("datetime64[D]")
    there = month + months.astype("timedelta64[M]")
    last = (there + 1).astype("datetime64[D]") - there.astype("datetime64[D]") - 1
    return np.asarray(there.astype("datetime64[D]") + np.minimum(of_month, last))
