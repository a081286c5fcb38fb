"""Numbers as typed, units of measure and amounts in whole steps."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.errors import Refused
from collection.quantity import (
    UNITS,
    convert,
    from_steps,
    parse_number,
    show_amount,
    show_number,
    to_steps,
    unit_of,
)

AMOUNTS = st.decimals(min_value=-(10**6), max_value=10**6, places=3)


@pytest.mark.parametrize(
    ("text", "number"),
    [("12.5", "12.5"), ("-0.30", "-0.30"), ("+7", "7"), (".5", "0.5"), (" 300 ", "300"), ("007", "7")],
)
def test_a_plain_decimal_number_is_taken_with_the_digits_typed(text: str, number: str) -> None:
    """Sign, digits and one point are enough, and no digit is lost."""
    assert Decimal(number).as_tuple() == parse_number(text).as_tuple()


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "1e5",
        "1E-2",
        "inf",
        "-Infinity",
        "nan",
        "1,5",
        "1.000,5",
        "1 000",
        "1_000",
        "5.",
        ".",
        "--1",
        "0x10",
    ],
)
def test_anything_but_a_plain_decimal_number_is_refused(text: str) -> None:
    """Exponents, infinities, commas, blanks and halves of numbers never become a value."""
    with pytest.raises(Refused, match="is not a number"):
        parse_number(text)


@pytest.mark.parametrize("text", ["٣٠٠", "３００", "3²"])
def test_digits_of_other_scripts_are_refused(text: str) -> None:
    """What Python's own parser would take for digits is not what the book keeps."""
    with pytest.raises(Refused, match="is not a number"):
        parse_number(text)


def test_a_decimal_comma_is_answered_with_the_number_to_type() -> None:
    """The refusal of 12,5 says 12.5."""
    with pytest.raises(Refused) as caught:
        parse_number("12,5")

    assert '"12,5" is not a number: write digits, a sign, a decimal point. Type "12.5" if that is meant.' == str(
        caught.value
    )


def test_what_is_no_number_even_with_a_point_is_answered_with_an_example() -> None:
    """No repair is made up for 1,000,5."""
    with pytest.raises(Refused, match=r'Type it as "12\.5"\.$'):
        parse_number("1,000,5")


def test_a_typographic_minus_is_answered_with_the_number_to_type() -> None:
    """A minus sign pasted from a printed page is named as the cause."""
    with pytest.raises(Refused, match=r'Type "-12\.0" if that is meant'):
        parse_number("−12.0")


def test_a_number_of_24_characters_is_taken_and_one_of_25_refused() -> None:
    """Absurdly long numbers are refused before they lose digits anywhere."""
    assert Decimal("1" * 24) == parse_number("1" * 24)
    with pytest.raises(Refused, match="longer than 24 characters"):
        parse_number("1" * 25)


@given(AMOUNTS)
def test_a_shown_number_reads_back_as_itself(number: Decimal) -> None:
    """Showing takes away zeros and exponents, never value."""
    assert number == parse_number(show_number(number))


@pytest.mark.parametrize(
    ("number", "shown"),
    [("12.50", "12.5"), ("300", "300"), ("-0.00", "0"), ("0.010", "0.01"), ("1E+3", "1000")],
)
def test_a_number_is_shown_without_zeros_at_the_end(number: str, shown: str) -> None:
    """Zeros before the point stay, zeros at the end go."""
    assert shown == show_number(Decimal(number))


# NIST Special Publication 811 (2008), appendix B.8. The printed factors have seven digits; the exact ones
# follow from the definitions in its footnotes (pound 0.453 592 37 kg, inch 2.54 cm, gallon 231 cubic inches).
@pytest.mark.parametrize(
    ("unit", "to", "printed", "exact"),
    [
        ("oz av", "g", 28.34952, "28.349523125"),  # ounce (avoirdupois)
        ("US fl oz", "ml", 29.57353, "29.5735295625"),  # ounce (U.S. fluid)
        ("US gal", "l", 3.785412, "3.785411784"),  # gallon (U.S.)
        ("in", "cm", 2.54, "2.54"),  # inch
        ("lb", "kg", 0.4535924, "0.45359237"),  # pound (avoirdupois)
    ],
)
def test_factors_against_nist_sp_811_appendix_b8(unit: str, to: str, printed: float, exact: str) -> None:
    """The factor is exact, and rounds to the seven digits that are printed."""
    factor = convert(Decimal(1), unit, to)

    assert Fraction(exact) == factor
    assert printed == pytest.approx(float(factor), rel=5e-7)


