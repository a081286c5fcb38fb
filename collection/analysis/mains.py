"""Whether the voltage a unit is set for is that of the mains."""

from __future__ import annotations

import re

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
    volts = [each for each in map(int, _VOLTS.findall(setting)) if _LEAST <= each <= _MOST]
    if not volts or any(low <= mains_volts <= high for low, high in ranges):
        return ""
    if any(abs(each - mains_volts) <= _WITHIN * mains_volts for each in volts):
        return ""
    return f"the mains here are {mains_volts} V"
