"""What was read, in the unit its measurement is kept in, from index periods, strobe bars and other units.

Exact arithmetic: a turn of T ms is 60000 / T r/min. A lamp on the mains flashes twice a cycle, and a ring of
bars stands still when the flashes per minute are speed x bars (strobe discs, model engineers' tables).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction

from collection.errors import Refused, fold
from collection.quantity import convert, parse_number, show_number, unit_of

GRADED = "graded"  # in the place of a unit of measure: readings are pass, marginal or fail

# Nominal speeds of the flexible disk cartridge standards: 300 and 360 (ECMA-70, ECMA-99: title and density),
# 600 for test read-out (ISO 8860-1:1987/Cor.1:1990, annex F.1). A unit may have another of its own.
STANDARD_SPEEDS = (300.0, 360.0, 600.0)

_MS_PER_MINUTE = 60000
_FLASHES_PER_CYCLE_MINUTE = 120  # two flashes a cycle, sixty seconds


def parse_speeds(text: str) -> tuple[float, ...]:
    """Return the nominal speeds in r/min that "300; 360" lists. Raises Refused unless all are above 0."""
    speeds = tuple(float(parse_number(part)) for part in text.split(";") if part.strip())
    if any(speed <= 0 for speed in speeds):
        raise Refused(f'Nominal speed "{text}" is not above zero.', 'Type it in r/min, as "300" or "300; 360".')
    return speeds


def nominal_speed(speeds: Sequence[float], point: str = "") -> float | None:
    """Return the nominal speed in r/min that a point ("360 r/min", "360") picks; another picks the first."""
    wanted = fold(point).removesuffix("r/min").strip()
    for speed in speeds:
        if show_speed(speed) == wanted:
            return speed
    return speeds[0] if speeds else None


def show_speed(speed: float) -> str:
    """Return a speed as a person writes it: "300", "288.5"."""
    return show_number(Decimal(str(speed)))


def speed_of_period(period_ms: Decimal | Fraction) -> Fraction:
    """Return the speed in r/min of one turn in T ms: N = 60000 / T. Raises Refused unless T is above 0."""
    if period_ms <= 0:
        raise Refused(f"Index period {float(period_ms):g} ms is not above zero.", "Type the time of one turn, as 200.")
    return _MS_PER_MINUTE / Fraction(period_ms)


def period_of_speed(speed: Decimal | Fraction) -> Fraction:
    """Return the time of one turn in ms at N r/min: T = 60000 / N. Raises Refused unless N is above 0."""
    if speed <= 0:
        raise Refused(f"Speed {float(speed):g} r/min is not above zero.", "Type the speed in r/min, as 300.")
    return _MS_PER_MINUTE / Fraction(speed)


def strobe_bars(nominal: float, mains_hz: int) -> int:
    """Return how many bars stand still at `nominal` r/min under a lamp on `mains_hz` mains: 120 f / N.

    Raises Refused where that is no whole number, as for 360 r/min on 50 Hz (16.667 bars).
    """
    bars = Fraction(_FLASHES_PER_CYCLE_MINUTE * mains_hz) / Fraction(nominal)
    if bars.denominator != 1:
        raise Refused(
            f"No ring of bars stands still at {show_speed(nominal)} r/min under {mains_hz} Hz"
            f" ({float(bars):.3f} bars).",
            "Give the speed in r/min or the index period in ms.",
        )
    return int(bars)


def speed_of_bars(bars_per_minute: Decimal, nominal: float, mains_hz: int) -> Fraction:
    """Return the speed in r/min at which so many bars pass a minute: N + passing / bars.

    Positive means that they pass with the rotation: the spindle is fast. Raises Refused as `strobe_bars`.
    """
    return Fraction(nominal) + Fraction(bars_per_minute) / strobe_bars(nominal, mains_hz)


def percent_off(value: float, nominal: float) -> float:
    """Return how far a value lies from a nominal (not 0), in per cent of its size; positive is above it."""
    return 100 * (value - nominal) / abs(nominal)


def to_measured(value: Decimal, entered_in: str, measured_in: str, nominal: float | None, mains_hz: int) -> float:
    """Return a reading, entered in any unit that fits, in the unit its measurement is kept in.

    entered_in: "" for the measurement's own unit. nominal: r/min, needed for strobe bars only. Raises Refused
    when the units do not fit, or the value has no meaning (a period of 0 ms).
    """
    if entered_in in ("", measured_in):
        return float(value)
    given, own = unit_of(entered_in), unit_of(measured_in)
    if given.dimension == "strobe" and own.dimension == "speed":
        return float(speed_of_bars(value, _needed(nominal), mains_hz))
    if given.dimension == "time" and own.dimension == "speed":
        return float(speed_of_period(convert(value, given.symbol, "ms")))
    if given.dimension == "speed" and own.dimension == "time":
        return float(period_of_speed(value) / 1000 / own.factor)
    return float(convert(value, given.symbol, own.symbol))


def plausible(
    measured_in: str, value: float, nominal: float | None, others: Iterable[float] = STANDARD_SPEEDS
) -> str | None:
    """Return what makes a value doubtful against its nominal, or None; such a value is marked, never refused.

    others: the nominal speeds of other classes, looked at for r/min only. Bounds: about ten times or a tenth
    of nominal (within a tenth of that), within 2 % of another class and nearer to it, more than 25 % off.
    Common practice, no source.
    """
    if not nominal:
        return None
    ratio = value / nominal
    off = f"{percent_off(value, nominal):+.2f} % from nominal {nominal:g} {measured_in}"
    if 9 <= ratio <= 11:
        return "ten times nominal; typed wrong?"
    if 0.09 <= ratio <= 0.11:
        return "a tenth of nominal; typed wrong?"
    other = _other_class(value, nominal, others) if measured_in == "r/min" else None
    if other is not None:
        return f"{off}: {other:g} class? wrong nominal?"
    return f"{off}: far from nominal" if abs(value - nominal) > abs(nominal) / 4 else None


def _other_class(value: float, nominal: float, others: Iterable[float]) -> float | None:
    """Return the nominal of the other class that a value fits better than its own."""
    nearest = min(others, key=lambda other: abs(value - other), default=nominal)
    fits = abs(value - nearest) <= 0.02 * nearest and abs(value - nearest) < abs(value - nominal)
    return nearest if fits else None


def _needed(nominal: float | None) -> float:
    """Return the nominal speed, without which bars tell nothing."""
    if nominal is None:
        raise Refused(
            "Bars passing per minute need the unit's nominal speed, and its model has none.",
            "Give the model a nominal speed, or the reading in r/min or ms.",
        )
    return nominal
