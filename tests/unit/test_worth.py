"""Bases of value, and sums of worth that keep currencies apart."""

from datetime import date

import pytest

from collection.analysis.worth import BASES, Total, age_in_days, basis_word, show_age, totals
from collection.errors import Refused
from collection.quantity import Money


def test_currencies_are_summed_apart_and_each_by_basis() -> None:
    """The greatest basis first; the parts add up to the sum, in minor units, exactly."""
    found = totals(
        [
            (Money(1050, "EUR"), "market"),
            (Money(9900, "EUR"), "replacement"),
            (Money(500, "JPY"), "market"),
            (Money(1, "EUR"), "market"),
        ]
    )

    assert found == [
        Total(Money(10951, "EUR"), 3, (("replacement", Money(9900, "EUR"), 1), ("market", Money(1051, "EUR"), 2))),
        Total(Money(500, "JPY"), 1, (("market", Money(500, "JPY"), 1),)),
    ]
    assert [] == totals([])


def test_a_basis_is_one_of_six_words() -> None:
    """The ways of valuing of the Spectrum standard's valuation procedure, in own words; a near miss is named."""
    assert list(BASES) == [basis_word(f" {word.upper()} ") for word in BASES]
    with pytest.raises(Refused, match='"guess" is none') as refused:
        basis_word("guess")
    assert "replacement, market, agreed" in refused.value.hint
    with pytest.raises(Refused) as near:
        basis_word("replacment")
    assert "Nearest: replacement." == near.value.hint


@pytest.mark.parametrize(
    ("valued_on", "days"), [("2026-03-01", 0), ("2026-02-28", 1), ("2026-02", 28), ("2026", 59), ("2024", 790)]
)
def test_the_age_of_a_valuation_counts_from_the_first_day_it_can_mean(valued_on: str, days: int) -> None:
    """A valuation known to its year only may be as old as New Year's Day."""
    assert days == age_in_days(valued_on, date(2026, 3, 1))


@pytest.mark.parametrize(
    ("days", "shown"),
    [(0, "0 days"), (1, "1 day"), (60, "60 days"), (61, "2 months"), (730, "23 months"), (731, "2 years")],
)
def test_an_age_is_said_in_the_unit_a_person_would_use(days: int, shown: str) -> None:
    """Days, then months, then years; the month is a twelfth of 365.25 days."""
    assert shown == show_age(days)
