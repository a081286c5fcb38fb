"""Readings, uses, parts and turned screws as they are typed in one option: "rail voltage[+5 V]=5.02 V @bench meter"."""

from __future__ import annotations

import re

from collection.acts.adjustments import GivenTurn
from collection.acts.readings import GivenReading
from collection.acts.service_given import GivenLube, GivenPart, GivenUse
from collection.analysis.lubricants import parse_put
from collection.errors import Refused

_SERIES = re.compile(r"\s*([^\[\]=]+?)\s*(?:\[\s*([^\[\]]*?)\s*\])?\s*", re.ASCII)
_NUMBER = re.compile(r"([+\-\N{MINUS SIGN}]?[0-9.,]*[0-9])\s*(.*)", re.ASCII | re.DOTALL)
_READING_FORM = 'Type it as "spindle speed=301.2", "rail voltage[+5 V]=5.02" or "spindle speed=199.2 ms @counter".'


def parse_reading(text: str) -> GivenReading:
    """Return the reading that "MEASUREMENT[POINT]=VALUE UNIT @INSTRUMENT" spells; only the value must follow.

    Raises Refused for another form.
    """
    left, equals, right = text.partition("=")
    if "[" in left and "]" not in left:  # a point may hold an equals sign
        left, equals, right = text.partition("]=")
        left += "]"
    series = _SERIES.fullmatch(left)
    value, _, instrument = right.partition("@")
    if not equals or series is None or not value.strip():
        raise Refused(f'"{text}" is no reading.', _READING_FORM)
    number, unit = split_value(value)
    return GivenReading(series[1], number, series[2] or "", unit, instrument.strip())


def split_series(text: str) -> tuple[str, str]:
    """Return measurement and point: "rail voltage[+5 V]" gives "rail voltage" and "+5 V"."""
    series = _SERIES.fullmatch(text)
    return (series[1], series[2] or "") if series else (text.strip(), "")


def split_value(text: str) -> tuple[str, str]:
    """Return a value and the unit behind it: "199.2 ms" gives "199.2" and "ms"; a word stays as it is."""
    match = _NUMBER.fullmatch(text.strip())
    return (match[1], match[2].strip()) if match else (text.strip(), "")


def parse_use(text: str) -> GivenUse:
    """Return the use that "SUPPLY=AMOUNT UNIT" or "SUPPLY/LOT=AMOUNT UNIT" spells. Raises Refused for another form."""
    supply, equals, amount = text.rpartition("=")
    if not equals or not supply.strip() or not amount.strip():
        raise Refused(f'"{text}" is no amount of a supply.', 'Type it as "isopropyl alcohol 99 %=2 ml".')
    number, unit = split_value(amount)
    return GivenUse(supply.strip(), number, unit)


def parse_part(text: str) -> GivenPart:
    """Return the part that "PART=SUPPLY", "PART=SUPPLY/LOT" or "PART from TAG" spells. Raises Refused otherwise."""
    part, equals, supply = text.partition("=")
    if equals and part.strip() and supply.strip():
        return GivenPart(part.strip(), supply=supply.strip())
    part, word, donor = text.rpartition(" from ")
    if not equals and word and part.strip() and donor.strip():
        return GivenPart(part.strip(), donor=donor.strip())
    raise Refused(f'"{text}" is no fitted part.', 'Type it as "belt=belt 5 mm/LOT" or "belt from D7".')


def parse_lubed(text: str) -> GivenLube:
    """Return what "POINT=LUBRICANT" or "POINT=LUBRICANT, cleaned off first" spells. Raises Refused for another form."""
    return GivenLube(*parse_put(text))


def parse_turned(text: str) -> GivenTurn:
    """Return the turn that "SCREW=AMOUNT DIRECTION" spells, maybe with "for MEASUREMENT" behind it.

    Raises Refused for another form.
    """
    screw, equals, turned = text.partition("=")
    turned, _, measurement = turned.partition(" for ")
    amount, _, direction = turned.strip().rpartition(" ")
    if not (equals and screw.strip() and amount.strip() and direction):
        raise Refused(f'"{text}" is no turn of a screw.', 'Type it as "speed trimmer=1/8 clockwise".')
    return GivenTurn(screw.strip(), amount.strip(), direction, measurement.strip())
