"""What work really takes against its sheet, and which units eat belts."""

from __future__ import annotations

import pytest
from scipy import stats

from collection.analysis.consumption import (
    AS_SHEET,
    LESS,
    MORE,
    NO_SHEET,
    TOO_FEW,
    BeltCount,
    chance_of_as_many,
    eaters,
    taken,
)
from collection.analysis.stock_plan.given import AmountGiven


@pytest.mark.parametrize(
    ("sheet", "uses", "mean", "says"),
    [
        (10.0, 2, 30.0, TOO_FEW),
        (10.0, 3, 30.0, MORE),
        (10.0, 16, 11.7, AS_SHEET),
        (10.0, 16, 12.5, MORE),
        (10.0, 16, 8.6, AS_SHEET),
        (10.0, 16, 8.5, LESS),
        (None, 16, 8.0, NO_SHEET),
    ],
)
def test_a_sheet_is_held_against_the_interval_of_the_mean(
    sheet: float | None, uses: int, mean: float, says: str
) -> None:
    """With a spread of 35 % and sixteen uses the mean is known to 17 %."""
    found = taken(AmountGiven(sheet, uses, uses * mean, 0.35))
    assert found is not None
    assert says == found.says
    assert found.high - found.low == pytest.approx(2 * 1.96 * 0.35 * mean / uses**0.5)


def test_uses_by_the_sheet_alone_tell_nothing() -> None:
    """No use was weighed or counted."""
    assert taken(AmountGiven(10.0)) is None


@pytest.mark.parametrize(
    ("belts", "days", "others", "others_days"), [(2, 900, 3, 9000), (5, 400, 0, 4000), (1, 1, 9, 9)]
)
def test_the_chance_of_so_many_belts_is_that_of_the_negative_binomial(
    belts: int, days: int, others: int, others_days: int
) -> None:
    """Against scipy.stats.nbinom: size others + 1/2, share others_days / all days."""
    expected = stats.nbinom.sf(belts - 1, others + 0.5, others_days / (days + others_days))
    assert chance_of_as_many(belts, days, others, others_days) == pytest.approx(expected)


def test_a_unit_eats_belts_when_the_others_let_expect_far_fewer() -> None:
    """Five in three years where eleven others took one each; two are not enough, nor is one unit alone."""
    others = [BeltCount(1, 1100)] * 11
    assert [True] + [False] * 11 == eaters([BeltCount(6, 1100), *others])
    assert [False] * 12 == eaters([BeltCount(2, 1100), *others])
    assert [False] == eaters([BeltCount(9, 1100)])
    assert [] == eaters([])
