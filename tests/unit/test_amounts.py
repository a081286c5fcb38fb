"""Amounts as people type them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from collection.acts.amounts import Amount, read_amount
from collection.analysis.shelf_life import SupplyFacts
from collection.errors import Refused
from collection.views.supplies import Supply

ALCOHOL = Supply(1, "isopropyl", "solvent", "ml", Decimal("0.1"), "count", Decimal("0.7855"), SupplyFacts())
SWAB = Supply(2, "swab", "swab", "piece", Decimal(1), "count", None, SupplyFacts())


@pytest.mark.parametrize(
    ("supply", "text", "expected"),
    [
        (ALCOHOL, "2.5", Amount(25, "2.5", "ml")),
        (ALCOHOL, "2.5 ml", Amount(25, "2.5", "ml")),
        (ALCOHOL, " 2.5ml ", Amount(25, "2.5", "ml")),
        (ALCOHOL, "1 l", Amount(10_000, "1", "l")),
        (ALCOHOL, "7.855 g", Amount(100, "7.855", "g")),
        (ALCOHOL, "1 US fl oz", Amount(296, "1", "US fl oz")),  # 29.57353 ml: NIST SP 811, B.8
        (ALCOHOL, "1 imp fl oz", Amount(284, "1", "imp fl oz")),  # 28.41306 ml: NIST SP 811, B.8
        (ALCOHOL, "+3", Amount(30, "3", "ml")),
        (SWAB, "2", Amount(2, "2", "piece")),
        (SWAB, "2 piece", Amount(2, "2", "piece")),
        (SWAB, "3 packs", Amount(150, "3", "packs of 50 pieces")),
        (SWAB, "1 pack", Amount(50, "1", "packs of 50 pieces")),
    ],
)
def test_an_amount_is_a_number_and_maybe_a_unit(supply: Supply, text: str, expected: Amount) -> None:
    """The supply's own unit where none is named; converted amounts are rounded to a step, and kept as typed."""
    assert expected == read_amount(supply, text, 50)


@pytest.mark.parametrize(
    ("supply", "text", "words"),
    [
        (ALCOHOL, "", '"" is no amount of "isopropyl". Type a number and a unit, as "2.5 ml".'),
        (ALCOHOL, "some", '"some" is no amount of "isopropyl". Type a number and a unit, as "2.5 ml".'),
        (SWAB, "two", '"two" is no amount of "swab". Type a number and a unit, as "2 piece".'),
        (ALCOHOL, "1,5", '"1,5" is not a number: write digits, a sign, a decimal point. Type "1.5" if that is meant.'),
        (ALCOHOL, "-1", '-1 of "isopropyl": an amount is above zero. Type it without a minus.'),
        (ALCOHOL, "0", '0 of "isopropyl": an amount is above zero. Type it without a minus.'),
        (ALCOHOL, "0.05", "0.05 ml is not a whole number of steps of 0.1 ml. Type a multiple of 0.1."),
        (SWAB, "1.5", "1.5 piece is not a whole number of steps of 1 piece. Type a multiple of 1."),
        (ALCOHOL, "1 oz", 'Unit "oz" may be a mass, a US or an imperial volume.'),
        (SWAB, "1 g", "g cannot become piece: mass is not pieces. Give the value in piece."),
        (ALCOHOL, "2 pieces", "piece cannot become ml: pieces is not volume. Give the value in ml."),
        (ALCOHOL, "2 drops", 'Unit "drops" is not known.'),
        (ALCOHOL, "0.01 mg", '0.01 mg of "isopropyl" is less than half its smallest step, 0.1 ml.'),
        (SWAB, "1.5 packs", '1.5 packs of "swab": packs are whole. Type whole packs, or the amount itself.'),
    ],
)
def test_what_is_no_amount_is_refused_in_words(supply: Supply, text: str, words: str) -> None:
    """Each refusal names what was typed and what to type."""
    with pytest.raises(Refused) as refusal:
        read_amount(supply, text, 50)

    assert words in str(refusal.value)


def test_a_count_may_find_nothing_but_never_less() -> None:
    """Zero is an amount only of a count."""
    assert Amount(0, "0", "ml") == read_amount(ALCOHOL, "0", zero=True)
    with pytest.raises(Refused, match="an amount is zero or more"):
        read_amount(ALCOHOL, "-0.1", zero=True)


def test_packs_need_to_be_known() -> None:
    """Without an offer nobody knows what a pack holds, and the refusal says so."""
    with pytest.raises(Refused, match=r'How much one pack of "swab" holds is not known'):
        read_amount(SWAB, "2 packs")
