"""Which units are fed from the mains, and whether the voltage one is set for is that of the mains."""

from __future__ import annotations

import re
from collections.abc import Iterable

from collection.analysis.donor_parts import has_mains
from collection.errors import fold

# IEC 60038 and EN 50160 let the supply voltage lie within 10 % of its nominal: from memory.
_WITHIN = 0.1
_RANGE = re.compile(r"(?<![\d.,])(\d{2,3})(?:\s*V)?\s*(?:-|\N{EN DASH}|to)\s*(\d{2,3})(?![\d.,])", re.ASCII)
_VOLTS = re.compile(r"(?<![\d.,])(\d{2,3})(?![\d.,]|\s*(?:Hz|W|VA|m?A)\b)", re.ASCII | re.IGNORECASE)
_LEAST, _MOST = 90, 480  # below is no mains, above no plug


def other_mains(setting: str, mains_volts: int) -> str:
    """Return what speaks against plugging a unit with this mains setting in, "" for nothing.

    A setting fits when it names a range that holds the mains voltage, or a voltage within 10 % of it; one without a
    voltage says nothing.
    """
    ranges = [(int(low), int(high)) for low, high in _RANGE.findall(setting)]
    volts = _mains_volts(setting)
    if not volts or any(low <= mains_volts <= high for low, high in ranges):
        return ""
    if any(abs(each - mains_volts) <= _WITHIN * mains_volts for each in volts):
        return ""
    return f"the mains here are {mains_volts} V"


def fed_from_mains(kind: str, drive_type: str, supply_inside: bool | None, settings: Iterable[str]) -> bool:
    """Say whether a unit is fed from the mains, as far as the book can tell.

    It is where its model says that a supply is inside, where its kind or its motor is fed so, and where a mains voltage
    was noted when it came (settings). A computer is unless its model says that no supply is inside. Common practice, no
    source: who knows better says so on the model.
    """
    if supply_inside or has_mains(kind) or fold(drive_type) == "ac motor" or any(map(_mains_volts, settings)):
        return True
    return fold(kind) == "computer" and supply_inside is None


def _mains_volts(setting: str) -> list[int]:
    return [each for each in map(int, _VOLTS.findall(setting)) if _LEAST <= each <= _MOST]
