"""Speeds from index periods and strobe bars, and first doubts about a value.

Published figures: cartridge standards for nominal speeds; a 1984 engineering specification of a belt-driven
130 mm drive (clause 4.2: 288 r/min, latency 104 ms, 1.5 % long term); public drive-parameter tables (latency
83 ms at 360 r/min). The rest is exact arithmetic.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from collection.analysis.measures import (
    nominal_speed,
    parse_speeds,
    percent_off,
    period_of_speed,
    plausible,
    speed_of_bars,
    speed_of_period,
    strobe_bars,
    to_measured,
)
from collection.errors import Refused

POSITIVE = st.decimals(min_value="0.01", max_value=10000, places=2)


@pytest.mark.parametrize(
    ("speed", "period", "latency"), [("300", 200.000, 100), ("360", 166.667, 83.33), ("288", 208.333, 104.17)]
)
def test_periods_against_the_latencies_that_drive_specifications_print(
    speed: str, period: float, latency: float
) -> None:
    """A turn at 300, 360 and 288 r/min takes 200.000, 166.667 and 208.333 ms; half of it is the latency."""
    turn = float(period_of_speed(Decimal(speed)))

    assert period == pytest.approx(turn, abs=0.0005)
    assert latency == pytest.approx(turn / 2, abs=0.005)


@pytest.mark.parametrize(
    ("period", "speed", "off"),
    [("198.5", 302.267, 0.756), ("203.0", 295.567, -1.478), ("197.0", 304.569, 1.523)],
)
def test_an_index_period_becomes_a_speed_and_a_deviation(period: str, speed: float, off: float) -> None:
    """198.5 ms on a 300 r/min unit is 302.267 r/min, 0.756 % fast; 197.0 ms is 1.523 % fast."""
    found = to_measured(Decimal(period), "ms", "r/min", 300.0, 50)

    assert speed == pytest.approx(found, abs=0.0005)
    assert off == pytest.approx(percent_off(found, 300.0), abs=0.0005)


def test_one_per_cent_fast_is_not_one_per_cent_less_period() -> None:
    """At 300 r/min 1 % fast is 198.020 ms (-0.990 %), and 1 % slow is 202.020 ms (+1.010 %)."""
    assert 198.020 == pytest.approx(float(period_of_speed(Decimal(303))), abs=0.0005)
    assert 202.020 == pytest.approx(float(period_of_speed(Decimal(297))), abs=0.0005)


@given(POSITIVE)
def test_period_and_speed_are_each_others_opposite(number: Decimal) -> None:
    """A speed turned into a period and back is exactly itself."""
    assert Fraction(number) == speed_of_period(period_of_speed(number))


def test_the_smallest_period_is_a_speed() -> None:
    """Only nothing and less than nothing is refused, not what is merely absurd."""
    assert Fraction(600000) == speed_of_period(Decimal("0.1")) == period_of_speed(Decimal("0.1"))


@pytest.mark.parametrize("zero_or_less", ["0", "-1"])
def test_a_period_or_a_speed_of_nothing_has_no_opposite(zero_or_less: str) -> None:
    """Nothing is divided by zero: the value seen is refused."""
    with pytest.raises(Refused, match=r"^Index period .* is not above zero"):
        speed_of_period(Decimal(zero_or_less))
    with pytest.raises(Refused, match=r"^Speed .* is not above zero"):
        period_of_speed(Decimal(zero_or_less))


@pytest.mark.parametrize(
    ("nominal", "mains", "bars"),
    [(300.0, 50, 20), (300.0, 60, 24), (360.0, 60, 20), (240.0, 50, 25), (600.0, 50, 10)],
)
def test_bars_that_stand_still_under_a_mains_lamp(nominal: float, mains: int, bars: int) -> None:
    """20 bars mean 300 r/min on 50 Hz but 360 on 60 Hz; 24 bars mean 300 on 60 Hz (two flashes a cycle)."""
    assert bars == strobe_bars(nominal, mains)


def test_no_ring_of_bars_stands_still_at_360_r_min_on_50_hz() -> None:
    """It would take 16.667 bars, so the refusal asks for another kind of reading."""
    with pytest.raises(Refused) as caught:
        strobe_bars(360.0, 50)

    assert (
        "No ring of bars stands still at 360 r/min under 50 Hz (16.667 bars)."
        " Give the speed in r/min or the index period in ms." == str(caught.value)
    )


@pytest.mark.parametrize(("passing", "speed"), [("6", "300.25"), ("0", "300"), ("-6", "299.75"), ("72", "303")])
def test_bars_passing_with_the_rotation_mean_fast(passing: str, speed: str) -> None:
    """On 24 bars, 6 a minute are 0.25 r/min, and 1.2 a second (72 a minute) are 1 %."""
    assert Fraction(speed) == speed_of_bars(Decimal(passing), 300.0, 60)


@given(
    st.decimals(min_value=200, max_value=400, places=2),
    st.sampled_from([(300.0, 50), (300.0, 60), (360.0, 60)]),
)
def test_bars_seen_at_any_speed_give_that_speed_back(speed: Decimal, setting: tuple[float, int]) -> None:
    """What passes a minute is speed x bars less the flashes a minute; from it the speed follows exactly."""
    nominal, mains = setting
    passing = speed * strobe_bars(nominal, mains) - 120 * mains

    assert Fraction(speed) == speed_of_bars(passing, nominal, mains)


def test_bars_need_a_nominal_speed() -> None:
    """A model without nominal speed cannot be read by strobe; the refusal says what to give."""
    with pytest.raises(Refused, match="need the unit's nominal speed, and its model has none"):
        to_measured(Decimal(6), "bars/min", "r/min", None, 60)


@pytest.mark.parametrize(
    ("value", "entered_in", "measured_in", "stored"),
    [
        ("4.75", "", "V", 4.75),
        ("4.75", "V", "V", 4.75),
        ("4750", "mV", "V", 4.75),
        ("2", "mil", "µm", 50.8),
        ("300.25", "rpm", "r/min", 300.25),
        ("200", "ms", "r/min", 300.0),
        ("200000", "µs", "r/min", 300.0),
        ("300", "r/min", "ms", 200.0),
        ("300", "r/min", "µs", 200000.0),
        ("6", "bars/min", "r/min", 300.25),
        ("77", "°F", "°C", 25.0),
    ],
)
def test_a_reading_is_kept_in_the_unit_of_its_measurement(
    value: str, entered_in: str, measured_in: str, stored: float
) -> None:
    """Whatever fits is converted exactly, then rounded once to the stored number."""
    assert stored == to_measured(Decimal(value), entered_in, measured_in, 300.0, 60)


def test_a_ripple_given_in_millivolts_is_refused() -> None:
    """Ripple is measured peak to peak; mV alone may be RMS."""
    with pytest.raises(Refused, match="mV cannot become mVpp"):
        to_measured(Decimal(50), "mV", "mVpp", None, 50)


@pytest.mark.parametrize(
    ("text", "speeds"),
    [("300", (300.0,)), ("300; 360", (300.0, 360.0)), ("", ()), ("288.5;", (288.5,)), ("0.5", (0.5,))],
)
def test_nominal_speeds_are_listed_by_semicolons(text: str, speeds: tuple[float, ...]) -> None:
    """One model may turn at several speeds."""
    assert speeds == parse_speeds(text)


@pytest.mark.parametrize("text", ["0", "300; -360"])
def test_a_nominal_speed_that_is_not_above_zero_is_refused(text: str) -> None:
    """Nothing turns at no speed."""
    with pytest.raises(Refused, match="is not above zero"):
        parse_speeds(text)


@pytest.mark.parametrize(
    ("speeds", "point", "picked"),
    [
        ((300.0, 360.0), "360 r/min", 360.0),
        ((300.0, 360.0), "360", 360.0),
        ((300.0, 360.0), "", 300.0),
        ((300.0, 360.0), "side 0", 300.0),
        ((300.0,), "360", 300.0),
        ((), "360", None),
    ],
)
def test_the_point_picks_among_nominal_speeds(speeds: tuple[float, ...], point: str, picked: float | None) -> None:
    """A speed setting names its nominal; without one the first counts."""
    assert picked == nominal_speed(speeds, point)


@pytest.mark.parametrize(
    ("value", "nominal", "doubt"),
    [
        (300.0, 300.0, None),
        (304.9, 300.0, None),
        (3000.0, 300.0, "ten times nominal; typed wrong?"),
        (3300.0, 300.0, "ten times nominal; typed wrong?"),
        (3300.1, 300.0, "+1000.03 % from nominal 300 r/min: far from nominal"),
        (2700.0, 300.0, "ten times nominal; typed wrong?"),
        (2699.9, 300.0, "+799.97 % from nominal 300 r/min: far from nominal"),
        (26.9, 300.0, "-91.03 % from nominal 300 r/min: far from nominal"),
        (27.0, 300.0, "a tenth of nominal; typed wrong?"),
        (33.0, 300.0, "a tenth of nominal; typed wrong?"),
        (33.1, 300.0, "-88.97 % from nominal 300 r/min: far from nominal"),
        (587.9, 300.0, "+95.97 % from nominal 300 r/min: far from nominal"),
        (588.0, 300.0, "+96.00 % from nominal 300 r/min: 600 class? wrong nominal?"),
        (612.0, 300.0, "+104.00 % from nominal 300 r/min: 600 class? wrong nominal?"),
        (612.1, 300.0, "+104.03 % from nominal 300 r/min: far from nominal"),
        (360.0, 300.0, "+20.00 % from nominal 300 r/min: 360 class? wrong nominal?"),
        (352.8, 300.0, "+17.60 % from nominal 300 r/min: 360 class? wrong nominal?"),
        (352.7, 300.0, None),
        (375.0, 300.0, None),
        (375.1, 300.0, "+25.03 % from nominal 300 r/min: far from nominal"),
        (225.0, 300.0, None),
        (224.9, 300.0, "-25.03 % from nominal 300 r/min: far from nominal"),
        (0.0, 300.0, "-100.00 % from nominal 300 r/min: far from nominal"),
    ],
)
def test_doubts_about_a_speed_below_at_and_above_each_bound(value: float, nominal: float, doubt: str | None) -> None:
    """Ten times, a tenth, another class within 2 %, more than 25 % off: each is said, none is refused."""
    assert doubt == plausible("r/min", value, nominal)


def test_200_ms_on_a_360_r_min_unit_is_a_wrong_nominal_and_not_a_good_speed() -> None:
    """It reads 300 r/min, 16.67 % slow, and the doubt names the class it fits (cartridge standards)."""
    speed = to_measured(Decimal(200), "ms", "r/min", 360.0, 50)

    assert "-16.67 % from nominal 360 r/min: 300 class? wrong nominal?" == plausible("r/min", speed, 360.0)


def test_a_value_nearer_to_its_own_nominal_is_not_of_another_class() -> None:
    """With a class 4 % away, a value between the two belongs to the nearer."""
    assert plausible("r/min", 295.0, 300.0, [288.0]) is None
    assert "-2.33 % from nominal 300 r/min: 288 class? wrong nominal?" == plausible("r/min", 293.0, 300.0, [288.0])


@pytest.mark.parametrize(
    ("value", "nominal", "doubt"),
    [
        (5.1, 5.0, None),
        (50.0, 5.0, "ten times nominal; typed wrong?"),
        (-9.0, -12.0, None),
        (-8.9, -12.0, "+25.83 % from nominal -12 V: far from nominal"),
        (-120.0, -12.0, "ten times nominal; typed wrong?"),
        (12.0, -12.0, "+200.00 % from nominal -12 V: far from nominal"),
    ],
)
def test_doubts_about_a_rail(value: float, nominal: float, doubt: str | None) -> None:
    """Rails below zero are compared by their own sign, and no rail has a speed class."""
    assert doubt == plausible("V", value, nominal)


@pytest.mark.parametrize("nominal", [None, 0.0])
def test_without_a_nominal_nothing_is_doubted(nominal: float | None) -> None:
    """A measurement whose nominal is zero or not known has nothing to be far from."""
    assert plausible("µm", 40.0, nominal) is None
