"""Readings, numbers, standings and kinds as people write them.

Published figures that a reading's unit must lead to: drive specifications print 200 ms and 166.67 ms for a turn at 300
and 360 r/min; a strobe ring of 24 bars stands still at 300 r/min under 60 Hz light (flashes a minute = speed x bars:
a model engineers' table of strobe discs), so that 6 bars a minute are 0.25 r/min.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.analysis.measures import to_measured
from collection.analysis.written.forms import is_blank, plain_number
from collection.analysis.written.values import (
    read_drive_type,
    read_kind,
    read_number,
    read_reading,
    read_standing,
)
from collection.errors import Refused
from collection.quantity import parse_number


@pytest.mark.parametrize(
    ("text", "speed"),
    [
        ("300,2", 300.2),
        ("300.2 rpm", 300.2),
        ("300.2U/min", 300.2),
        ("200 ms", 300.0),
        ("166,667 ms", 359.999),
        ("198.5 msec", 302.267),
        ("+6 bars/min", 300.25),
        ("-6 bars per minute", 299.75),
    ],
)
def test_a_written_reading_becomes_the_speed_that_is_published_for_it(text: str, speed: float) -> None:
    """Speeds, index periods and strobe bars as written go through the program's own conversion."""
    read = read_reading(text)

    measured = to_measured(Decimal(read.value), read.unit, "r/min", 300.0, 60)

    assert speed == pytest.approx(measured, abs=0.0006)


@pytest.mark.parametrize(
    ("text", "reading"),
    [
        ("pass", ("pass", "", "")),
        ("FAIL", ("fail", "", "")),
        ("good", ("pass", "", '"good" is read as pass')),
        ("borderline", ("marginal", "", '"borderline" is read as marginal')),
        ("12.1V", ("12.1", "V", "")),
        ("-11,9 V", ("-11.9", "V", "")),
        ("45 mV pp", ("45", "mVpp", "")),
        ("38 C", ("38", "°C", '"C" is read as °C')),
        ("~300", ("300", "", "the cell says about")),
        ("299.8 ±0.3", ("299.8", "", '"±0.3" is left out')),
        ("300 (hot)", ("300", "", '"(hot)" is left out')),
        ("300,125", ("300.125", "", '"," is read as the decimal comma')),
        ("300.125", ("300.125", "", "")),
    ],
)
def test_readings_are_read_with_their_unit_and_doubt(text: str, reading: tuple[str, str, str]) -> None:
    """The book's own words leave no doubt, any other do."""
    assert reading == read_reading(text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("300-302", "names two values"),
        ("300 to 302 rpm", "names two values"),
        ("300/301", "names two values"),
        ("<5", "is a bound"),
        ("300 furlongs", 'Unit "furlongs" is not known'),
        ("5 oz", 'Unit "oz" may be'),
        ("1.2E5", "is not a reading"),
        ("10⁵", "is not a reading|not known"),
        ("", "is not a reading"),
    ],
)
def test_what_is_no_single_reading_is_refused_in_words(text: str, says: str) -> None:
    """No mean is made up, no bound taken for a value, no exponent dropped."""
    with pytest.raises(Refused, match=says):
        read_reading(text)


@given(st.decimals(min_value=-(10**8), max_value=10**8, places=3), st.sampled_from((".", ",")))
def test_any_number_comes_back_with_point_or_comma(number: Decimal, mark: str) -> None:
    """What is read parses as the book's own number and has the same value."""
    read = read_number(f"{number:f}".replace(".", mark))

    assert number == parse_number(read.value)


@pytest.mark.parametrize(("text", "value"), [(",5", "0.5"), ("\N{MINUS SIGN}3", "-3"), ("1 250,5", "1250.5")])
def test_numbers_in_odd_dress_are_plain_afterwards(text: str, value: str) -> None:
    """A leading comma, a typographic minus, a blank between thousands."""
    assert (value, "") == read_number(text)


@pytest.mark.parametrize("text", ["1 2", "1e5", "12,34,56", "1.25.0", "1,25.000,5", "=1", "٣"])
def test_what_is_no_number_is_refused(text: str) -> None:
    """Groups that are not of three digits, exponents, formulas, digits of other scripts."""
    with pytest.raises(Refused, match="is not a number"):
        plain_number(text)


@pytest.mark.parametrize(
    ("text", "blank"),
    [
        ("", True),
        (" ", True),
        ("-", True),
        ("\N{EM DASH}", True),
        ("n/a", True),
        ("?", True),
        ("0", False),
        ("no", False),
    ],
)
def test_a_cell_that_says_nothing_is_blank(text: str, blank: bool) -> None:
    """Dashes and question marks say nothing; nought and no say something."""
    assert blank == is_blank(text)


@pytest.mark.parametrize(
    ("text", "standing"),
    [
        ("works", "ready"),
        ("dead", "awaiting parts"),
        ("needs belt", "awaiting parts"),
        ("for parts", "donor"),
        ("lent to A. Person", "on loan"),
        ("sold 2020", "gone"),
        ("scrapped", "gone"),
        ("untested", "arrived"),
        ("kaputt", "awaiting parts"),
        ("Ready?", "ready"),
    ],
)
def test_words_for_a_standing_are_read_with_a_doubt(text: str, standing: str) -> None:
    """The doubt repeats the words and what they became."""
    assert (standing, f'"{text}" is read as {standing}') == read_standing(text)


def test_the_standings_known_here_are_those_of_the_book() -> None:
    """Every standing of the book is read as itself without a doubt; other words are refused with all of them."""
    from collection.schema.equipment import STANDINGS

    assert [(standing, "") for standing in STANDINGS] == [read_standing(standing) for standing in STANDINGS]
    with pytest.raises(Refused, match=", ".join(STANDINGS)):
        read_standing("in a box")


def test_the_drive_types_known_here_are_those_of_the_book() -> None:
    """Each is read as itself; "direct drive" alone does not say which; other words are refused."""
    from collection.schema.equipment import DRIVE_TYPES

    assert [(kind, "") for kind in DRIVE_TYPES] == [read_drive_type(kind) for kind in DRIVE_TYPES]
    assert "direct crystal" == read_drive_type("quartz").value
    assert ("unknown", True) == (
        read_drive_type("direct drive").value,
        "crystal" in read_drive_type("direct drive").doubt,
    )
    with pytest.raises(Refused, match="no drive type"):
        read_drive_type("steam")


def test_kinds_of_a_persons_own_stay() -> None:
    """Known words become the book's kinds; others are kept, and said to be."""
    assert ("drive", "") == read_kind("drive")
    assert ("supply unit", '"PSU" is read as supply unit') == read_kind("PSU")
    assert ("printer", '"printer" is taken as a kind of its own') == read_kind("printer")
