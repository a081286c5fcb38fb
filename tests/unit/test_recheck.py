"""When a series is read again: each rule below, at and above its limit, and their order."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.analysis.months import add_months
from collection.analysis.recheck import RULES, because, check_risk, intervals, recheck_all, sentence
from collection.errors import Refused

TODAY = date(2026, 11, 25)
LAST = date(2026, 1, 31)
SHORTEST, LONGEST = date(2026, 4, 30), date(2027, 1, 31)  # 3 and 12 months on; April has no day 31


def decided(*, span: int = 3000, risk: date | None = None, breached: bool = False) -> tuple[date, str]:
    """Return day and rule of a speed that is read every 12 months, last on 31 January 2026.

    span: days from the first reading of its segment to the last. risk: the day on which the risk is passed.
    """
    last = np.array([LAST], dtype="datetime64[D]")
    passed = np.nan if risk is None else (risk - LAST).days
    days, rules = recheck_all(
        last - span,
        last,
        np.array([12]),
        np.array([breached]),
        lambda _, after: np.where(after < passed, 0.1, 0.2) if risk else after * np.nan,
        TODAY,
        0.1,
    )
    return days[0].item(), RULES[rules[0]]


@pytest.mark.parametrize(
    ("risk", "day", "rule"),
    [
        (date(2026, 2, 1), SHORTEST, "shortest"),
        (SHORTEST, SHORTEST, "shortest"),
        (date(2026, 5, 1), date(2026, 5, 1), "risk"),
        (date(2027, 1, 30), date(2027, 1, 30), "risk"),
        (LONGEST, LONGEST, "risk"),
        (date(2027, 2, 1), LONGEST, "longest"),
        (None, LONGEST, "longest"),
    ],
)
def test_the_risk_counts_between_the_shortest_and_the_longest_interval(risk: date | None, day: date, rule: str) -> None:
    """Before the shortest interval nothing is asked for; after the longest the interval decides."""
    assert decided(risk=risk) == (day, rule)


@pytest.mark.parametrize(
    ("span", "day", "rule"),
    [
        (0, SHORTEST, "span"),
        (44, SHORTEST, "span"),
        (45, date(2026, 5, 1), "span"),
        (182, date(2027, 1, 30), "span"),
        (183, LONGEST, "longest"),
    ],
)
def test_a_line_is_trusted_for_twice_the_span_of_its_readings(span: int, day: date, rule: str) -> None:
    """Never less than the shortest interval, never more than the longest."""
    assert decided(span=span) == (day, rule)


def test_of_risk_and_span_the_earlier_decides_and_the_risk_names_a_day_of_both() -> None:
    """A span that ends on 12 June 2026: risk the day before, that day, and the day after."""
    ends = date(2026, 6, 12)
    span = (ends - LAST).days // 2
    found = [decided(span=span, risk=ends + timedelta(days=n)) for n in (-1, 0, 1)]

    assert found == [(ends - timedelta(days=1), "risk"), (ends, "risk"), (ends, "span")]


def test_limits_that_are_breached_come_before_every_other_rule() -> None:
    """Now, even where the shortest interval has not passed."""
    assert decided(breached=True, risk=LAST) == (TODAY, "limit")


def test_every_sentence_names_its_rule() -> None:
    """With the limits where they are what decides, and the interval in months where that is."""
    day, outside = date(2026, 5, 14), "outside 295.5 to 304.5 r/min"
    said = [
        sentence("speed", day, rule, because(rule, 12, outside, "corrected level 304.9 r/min", 0.05)) for rule in RULES
    ]

    assert said == [
        "speed: recheck now, corrected level 304.9 r/min is outside 295.5 to 304.5 r/min",
        (
            "speed: recheck by 14 May 2026, shortest interval, more than 5 % risk of being outside 295.5 to 304.5 r/min"
            " by then"
        ),
        "speed: recheck by 14 May 2026, 5 % risk of being outside 295.5 to 304.5 r/min by then",
        "speed: recheck by 14 May 2026, readings trusted for twice their span, 3 months at least",
        "speed: recheck by 14 May 2026, longest interval, 12 months",
    ]


@pytest.mark.parametrize(
    ("every", "shortest", "longest"), [(None, 6, 24), (1, 1, 1), (7, 1, 7), (8, 2, 8), (12, 3, 12), (60, 15, 60)]
)
def test_the_shortest_interval_is_a_quarter_of_the_longest(every: int | None, shortest: int, longest: int) -> None:
    """One month at least; 24 months where no procedure names any."""
    assert intervals(every) == (shortest, longest)


@pytest.mark.parametrize("risk", [0.0009, 0.501, -0.1, float("nan")])
def test_a_risk_that_no_book_can_have_is_refused(risk: float) -> None:
    """Below 0.1 % and above 50 %, and what is no number."""
    with pytest.raises(Refused, match=r"outside 0\.1 to 50 %"):
        check_risk(risk)


def test_a_risk_at_its_limits_is_taken() -> None:
    """0.1 % and 50 % are inside."""
    assert [check_risk(0.001), check_risk(0.5)] == [0.001, 0.5]


DAYS = st.dates(date(1990, 1, 1), date(2030, 12, 31))
SERIES = st.tuples(
    DAYS, st.integers(0, 3000), st.sampled_from([0, 1, 6, 12, 24, 60]), st.booleans(), st.none() | st.integers(0, 2000)
)


def by_hand(last: date, span: int, every: int, breached: bool, after: int | None) -> tuple[date, str]:
    """Return day and rule of one series, by the calendar and the rules in their order."""
    shortest, longest = (add_months(last, months) for months in intervals(every or None))
    trusted = max(last + timedelta(days=2 * span), shortest)
    risk = None if after is None else last + timedelta(days=after)
    if breached:
        return TODAY, "limit"
    if risk is not None and risk <= shortest:
        return shortest, "shortest"
    if risk is not None and risk <= min(trusted, longest):
        return risk, "risk"
    return (trusted, "span") if trusted < longest else (longest, "longest")


@given(st.lists(SERIES, min_size=1, max_size=20))
def test_many_series_at_once_get_the_days_and_rules_of_each_alone(
    series: list[tuple[date, int, int, bool, int | None]],
) -> None:
    """The arrays follow the same calendar and the same order of rules, and find the day of the risk exactly."""
    lasts, spans, every_months, breaches, afters = zip(*series, strict=True)
    last_read = np.array(lasts, dtype="datetime64[D]")
    passed = np.array([np.nan if after is None else after for after in afters])

    days, rules = recheck_all(
        last_read - np.array(spans),
        last_read,
        np.array(every_months),
        np.array(breaches),
        lambda at, after: np.where(np.isnan(passed[at]), np.nan, np.where(after >= passed[at], 0.2, 0.1)),
        TODAY,
        0.1,
    )

    found = [(day, RULES[rule]) for day, rule in zip(days.tolist(), rules, strict=True)]
    assert found == [by_hand(*one) for one in series]


def test_a_chance_that_comes_down_again_counts_from_the_beginning() -> None:
    """One above the risk at the last reading is rechecked after the shortest interval, though it would be in later."""
    day = np.array(["2026-01-31"], dtype="datetime64[D]")

    days, rules = recheck_all(
        day - 900, day, np.array([12]), np.array([False]), lambda _, after: 0.11 - after / 1000, TODAY, 0.1
    )

    assert (days.tolist(), [RULES[rule] for rule in rules]) == ([SHORTEST], ["shortest"])
