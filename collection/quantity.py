"""Numbers with units, partial days and money: how they are typed, held exactly and shown.

Nothing here is a binary float: numbers are Decimal, conversions Fraction, stock an integer count of steps and
money an integer count of minor units.
"""

from __future__ import annotations

import re
from calendar import monthrange
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType

from collection.errors import Refused, nearest

# --- numbers -----------------------------------------------------------------------------------------------

_PLAIN_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)", re.ASCII)
_LONGEST_NUMBER = 24  # characters; every sum of such numbers stays exact in Decimal's 28 digits


@lru_cache(maxsize=65536)
def parse_number(text: str) -> Decimal:
    """Return the plain decimal number that `text` spells ("-12.50"), with the digits as typed.

    Raises Refused for anything else: exponents, inf, nan, commas, blanks inside, other digits than 0 to 9.
    """
    bare = text.strip()
    if _PLAIN_NUMBER.fullmatch(bare) is None:
        raise Refused(f'"{bare}" is not a number: write digits, a sign, a decimal point.', _repair(bare))
    if len(bare) > _LONGEST_NUMBER:
        raise Refused(f'"{bare[:40]}" is longer than {_LONGEST_NUMBER} characters.', "Type fewer digits.")
    return Decimal(bare)


def _repair(text: str) -> str:
    """Say what to type instead of a refused number."""
    with_point = text.replace("\N{MINUS SIGN}", "-").replace(",", ".")
    if with_point != text and _PLAIN_NUMBER.fullmatch(with_point):
        return f'Type "{with_point}" if that is meant.'
    return 'Type it as "12.5".'


def show_number(number: Decimal) -> str:
    """Return the number without exponent and without zeros at the end: "12.5", "300"."""
    plain = format(number, "f")
    if "." in plain:
        plain = plain.rstrip("0").rstrip(".")
    return "0" if plain in ("-0", "") else plain