# Same appendix, recalled from memory: ounce (imperial fluid) 2.841 306 E-05 m3, mil 2.54 E-05 m.
@pytest.mark.parametrize(
    ("unit", "to", "exact"), [("imp fl oz", "ml", "28.4130625"), ("mil", "µm", "25.4"), ("in", "mil", "1000")]
)
def test_imperial_ounce_and_mil_follow_from_their_definitions(unit: str, to: str, exact: str) -> None:
    """The imperial fluid ounce is 1/160 of 4.546 09 l and the mil a thousandth of an inch."""
    assert Fraction(exact) == convert(Decimal(1), unit, to)


def test_the_flash_point_of_isopropyl_alcohol_against_the_niosh_pocket_guide() -> None:
    """53 °F is 11.7 °C and the boiling point of 181 °F is 82.8 °C, as printed in the guide's entry."""
    assert "11.7" == f"{float(convert(Decimal(53), '°F', '°C')):.1f}"
    assert "82.8" == f"{float(convert(Decimal(181), '°F', '°C')):.1f}"


@pytest.mark.parametrize(("celsius", "fahrenheit"), [("0", 32), ("100", 212), ("-40", -40), ("10", 50)])
def test_fixed_points_of_the_fahrenheit_scale(celsius: str, fahrenheit: int) -> None:
    """Water freezes at 32 and boils at 212 °F, and the scales meet at -40 (NIST SP 811, B.8: °F = 1.8 °C + 32)."""
    assert Fraction(fahrenheit) == convert(Decimal(celsius), "°C", "°F")


@pytest.mark.parametrize(
    ("large", "n", "small"),
    [
        ("kg", 1000, "g"),
        ("g", 1000, "mg"),
        ("l", 1000, "ml"),
        ("cl", 10, "ml"),
        ("m", 100, "cm"),
        ("cm", 10, "mm"),
        ("mm", 1000, "µm"),
        ("V", 1000, "mV"),
        ("h", 60, "min"),
        ("min", 60, "s"),
        ("s", 1000, "ms"),
        ("ms", 1000, "µs"),
    ],
)
def test_prefixes_of_the_si_and_of_time(large: str, n: int, small: str) -> None:
    """Each unit holds as many of the next smaller one as its prefix says (SI brochure, tables of prefixes)."""
    assert Fraction(n) == convert(Decimal(1), large, small)


def test_the_limits_of_operation_in_iso_8860_1_are_whole_degrees_fahrenheit() -> None:
    """50 °F is exactly 10 °C, and 125 °F the 51.67 °C that ISO 8860-1 6.1.2 (Cor.1:1990) rounds to 51.5."""
    assert 10 == convert(Decimal(50), "°F", "°C")
    assert 51.67 == pytest.approx(float(convert(Decimal(125), "°F", "°C")), abs=0.005)


def test_mass_and_volume_of_isopropyl_alcohol_meet_through_its_density() -> None:
    """100 ml are 78.55 g and 100 g are 127.3 ml at 0.7855 g/ml (handbook value at 20 °C)."""
    density = Decimal("0.7855")

    assert Fraction("78.55") == convert(Decimal(100), "ml", "g", density)
    assert 127.3 == pytest.approx(float(convert(Decimal(100), "g", "ml", density)), abs=0.05)


def test_mass_becomes_volume_only_with_a_density() -> None:
    """Without a density the refusal asks for it."""
    with pytest.raises(Refused, match="g becomes ml only through a density"):
        convert(Decimal(1), "g", "ml")


@pytest.mark.parametrize("density", ["0", "-0.8", "NaN", "Infinity"])
def test_a_density_that_is_not_above_zero_is_refused(density: str) -> None:
    """No amount is made up from an impossible density."""
    with pytest.raises(Refused, match="is not above zero"):
        convert(Decimal(1), "g", "ml", Decimal(density))


@pytest.mark.parametrize(("unit", "to"), [("V", "ml"), ("mV", "mVpp"), ("r/min", "ms"), ("piece", "g"), ("°C", "%")])
def test_units_of_different_dimensions_never_meet(unit: str, to: str) -> None:
    """A ripple in mVpp is no voltage in mV, and a period is no speed, whatever the density."""
    with pytest.raises(Refused, match=f"^{unit} cannot become {to}"):
        convert(Decimal(1), unit, to, Decimal(1))


@pytest.mark.parametrize("symbol", ["oz", "OZ", "fl oz", "Fl Oz"])
def test_an_ounce_without_its_kind_is_refused_with_the_three_kinds(symbol: str) -> None:
    """An oz may be a mass, a US or an imperial volume; the person decides."""
    with pytest.raises(Refused) as caught:
        unit_of(symbol)

    assert (
        f'Unit "{symbol}" may be a mass, a US or an imperial volume. Type "oz av", "US fl oz" or "imp fl oz".'
        == str(caught.value)
    )


def test_an_unknown_unit_is_refused_with_what_looks_alike() -> None:
    """The unit mml is answered with ml, a wholly strange word with the common units."""
    with pytest.raises(Refused, match="ml"):
        unit_of("mml")
    with pytest.raises(Refused, match=r'Unit "furlong" is not known\. Type a unit as g, ml, piece'):
        unit_of("furlong")


