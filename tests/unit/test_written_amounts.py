"""Amounts as people write them in a column "used" or "in stock"."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.analysis.written.amounts import Amount, read_amounts
from collection.quantity import parse_number, unit_of


@pytest.mark.parametrize(
    ("text", "amounts"),
    [
        ("1 bottle 250 ml", [("", "250", "ml", 1)]),
        ("2 bottles of 250ml IPA", [("IPA", "250", "ml", 2)]),
        ("2 x 250 ml", [("", "250", "ml", 2)]),
        ("bottle (250 ml)", [("", "250", "ml", 1)]),
        ("1 tin grease, 100 g", [("grease", "100", "g", 1)]),
        ("box of 50 swabs", [("swabs", "50", "piece", 1)]),
        ("5 ml alcohol, 3 swabs", [("alcohol", "5", "ml", None), ("swabs", "3", "piece", None)]),
        ("0,5 ml oil, 2 swabs", [("oil", "0.5", "ml", None), ("swabs", "2", "piece", None)]),
        ("alcohol: 5 ml; 1 cloth", [("alcohol", "5", "ml", None), ("cloth", "1", "piece", None)]),
        ("2 swabs\n1 belt", [("swabs", "2", "piece", None), ("belt", "1", "piece", None)]),
        ("a swab and two cloths", [("swab", "1", "piece", None), ("cloths", "2", "piece", None)]),
        ("2x belt", [("belt", "2", "piece", None)]),
        ("swabs (3)", [("swabs", "3", "piece", None)]),
        ("swabs x3", [("swabs", "3", "piece", None)]),
        ("5 ml of 99 % alcohol", [("99 % alcohol", "5", "ml", None)]),
        ("1 1/2 l", [("", "1.5", "l", None)]),
        ("½ l", [("", "0.5", "l", None)]),
        ("3 Stück", [("", "3", "piece", None)]),
        ("5", [("", "5", "", None)]),
        ("n/a", []),
        ("", []),
    ],
)
def test_amounts_with_one_meaning_are_read_without_a_doubt(
    text: str, amounts: list[tuple[str, str, str, int | None]]
) -> None:
    """Things, numbers, units and packs; a comma between digits is decimal, any other parts two things."""
    assert [Amount(*amount) for amount in amounts] == read_amounts(text)


@pytest.mark.parametrize(
    ("text", "amount", "says"),
    [
        ("some grease", ("grease", "", "", None), "how much is not said"),
        ("2 drops of oil", ("oil", "", "", None), "how much is not said"),
        ("2-3 swabs", ("swabs", "", "", None), "how much is not said"),
        ("half a bottle", ("half a bottle", "", "", None), "how much is not said"),
        ("belt", ("belt", "", "", None), "how much is not said"),
        ("99 % alcohol", ("99 % alcohol", "", "", None), "how much is not said"),
        ("IPA 99", ("IPA", "99", "piece", None), "read as 99 of it"),
        ("belt lot 3", ("belt lot 3", "", "", None), "how much is not said"),
        ("1 tube", ("", "", "", 1), "what a pack holds is not said"),
        ("1/2 oz", ("1/2 oz", "", "", None), 'Unit "oz" may be a mass'),
        ("1/0 ml", ("1/0 ml", "", "", None), "divides by zero"),
        ("-5 ml", ("-5 ml", "", "", None), "not below zero"),
        ("1.5 x 250 ml", ("1.5 x 250 ml", "", "", None), "not a whole number of packs"),
        ("83mm x 5mm", ("83mm x 5mm", "", "", None), "how much is not said"),
        ("1 belt 83 mm", ("belt 83 mm", "1", "piece", None), '"83 mm" is read as its size'),
        ("3 swabs 5 ml", ("swabs", "5", "ml", 3), "read as 3 packs of 5 ml"),
        ("alcohol, 5 ml", ("alcohol", "5", "ml", None), "read as one"),
        ("ca. 5 ml", ("", "5", "ml", None), "the cell says about"),
        ("1,000 ml", ("", "1000", "ml", None), "between thousands"),
    ],
)
def test_what_an_amount_leaves_open_is_said(text: str, amount: tuple[str, str, str, int | None], says: str) -> None:
    """Nothing is made up: the number stays empty, or the doubt says how it was read."""
    (found,) = read_amounts(text)

    assert amount == found[:4]
    assert says in found.doubt


@given(st.text(alphabet="0123456789.,/x- mlgpcsabofñ½;+()", max_size=20))
def test_every_amount_is_in_the_numbers_and_units_of_the_book(text: str) -> None:
    """No cell crashes the reader; a number parses and its unit is known, or the doubt says why there is none."""
    for amount in read_amounts(text):
        if amount.number:
            assert parse_number(amount.number) >= 0
            assert not amount.unit or unit_of(amount.unit).symbol == amount.unit
        else:
            assert amount.doubt
