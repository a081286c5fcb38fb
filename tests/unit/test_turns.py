"""How far a screw was turned: every written form, its exact value, its limits."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.analysis.turns import CLOCKWISE, COUNTER, net_turns, parse_direction, parse_turns, show_net, show_turns
from collection.errors import Refused


@pytest.mark.parametrize(
    ("text", "turns"),
    [
        ("1/8", Fraction(1, 8)),
        (" 1/4 turn", Fraction(1, 4)),
        ("1 1/2 turns", Fraction(3, 2)),
        ("45 deg", Fraction(1, 8)),
        ("45°", Fraction(1, 8)),
        ("90 Degrees", Fraction(1, 4)),
        ("0.5", Fraction(1, 2)),
        (".1 turn", Fraction(1, 10)),
        ("3", Fraction(3)),
        ("1/3", Fraction(1, 3)),
        ("100", Fraction(100)),
        ("36000 deg", Fraction(100)),
        ("0.000001", Fraction(1, 1_000_000)),
    ],
)
def test_every_written_form_is_its_exact_part_of_a_turn(text: str, turns: Fraction) -> None:
    """A third of a turn is a third, not a decimal near it; a full turn has 360 degrees."""
    assert turns == parse_turns(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("0", "above nothing"),
        ("0/8", "above nothing"),
        ("0 deg", "above nothing"),
        ("100.000001", "at most 100"),
        ("36001 deg", "at most 100"),
        ("1/0", "how far"),
        ("-1/8", "how far"),
        ("an eighth", "how far"),
        ("", "how far"),
        ("1/8 deg", "how far"),
        ("1,5", "how far"),
        ("1e2", "how far"),
    ],
)
def test_what_is_no_amount_of_turning_is_refused_in_words(text: str, said: str) -> None:
    """Nothing, more than a hundred turns, and forms that are none, each with the forms that are."""
    with pytest.raises(Refused, match=said) as refused:
        parse_turns(text)

    assert "1/8" in refused.value.hint


def test_a_direction_has_one_word_however_it_is_typed() -> None:
    """The two words of the book; anything else is refused with them."""
    assert [CLOCKWISE, CLOCKWISE, COUNTER, COUNTER, COUNTER] == [
        parse_direction(text) for text in ("Clockwise", "cw", "CCW", "anticlockwise", " counter clockwise ")
    ]
    with pytest.raises(Refused, match='"left" is no direction'):
        parse_direction("left")


@pytest.mark.parametrize(
    ("turns", "shown"),
    [
        (Fraction(1, 8), "1/8 turn"),
        (Fraction(3, 2), "1 1/2 turns"),
        (Fraction(2), "2 turns"),
        (Fraction(1), "1 turn"),
        (Fraction(1, 36), "10 deg"),
        (Fraction(33, 100), "0.33 turn"),
    ],
)
def test_turns_are_shown_as_a_person_writes_them(turns: Fraction, shown: str) -> None:
    """Common parts of a turn as fractions, else whole degrees, else decimals."""
    assert shown == show_turns(turns)


def test_turning_back_as_far_leaves_a_screw_where_it_was() -> None:
    """Exactly so, also for thirds; and the net says which way it stands now."""
    third = parse_turns("1/3")

    assert "where it was" == show_net(net_turns([(CLOCKWISE, third)] * 3 + [(COUNTER, Fraction(1))]))
    assert "1/8 turn counter-clockwise" == show_net(net_turns([(CLOCKWISE, third), (COUNTER, third + Fraction(1, 8))]))


@given(st.fractions(min_value=Fraction(1, 999), max_value=100, max_denominator=999))
def test_any_fraction_comes_back_as_it_was_written(turns: Fraction) -> None:
    """What is typed as a fraction is kept to the last part."""
    assert turns == parse_turns(f"{turns.numerator}/{turns.denominator}")
