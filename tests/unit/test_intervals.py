"""What results as found say of an interval: each rule below, at and above its limit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from collection.analysis.interval_words import METHOD, counted, in_short, needs, sentence
from collection.analysis.intervals import LONGER, SAME, SHORTER, TOO_LITTLE, Place, Proposal, Visit, propose

RISK = 0.1


def by_counts(within: int, came: int, months: float = 12, every: int = 12) -> Proposal:
    """Return what is proposed where so many of so many were within limits, all after the same time."""
    return propose([Visit(n, months, n < within) for n in range(came)], [], every, RISK, all_numbers=False)


def by_numbers(at: list[float], units: int = 99) -> Proposal:
    """Return what is proposed where units were read at these places between their limits after 12 months."""
    places = [Place("speed", number % units, 12.0, each) for number, each in enumerate(at)]
    visits = [Visit(place.unit_id, 12.0, abs(place.at) <= 1) for place in places]
    return propose(visits, places, 12, RISK, all_numbers=True)


@pytest.mark.parametrize(("within", "came"), [(0, 3), (1, 1), (8, 10), (31, 33), (50, 50), (270, 300)])
def test_the_bounds_of_a_share_are_the_exact_ones(within: int, came: int) -> None:
    """Clopper and Pearson (1934), by another library; at the end of the interval likewise, where all come in then."""
    exact = stats.binomtest(within, came).proportion_ci(0.95, "exact")
    tally = by_counts(within, came).tally

    assert (tally.low, tally.high) == pytest.approx((exact.low, exact.high), abs=1e-6)
    assert (tally.end_low, tally.end_high) == pytest.approx((exact.low, exact.high), abs=1e-6)


@pytest.mark.parametrize(
    ("within", "came", "what", "months"),
    [
        (0, 0, TOO_LITTLE, 12),
        (0, 1, TOO_LITTLE, 12),
        (0, 2, SHORTER, 6),
        (3, 5, TOO_LITTLE, 12),
        (2, 5, SHORTER, 6),
        (28, 28, TOO_LITTLE, 12),  # 0.9 to the 28th is above 0.05
        (29, 29, SAME, 12),
        (35, 35, SAME, 12),
        (36, 36, LONGER, 15),
        (50, 55, SAME, 12),
    ],
)
def test_counts_decide_where_chance_alone_cannot_have_made_them(within: int, came: int, what: str, months: int) -> None:
    """Below, at and above each number from which on something is surely so."""
    found = by_counts(within, came)

    assert (found.what, found.months) == (what, months)
    assert (found.needed is None) is (what in (LONGER, SHORTER))


def test_what_is_said_to_be_needed_is_just_enough() -> None:
    """One visit fewer, and nothing longer is proposed."""
    needed = by_counts(20, 20).needed

    assert needed == 16
    assert by_counts(20 + needed, 20 + needed).what == LONGER
    assert by_counts(19 + needed, 19 + needed).what == SAME


@pytest.mark.parametrize(("every", "months"), [(1, 1), (2, 1), (3, 2), (60, 30)])
def test_an_interval_is_never_less_than_halved(every: int, months: int) -> None:
    """However many were outside; one month stays the shortest, and that is said."""
    found = by_counts(0, 20, months=every, every=every)

    assert (found.what, found.months) == (SHORTER, months)
    assert ("none is shorter than 1 month" in sentence(found, every, RISK)) is (every == 1)


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.floats(1, 24), st.booleans()), min_size=1, max_size=25), st.floats(0.1, 1))
def test_the_sooner_units_came_in_within_the_less_is_sure(seen: list[tuple[float, bool]], part: float) -> None:
    """The same results after a part of the time never bear a longer time out."""
    late = propose([Visit(n, *each) for n, each in enumerate(seen)], [], 12, RISK, all_numbers=False)
    soon = [Visit(n, months * part, within) for n, (months, within) in enumerate(seen)]

    # Months are put together by halves, so that two times may come to lie a half month nearer than they were.
    assert propose(soon, [], 12, RISK, all_numbers=False).sure <= late.sure + 1


@pytest.mark.parametrize("many", [6, 10, 40])
def test_numbers_are_judged_by_the_tolerance_limits_of_a_normal_distribution(many: int) -> None:
    """The one-sided factor for 90 % of the units with 95 % assurance, of noncentral t, decides (drawn: 3 % apart)."""
    factor = stats.nct.ppf(0.95, many - 1, stats.norm.ppf(0.9) * np.sqrt(many)) / np.sqrt(many)
    unit = stats.zscore(np.arange(many), ddof=1)

    def sure(times: float) -> int:
        return by_numbers(list(1 - 0.04 * factor * times + 0.04 * unit)).sure

    assert sure(0.95) < 12 <= sure(1.05)


def test_numbers_speak_from_six_readings_of_three_units_on() -> None:
    """One reading, or one unit, fewer and the counts alone decide, which say nothing yet."""
    calm = [0.01, -0.01, 0.02, -0.02, 0.0, 0.01]

    assert by_numbers(calm, 3).what == LONGER
    assert by_numbers(calm[:5], 3).what == TOO_LITTLE
    assert by_numbers(calm, 2).what == TOO_LITTLE


def test_few_good_visits_after_a_short_time_never_make_an_interval_longer() -> None:
    """However steady the numbers: nothing is trusted further than a quarter beyond what was seen."""
    places = [Place("speed", n, 6.0, 0.001 * n) for n in range(9)]
    found = propose([Visit(n, 6.0, True) for n in range(9)], places, 12, RISK, all_numbers=True)

    assert (found.what, found.sure) == (TOO_LITTLE, 7)


def test_a_sound_interval_is_rarely_called_too_long_or_surely_right() -> None:
    """Where just the wanted share lasts, either error happens at most one time in twenty (of 40: 6 at most)."""
    dice = np.random.default_rng(5)
    rate = -np.log(1 - RISK) / 12
    shorter = sure = 0
    for _ in range(40):
        months = dice.uniform(3, 18, 30)
        visits = [Visit(n, float(m), bool(dice.random() < np.exp(-rate * m))) for n, m in enumerate(months)]
        found = propose(visits, [], 12, RISK, all_numbers=False)
        shorter += found.what == SHORTER
        sure += found.sure > 12

    assert (shorter <= 6, sure <= 6) == (True, True)


def test_a_share_is_never_called_certain() -> None:
    """Neither none nor all is said, whatever came in."""
    assert counted(31, 31, 0.888, 1.0) == "31 of 31, 88 % or more"
    assert counted(0, 2, 0.0, 0.8419) == "0 of 2, 85 % or less"
    assert counted(31, 33, 0.797, 0.984) == "31 of 33, 79 to 99 %"
    assert counted(0, 0, None, None) == "none came in"


def test_a_proposal_is_said_with_its_basis_and_its_method() -> None:
    """What is proposed, by what, and of which named method it is."""
    assert sentence(by_counts(36, 36), 12, RISK) == (
        "Longer, 15 months in place of 12 months: by how many were within, surely 90 % last so long"
        " (36 visits of 36 units, most about 12 months after the last time)."
    )
    assert needs(by_counts(20, 20), 12) == "16 more after about 12 months, all within limits, would allow a longer one."
    assert sentence(by_counts(0, 0), 12, RISK) == "Keep 12 months: none came in with anything read as found."
    assert in_short(TOO_LITTLE, 12) == "keep, too little to say"
    assert "ILAC-G24:2022 / OIML D 10:2022, clause 6, that is method 5" in METHOD
