"""Codes of currencies against the published lists, and what is said of one that is none."""

from __future__ import annotations

import pytest

from collection.analysis.currencies import CURRENT, HISTORIC, is_currency, refuse_unknown_currency
from collection.errors import Refused
from collection.quantity import minor_digits


# ISO 4217:2015, list one and list three, as published copies of them show it.
@pytest.mark.parametrize("code", ["EUR", "USD", "GBP", "JPY", "ZWG", "XCG", "XXX", "XTS", "XAU", "DEM", "FRF", "ANG"])
def test_a_currency_of_today_or_of_the_past_is_known(code: str) -> None:
    """An old unit was paid for in what there was; XXX and XTS stand in the list too."""
    refuse_unknown_currency(code)
    assert is_currency(code)


def test_the_lists_hold_codes_of_three_capitals_each_once() -> None:
    """Funds in which no amounts are counted are in neither list."""
    assert not CURRENT & HISTORIC
    assert (175, 128) == (len(CURRENT), len(HISTORIC))
    assert {0, 2, 3} == {minor_digits(code) for code in CURRENT | HISTORIC}
    assert not {"CLF", "UYI", "UYW"} & (CURRENT | HISTORIC)


@pytest.mark.parametrize(
    ("code", "says"),
    [
        ("ERU", "Nearest: EUR, ERN, MRU."),
        ("EURO", "Nearest: EUR, MUR, RUR."),
        ("UDS", "Nearest: USD, UZS, UGS."),
        ("GBR", "Nearest: GBP."),
        ("CLF", "Nearest: CDF, CHF, CLP."),
        ("XYZ", "Type three capitals, as EUR."),
        ("EU", "Type three capitals, as EUR."),
        ("eur", "Type three capitals, as EUR."),
        ("", "Type three capitals, as EUR."),
    ],
)
def test_what_is_no_code_is_refused_with_those_that_look_like_it(code: str, says: str) -> None:
    """Letters in another order, or one letter amiss; those of today come first."""
    with pytest.raises(Refused) as refusal:
        refuse_unknown_currency(code)
    assert f'"{code}" is not the code of a currency (ISO 4217). {says}' == str(refusal.value)
    assert not is_currency(code)