# --- units -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of measure: base value = (number - zero) x factor, in the base unit of its dimension.

    Base units: g, ml, m, piece, V, V peak to peak, r/min, s, °C, %, bars/min, errors.
    """

    symbol: str
    dimension: str
    factor: Fraction = Fraction(1)
    zero: Fraction = Fraction(0)


_INCH = Fraction(254, 10000)  # m, exact
_POUND = Fraction(45359237, 100000)  # g, exact
_US_GALLON = 231 * (_INCH * 100) ** 3  # ml: 231 cubic inches
_IMPERIAL_GALLON = Fraction(454609, 100)  # ml, exact

# Factors: NIST Special Publication 811 (2008), appendix B.8 and its footnotes on exact definitions.
_TABLE = (
    Unit("g", "mass"),
    Unit("mg", "mass", Fraction(1, 1000)),
    Unit("kg", "mass", Fraction(1000)),
    Unit("lb", "mass", _POUND),
    Unit("oz av", "mass", _POUND / 16),
    Unit("ml", "volume"),
    Unit("cl", "volume", Fraction(10)),
    Unit("l", "volume", Fraction(1000)),
    Unit("US fl oz", "volume", _US_GALLON / 128),
    Unit("imp fl oz", "volume", _IMPERIAL_GALLON / 160),
    Unit("US gal", "volume", _US_GALLON),
    Unit("m", "length"),
    Unit("cm", "length", Fraction(1, 100)),
    Unit("mm", "length", Fraction(1, 1000)),
    Unit("µm", "length", Fraction(1, 10**6)),
    Unit("in", "length", _INCH),
    Unit("mil", "length", _INCH / 1000),
    Unit("piece", "pieces"),
    Unit("V", "voltage"),
    Unit("mV", "voltage", Fraction(1, 1000)),
    Unit("mVpp", "ripple", Fraction(1, 1000)),
    Unit("r/min", "speed"),
    Unit("s", "time"),
    Unit("ms", "time", Fraction(1, 1000)),
    Unit("µs", "time", Fraction(1, 10**6)),
    Unit("min", "time", Fraction(60)),
    Unit("h", "time", Fraction(3600)),
    Unit("°C", "temperature"),
    Unit("°F", "temperature", Fraction(5, 9), Fraction(32)),
    Unit("%", "ratio"),
    Unit("bars/min", "strobe"),
    Unit("errors", "errors"),
)
UNITS = MappingProxyType({unit.symbol: unit for unit in _TABLE})
# Other spellings of the same symbols: litre as a capital, micro sign as a Greek letter or a plain u, plural.
_SPELLINGS = {"L": "l", "mL": "ml", "cL": "cl", "μm": "µm", "um": "µm", "μs": "µs", "us": "µs"}
_SPELLINGS |= {"rpm": "r/min", "pieces": "piece"}


def unit_of(symbol: str) -> Unit:
    """Return the unit with this symbol (its `symbol` is the one to keep). Raises Refused if it is unknown."""
    bare = symbol.strip()
    unit = UNITS.get(_SPELLINGS.get(bare, bare))
    if unit is not None:
        return unit
    if bare.casefold() in ("oz", "fl oz"):
        raise Refused(
            f'Unit "{bare}" may be a mass, a US or an imperial volume.',
            'Type "oz av", "US fl oz" or "imp fl oz".',
        )
    near = nearest(bare, UNITS) or ("g", "ml", "piece", "mm", "V", "mVpp", "r/min", "ms")
    raise Refused(f'Unit "{bare}" is not known.', "Type a unit as " + ", ".join(near) + ".")


def convert(number: Decimal, unit: str, to: str, density: Decimal | None = None) -> Fraction:
    """Return `number` of `unit` as an exact number of `to`.

    Mass and volume meet only through `density`, in g/ml. Raises Refused for units of different dimensions and
    for a missing or impossible density.
    """
    start, end = unit_of(unit), unit_of(to)
    base = (Fraction(number) - start.zero) * start.factor
    if start.dimension != end.dimension:
        base *= _bridge(start, end, density)
    return base / end.factor + end.zero


def _bridge(start: Unit, end: Unit, density: Decimal | None) -> Fraction:
    """Return ml per g or g per ml, whichever leads from `start` to `end`."""
    if {start.dimension, end.dimension} != {"mass", "volume"}:
        raise Refused(
            f"{start.symbol} cannot become {end.symbol}: {start.dimension} is not {end.dimension}.",
            f"Give the value in {end.symbol}.",
        )
    if density is None:
        raise Refused(
            f"{start.symbol} becomes {end.symbol} only through a density, and none is known.",
            f"Give the amount in {end.symbol}, or the supply's density in g/ml.",
        )
    if not density.is_finite() or density <= 0:
        raise Refused(f"Density {density} g/ml is not above zero.", "Type it in g/ml, as 0.79.")
    return Fraction(density) if start.dimension == "volume" else 1 / Fraction(density)


# --- amounts in steps --------------------------------------------------------------------------------------

_MOST_STEPS = 10**12  # a million movements of that size still fit a 64-bit integer


def to_steps(number: Decimal, unit: str, measured_in: str, step: Decimal, density: Decimal | None = None) -> int:
    """Return the amount as a count of the smallest step (`step` is in `measured_in`).

    In the supply's own unit the amount must be a whole number of steps, otherwise Refused; an amount that was
    converted from another unit is rounded to the nearest step, halves to even.
    """
    own = unit_of(measured_in)
    if step <= 0:
        raise Refused(f"Smallest step {step} {own.symbol} is not above zero.", "Type it as 0.01.")
    given = unit_of(unit)
    steps = convert(number, unit, measured_in, density) / Fraction(step)
    if given is own and steps.denominator != 1:
        raise Refused(
            f"{number} {own.symbol} is not a whole number of steps of {show_number(step)} {own.symbol}.",
            f"Type a multiple of {show_number(step)}.",
        )
    if abs(steps) > _MOST_STEPS:
        raise Refused(f"{number} {given.symbol} is more than can be kept.", "Type a smaller amount.")
    return round(steps)


def from_steps(steps: int, step: Decimal) -> Decimal:
    """Return the amount, in the unit of `step`, that a count of steps stands for."""
    return steps * step


def show_amount(steps: int, step: Decimal, measured_in: str) -> str:
    """Return the amount as a person reads it: "12.5 ml", "1 piece", "3 pieces"."""
    number = show_number(from_steps(steps, step))
    word = "pieces" if measured_in == "piece" and number not in ("1", "-1") else measured_in
    return f"{number} {word}"


# --- partial days ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, order=True)
class Day:
    """A calendar day that may be known only to its month or year; ordered by first day, then text.

    first, last: the first and last day it can mean; text: the form entered, ISO 8601 with reduced precision.
    That order is the order of the texts, so a column of texts sorts alike.
    """

    first: date
    text: str
    last: date = field(compare=False)

    @property
    def full(self) -> bool:
        """Say whether the very day is known."""
        return self.first == self.last


_DAY = re.compile(r"([0-9]{4})(?:-([0-9]{2})(?:-([0-9]{2}))?)?", re.ASCII)
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@lru_cache(maxsize=65536)
def parse_day(text: str) -> Day:
    """Return the day, month or year spelt by `text` (2025-10-03, 2025-10, 2025). Raises Refused otherwise."""
    bare = text.strip()
    match = _DAY.fullmatch(bare)
    if match is None:
        raise Refused(f'"{bare}" is not a day.', "Type 2025-10-03, or 2025-10 or 2025 if no more is known.")
    year, month, day = match.groups()
    try:
        first = date(int(year), int(month or 1), int(day or 1))
    except ValueError:
        raise Refused(f'"{bare}" does not exist.', "Type a day of the calendar, as 2025-10-03.") from None
    if day is not None:
        return Day(first, bare, first)
    last_month = 12 if month is None else first.month
    return Day(first, bare, date(first.year, last_month, monthrange(first.year, last_month)[1]))


@lru_cache(maxsize=65536)
def show_day(text: str, form: str = "long") -> str:
    """Return a day text in the book's date form.

    form: "iso" 2025-10-03, "dmy" 03/10/2025, "mdy" 10/03/2025, "long" 3 Oct 2025. A partial day shows only
    what is known. Raises Refused for text that is no day and for an unknown form.
    """
    if form not in ("iso", "dmy", "mdy", "long"):
        raise Refused(f'Date form "{form}" is not known.', "Type one of: iso, dmy, mdy, long.")
    parts = parse_day(text).text.split("-")
    if form == "iso" or len(parts) == 1:
        return "-".join(parts)
    if form == "long":
        parts[1] = _MONTHS[int(parts[1]) - 1]
        return " ".join([str(int(part)) for part in parts[2:]] + [parts[1], parts[0]])
    order = [2, 1, 0] if form == "dmy" else [1, 2, 0]
    return "/".join(parts[i] for i in order if i < len(parts))


# --- money -------------------------------------------------------------------------------------------------

# ISO 4217 list one, column "minor unit"; every other currency has two digits. From memory, compared with one
# published copy of the list; its fund codes (CLF, UYI, UYW) are left out: nobody pays a belt with them.
# A code has three letters, so it is found in these lists only as a whole word.
_NO_MINOR = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"
_THREE_DIGITS = "BHD IQD JOD KWD LYD OMR TND"
_CODE = re.compile(r"[A-Z]{3}", re.ASCII)


def minor_digits(currency: str) -> int:
    """Return how many digits after the point a currency has (0, 2 or 3). Raises Refused if it is no code."""
    if _CODE.fullmatch(currency) is None:
        raise Refused(f'Currency "{currency}" is not three capital letters.', "Type it as EUR (ISO 4217).")
    if currency in _NO_MINOR:
        return 0
    return 3 if currency in _THREE_DIGITS else 2


@dataclass(frozen=True, slots=True)
class Money:
    """An exact sum: `minor` units (cents) of an ISO 4217 currency. Only equal currencies can be added."""

    minor: int
    currency: str

    def __add__(self, other: Money) -> Money:
        if self.currency != other.currency:
            raise Refused(
                f"{self.currency} and {other.currency} cannot be added without a stated rate.",
                "Total each currency by itself.",
            )
        return Money(self.minor + other.minor, self.currency)

    @property
    def text(self) -> str:
        """The sum with its currency's digits and without the code: "18.00"."""
        return format(Decimal(self.minor).scaleb(-minor_digits(self.currency)), "f")


_MOST_MONEY = 10**12  # a million sums of that size still fit a 64-bit integer


def parse_money(text: str, currency: str) -> Money:
    """Return the sum that `text` spells. Raises Refused for more digits than the currency has."""
    digits = minor_digits(currency)
    number = parse_number(text)
    if -int(number.as_tuple().exponent) > digits:
        raise Refused(
            f"{text.strip()} {currency} has too many digits: {currency} has {digits} after the point.",
            f'Type it as "{Money(1800, currency).text}".',
        )
    if abs(number) > _MOST_MONEY:
        raise Refused(f"{text.strip()} {currency} is more than can be kept.", "Type a smaller amount.")
    return Money(int(number.scaleb(digits)), currency)
