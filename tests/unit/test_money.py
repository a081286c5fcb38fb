"""Sums of money: exact, in one currency, with the digits of ISO 4217."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.errors import Refused
from collection.quantity import Money, minor_digits, parse_money

CURRENCIES = st.sampled_from(["EUR", "USD", "JPY", "KWD"])


# ISO 4217 list one, column "minor unit", as a published copy of the list shows it.
@pytest.mark.parametrize(
    ("currency", "digits"),
    [
        ("EUR", 2),
        ("USD", 2),
        ("GBP", 2),
        ("JPY", 0),
        ("KRW", 0),
        ("ISK", 0),
        ("KWD", 3),
        ("TND", 3),
        ("MGA", 2),
    ],
)
def test_digits_of_a_currency_against_iso_4217(currency: str, digits: int) -> None:
    """Yen have no cents, Kuwaiti dinars three digits, most currencies two."""
    assert digits == minor_digits(currency)


@pytest.mark.parametrize("code", ["eur", "EU", "EURO", "", "€", "E R"])
def test_a_currency_that_is_no_code_of_three_capitals_is_refused(code: str) -> None:
    """Signs and names of currencies are not codes."""
    with pytest.raises(Refused, match="is not three capital letters"):
        minor_digits(code)


@pytest.mark.parametrize(
    ("text", "currency", "minor", "shown"),
    [
        ("18", "EUR", 1800, "18.00"),
        ("18.5", "EUR", 1850, "18.50"),
        ("0.05", "EUR", 5, "0.05"),
        ("-3.20", "EUR", -320, "-3.20"),
        ("1800", "JPY", 1800, "1800"),
        ("1.234", "KWD", 1234, "1.234"),
    ],
)
def test_a_sum_is_kept_in_minor_units_and_shown_with_all_its_digits(
    text: str, currency: str, minor: int, shown: str
) -> None:
    """18 euro are 1800 cents and read 18.00."""
    money = parse_money(text, currency)

    assert (Money(minor, currency), shown) == (money, money.text)


@pytest.mark.parametrize(("text", "currency"), [("18.005", "EUR"), ("18.000", "EUR"), ("1800.0", "JPY")])
def test_more_digits_than_the_currency_has_are_refused(text: str, currency: str) -> None:
    """A third digit after the point of a euro is more likely a thousands mark than a tenth of a cent."""
    with pytest.raises(Refused, match=f"^{text} {currency} has too many digits"):
        parse_money(text, currency)


@pytest.mark.parametrize(
    ("text", "kept"), [("999999999999.99", True), ("1000000000000", True), ("-1000000000000.01", False)]
)
def test_a_sum_beyond_what_the_book_can_add_up_is_refused(text: str, kept: bool) -> None:
    """A thousand thousand millions are kept, above that no column could hold the total."""
    if kept:
        assert parse_money(text, "EUR").text.startswith(text)
        return
    with pytest.raises(Refused, match=f"^{text} EUR is more than can be kept. Type a smaller amount.$"):
        parse_money(text, "EUR")


def test_different_currencies_are_never_added() -> None:
    """Without a stated rate there is no sum."""
    with pytest.raises(Refused, match="EUR and USD cannot be added without a stated rate"):
        Money(1, "EUR") + Money(1, "USD")


@given(st.integers(-(10**9), 10**9), st.integers(-(10**9), 10**9), CURRENCIES)
def test_sums_of_one_currency_are_exact(a: int, b: int, currency: str) -> None:
    """Cents add as whole numbers."""
    assert Money(a + b, currency) == Money(a, currency) + Money(b, currency)


@given(st.integers(-(10**12), 10**12), CURRENCIES)
def test_a_shown_sum_reads_back_as_itself(minor: int, currency: str) -> None:
    """What is written to a file comes back to the cent."""
    assert Money(minor, currency) == parse_money(Money(minor, currency).text, currency)
