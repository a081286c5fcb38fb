"""How readings, uses, parts and turned screws are typed in one option."""

from __future__ import annotations

import pytest

from collection.acts.adjustments import GivenTurn
from collection.acts.readings import GivenReading
from collection.acts.service_given import GivenPart, GivenUse
from collection.cli.service_words import parse_part, parse_reading, parse_turned, parse_use, split_series, split_value
from collection.errors import Refused


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("spindle speed=301.2", GivenReading("spindle speed", "301.2")),
        (" spindle speed = 301.2 ", GivenReading("spindle speed", "301.2")),
        ("rail voltage[+5 V]=5.02", GivenReading("rail voltage", "5.02", "+5 V")),
        ("rail voltage[-12 V]=-11.9V", GivenReading("rail voltage", "-11.9", "-12 V", "V")),
        ("spindle speed=199.2 ms", GivenReading("spindle speed", "199.2", "", "ms")),
        ("spindle speed=+6 bars/min @hand strobe", GivenReading("spindle speed", "+6", "", "bars/min", "hand strobe")),
        ("head condition=pass", GivenReading("head condition", "pass")),
        ("x[a=b]=1", GivenReading("x", "1", "a=b")),
        ("spindle speed=301,2", GivenReading("spindle speed", "301,2")),
    ],
)
def test_a_reading_is_measurement_point_value_unit_and_instrument(typed: str, meant: GivenReading) -> None:
    """Every part but measurement and value may be left away; the value stays as it is typed."""
    assert meant == parse_reading(typed)


@pytest.mark.parametrize(
    "typed", ["spindle speed 301.2", "=301.2", "spindle speed=", "spindle speed= @counter", "[x]=1"]
)
def test_what_is_no_reading_is_refused_with_the_form(typed: str) -> None:
    """The refusal shows what was typed and three examples of the form."""
    with pytest.raises(Refused, match="is no reading") as refused:
        parse_reading(typed)

    assert typed in refused.value.what
    assert '"rail voltage[+5 V]=5.02"' in refused.value.hint


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("isopropyl alcohol 99 %=2 ml", GivenUse("isopropyl alcohol 99 %", "2", "ml")),
        ("grease/A-7=0.5g", GivenUse("grease/A-7", "0.5", "g")),
        ("belt a=b=1", GivenUse("belt a=b", "1")),
        ("swab=3 pieces", GivenUse("swab", "3", "pieces")),
    ],
)
def test_a_use_is_supply_amount_and_unit(typed: str, meant: GivenUse) -> None:
    """The amount stands behind the last equals sign, for a name may hold one."""
    assert meant == parse_use(typed)


@pytest.mark.parametrize("typed", ["grease 2 g", "grease=", "=2 g"])
def test_what_is_no_use_is_refused_with_the_form(typed: str) -> None:
    """The refusal shows what was typed and how to type it."""
    with pytest.raises(Refused, match=f'"{typed}" is no amount of a supply'):
        parse_use(typed)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("belt=belt 118 x 6", GivenPart("belt", supply="belt 118 x 6")),
        ("belt=belt 118 x 6/B-1", GivenPart("belt", supply="belt 118 x 6/B-1")),
        ("belt from D7", GivenPart("belt", donor="D7")),
        ("spring from above from D7", GivenPart("spring from above", donor="D7")),
        ("belt=cut from stock", GivenPart("belt", supply="cut from stock")),
    ],
)
def test_a_part_is_from_a_supply_or_from_a_unit(typed: str, meant: GivenPart) -> None:
    """An equals sign names a supply, the word "from" a unit."""
    assert meant == parse_part(typed)


@pytest.mark.parametrize("typed", ["belt", "belt=", "=belt", "belt from ", " from D7"])
def test_what_is_no_part_is_refused_with_the_form(typed: str) -> None:
    """The refusal shows what was typed and how to type it."""
    with pytest.raises(Refused, match="is no fitted part") as refused:
        parse_part(typed)

    assert '"belt from D7"' in refused.value.hint


def test_a_value_is_parted_from_its_unit() -> None:
    """A word without digits in front is a value by itself."""
    assert [("199.2", "ms"), ("pass", ""), ("-5", "°C"), ("-10.7", "")] == [
        split_value(text) for text in ("199.2 ms", " pass ", "-5°C", "-10.7")
    ]


def test_a_series_is_parted_from_its_point() -> None:
    """Brackets hold the point; without them there is none."""
    assert [("rail voltage", "+5 V"), ("spindle speed", "")] == [
        split_series("rail voltage[ +5 V ]"),
        split_series("spindle speed"),
    ]


def test_a_turned_screw_is_read_with_what_it_sets() -> None:
    """Amounts may have blanks; what is set stands behind "for"."""
    assert [
        GivenTurn("speed trimmer", "1/8", "clockwise"),
        GivenTurn("zero stop", "1 1/2 turns", "ccw", "track-zero stop"),
        GivenTurn("a", "45 deg", "cw"),
    ] == [
        parse_turned(text)
        for text in ("speed trimmer=1/8 clockwise", "zero stop = 1 1/2 turns ccw for track-zero stop", "a=45 deg cw")
    ]


@pytest.mark.parametrize("text", ["trimmer", "trimmer=", "trimmer=1/8", "=1/8 cw", "trimmer 1/8 cw"])
def test_what_is_no_turned_screw_is_refused_with_the_form(text: str) -> None:
    """The form to type stands in the refusal."""
    with pytest.raises(Refused, match="no turn of a screw") as refused:
        parse_turned(text)
    assert "1/8 clockwise" in refused.value.hint