@pytest.mark.parametrize(
    ("spelt", "symbol"),
    [("mL", "ml"), ("L", "l"), ("μm", "µm"), ("um", "µm"), ("us", "µs"), ("rpm", "r/min"), ("pieces", "piece")],
)
def test_other_spellings_of_a_unit_are_known_by_its_one_symbol(spelt: str, symbol: str) -> None:
    """The two letters mu, a plain u and a capital litre lead to the symbol that is kept."""
    assert symbol == unit_of(spelt).symbol


@given(st.sampled_from(sorted(UNITS)), AMOUNTS)
def test_a_conversion_and_back_is_exact(unit: str, number: Decimal) -> None:
    """To any unit it can meet and back, nothing is lost: the two factors cancel."""
    for to in (other for other in UNITS if UNITS[other].dimension == UNITS[unit].dimension):
        there = convert(number, unit, to) - convert(Decimal(0), unit, to)
        back = convert(Decimal(1), to, unit) - convert(Decimal(0), to, unit)

        assert Fraction(number) == there * back


@given(AMOUNTS, AMOUNTS, st.sampled_from(["kg", "lb", "oz av", "mg"]))
def test_converting_a_sum_equals_the_sum_of_conversions(a: Decimal, b: Decimal, unit: str) -> None:
    """The rule a x (b + c) = a x b + a x c holds without rounding."""
    assert convert(a + b, unit, "g") == convert(a, unit, "g") + convert(b, unit, "g")


def test_an_amount_in_the_own_unit_must_be_whole_steps() -> None:
    """12.34 ml is 1234 steps of 0.01 ml; half a step is refused with the step named."""
    assert 1234 == to_steps(Decimal("12.34"), "ml", "ml", Decimal("0.01"))
    with pytest.raises(Refused) as caught:
        to_steps(Decimal("12.345"), "ml", "ml", Decimal("0.01"))

    assert "12.345 ml is not a whole number of steps of 0.01 ml. Type a multiple of 0.01." == str(caught.value)


def test_half_a_piece_is_refused() -> None:
    """Pieces are counted."""
    with pytest.raises(Refused, match=r"0\.5 piece is not a whole number of steps of 1 piece"):
        to_steps(Decimal("0.5"), "piece", "piece", Decimal(1))


@pytest.mark.parametrize(("typed", "steps"), [("0.5", 0), ("1.5", 2), ("2.5", 2), ("-0.5", 0), ("2.6", 3)])
def test_a_converted_amount_rounds_to_the_nearest_step_halves_to_even(typed: str, steps: int) -> None:
    """A gram counted in steps of 1 g but typed in mg cannot be exact, so it is rounded without a drift."""
    assert steps == to_steps(Decimal(typed) * 1000, "mg", "g", Decimal(1))


def test_another_spelling_of_the_own_unit_is_the_own_unit() -> None:
    """With mL for ml nothing is converted, so nothing is rounded."""
    with pytest.raises(Refused, match="whole number of steps"):
        to_steps(Decimal("0.005"), "mL", "ml", Decimal("0.01"))


@pytest.mark.parametrize("step", ["0", "-0.01"])
def test_a_step_that_is_not_above_zero_is_refused(step: str) -> None:
    """There is no smallest step of nothing."""
    with pytest.raises(Refused, match="is not above zero"):
        to_steps(Decimal(1), "ml", "ml", Decimal(step))


def test_the_largest_count_of_steps_is_taken_and_one_more_refused() -> None:
    """A ledger of such amounts still fits the integers of the table."""
    assert 10**12 == to_steps(Decimal(10**12), "piece", "piece", Decimal(1))
    with pytest.raises(Refused, match="more than can be kept"):
        to_steps(Decimal(10**12 + 1), "piece", "piece", Decimal(1))


@given(st.integers(-(10**9), 10**9), st.sampled_from(["1", "0.5", "0.01", "0.001", "25"]))
def test_steps_to_amount_and_back_is_exact(steps: int, step: str) -> None:
    """What was counted in steps comes back as the same count."""
    amount = from_steps(steps, Decimal(step))

    assert steps == to_steps(amount, "g", "g", Decimal(step))


@pytest.mark.parametrize(
    ("steps", "step", "unit", "shown"),
    [
        (1250, "0.01", "ml", "12.5 ml"),
        (0, "0.01", "g", "0 g"),
        (-3, "0.5", "g", "-1.5 g"),
        (1, "1", "piece", "1 piece"),
        (3, "1", "piece", "3 pieces"),
        (0, "1", "piece", "0 pieces"),
    ],
)
def test_an_amount_is_shown_with_its_unit(steps: int, step: str, unit: str, shown: str) -> None:
    """Amounts read as a person writes them."""
    assert shown == show_amount(steps, Decimal(step), unit)
