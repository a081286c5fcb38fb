"""Prices as people write them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.analysis.written.money import read_price
from collection.errors import Refused
from collection.quantity import parse_money, parse_number


@pytest.mark.parametrize(
    ("text", "amount", "currency"),
    [
        ("35,-", "35", "EUR"),
        ("35.-", "35", "EUR"),
        ("35,\N{EN DASH}", "35", "EUR"),
        ("€ 35", "35", "EUR"),
        ("35,00 €", "35.00", "EUR"),
        ("35 EUR", "35", "EUR"),
        ("EUR35", "35", "EUR"),
        ("1.250,00", "1250.00", "EUR"),
        ("1,250.00", "1250.00", "EUR"),
        ("1'250.00", "1250.00", "EUR"),
        ("1\N{NARROW NO-BREAK SPACE}250,00 €", "1250.00", "EUR"),
        ("1.250.000", "1250000", "EUR"),
        ("35,5", "35.5", "EUR"),
        ("US$ 30", "30", "USD"),
        ("12.50 GBP", "12.50", "GBP"),
        ("free", "0", "EUR"),
        ("0", "0", "EUR"),
    ],
)
def test_a_sum_with_one_meaning_is_read_without_a_doubt(text: str, amount: str, currency: str) -> None:
    """Points, commas, blanks and apostrophes between thousands, dashes for no cents, codes and signs."""
    assert (amount, currency, "") == read_price(text, "EUR")


@pytest.mark.parametrize(
    ("text", "amount", "currency", "says"),
    [
        ("1.250", "1250", "EUR", '"." is read as standing between thousands: 1250'),
        ("1,250", "1250", "EUR", '"," is read as standing between thousands: 1250'),
        ("$12", "12", "USD", '"$" is read as USD'),
        ("12 pounds", "12", "GBP", '"pounds" is read as GBP'),
        ("50p", "0.50", "GBP", '"p" is read as GBP'),
        ("gift", "0", "EUR", '"gift" is read as nothing paid'),
        ("35?", "35", "EUR", "the cell has a question mark"),
        ("about 40", "40", "EUR", "the cell says about"),
        ("35 (with cable)", "35", "EUR", '"(with cable)" is left out'),
        ("12 each", "12", "EUR", '"each" is left out'),
    ],
)
def test_what_is_assumed_of_a_sum_is_said(text: str, amount: str, currency: str, says: str) -> None:
    """One group of three digits, a dollar of no country, and words beside the sum are doubts."""
    assert (amount, currency, says) == read_price(text, "EUR")


@pytest.mark.parametrize("book", ["USD", "CAD", "AUD"])
def test_a_dollar_is_that_of_a_book_kept_in_dollars(book: str) -> None:
    """The book's currency decides what "$" means, without a doubt."""
    assert ("12", book, "") == read_price("$12", book)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("12-15", "not one sum"),
        ("35 + 5 shipping", "not one sum"),
        ("swap", "not one sum"),
        ("12 groats", '"groats" is no currency'),
        ("€ 12 GBP", "names two currencies"),
        ("kr 200", "may be SEK, NOK, DKK, ISK"),
        ("-1", "is below zero"),
        ("35.1234", "too many digits"),
        ("12,34,56", "is not a number"),
        ("-", "not one sum"),
    ],
)
def test_what_is_no_sum_is_refused_in_words(text: str, says: str) -> None:
    """Two sums, unknown and unclear currencies, and sums below zero are never guessed."""
    with pytest.raises(Refused, match=says):
        read_price(text, "EUR")


@given(
    st.decimals(min_value=0, max_value=999999, places=2),
    st.sampled_from(("{:,.2f}", "{:.2f}")),
    st.sampled_from((("", ""), (",.", ".,"), (",.", "'."), (",.", " ,"))),
)
def test_any_sum_with_cents_comes_back_whatever_stands_between_thousands(
    value: Decimal, form: str, marks: tuple[str, str]
) -> None:
    """English, German, Swiss and French writing of the same sum give the same number, which the book reads."""
    text = form.format(value).translate(str.maketrans(*marks))

    price = read_price(text, "EUR")

    assert value == parse_number(price.amount)
    assert parse_money(f"{value:f}", "EUR") == parse_money(price.amount, "EUR")
    assert "" == price.doubt
