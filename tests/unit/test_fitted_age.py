"""Fitted belts age from the day they were fitted."""

from __future__ import annotations

from datetime import date

import pytest

from collection.analysis.fitted_age import LOOK, PAST, fitted_through, fitted_word
from collection.analysis.shelf_life import Life, SupplyFacts

LIVES = {("polymer", "cr"): Life(84, 36, "B"), ("polymer", "unknown"): Life(60, 24, "A")}
CR = SupplyFacts("belt", polymer="CR")


def _word(part: str, fitted_on: str, supply: SupplyFacts | None, day: date) -> str:
    return fitted_word(fitted_through(part, fitted_on, supply, LIVES), day)


@pytest.mark.parametrize(("day", "word"), [(14, ""), (15, ""), (16, PAST)])
def test_a_belt_is_given_what_its_rubber_is_given_from_fitting_on(day: int, word: str) -> None:
    """Fitted on 15 March 2019, group B: 7 years, the day before, on and after (common practice, no source)."""
    assert word == _word("belt", "2019-03-15", CR, date(2026, 3, day))


def test_of_a_partial_day_the_first_counts_and_what_it_rests_on_is_said() -> None:
    """The cautious reading, as of every day on which something began."""
    found = fitted_through("belt", "2019-03", CR, LIVES)

    assert found is not None
    assert (date(2026, 3, 1), "fitted 2019-03 + 7 years, common practice; B") == (found.through, found.because)


@pytest.mark.parametrize(
    ("part", "supply", "word"),
    [
        ("belt", SupplyFacts("belt"), PAST),  # polymer unknown: the shortest period
        ("roller", SupplyFacts("spare", polymer="CR", shelf_life_months=12), PAST),
        ("Belt", None, LOOK),
        ("belt", SupplyFacts("belt", shelf_life_months=240), ""),
        ("head", None, ""),
        ("board", SupplyFacts("spare"), ""),
    ],
)
def test_only_rubber_ages_so_and_a_donor_s_belt_is_of_unknown_age(
    part: str, supply: SupplyFacts | None, word: str
) -> None:
    """Fitted in 2020 and looked at in 2026; the supply's own shelf life goes before the table."""
    assert word == _word(part, "2020-01-01", supply, date(2026, 3, 1))


def test_a_book_without_a_table_gives_no_date() -> None:
    """Nothing is made up: such a belt is to be inspected."""
    assert LOOK == fitted_word(fitted_through("belt", "2019", CR, {}), date(2026, 3, 1))
