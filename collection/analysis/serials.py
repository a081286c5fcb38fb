"""Serial numbers that make one wonder: they are marked, never refused."""

from __future__ import annotations

import re

from collection.errors import fold

_PLACEHOLDERS = frozenset({"?", "-", "n/a", "na", "none", "unknown", "no", "x", "0", "s/n", "tbd", "lost", "illegible"})
_TURNED_TO_NUMBER = re.compile(r"[0-9](\.[0-9]+)?e\+[0-9]+|[0-9]+\.0", re.ASCII)


def odd_serial(serial: str, state: str | None) -> str | None:
    """Return what is odd about a serial number, or None. state: known, lost, illegible, or None."""
    folded = fold(serial)
    if state == "lost":
        return "a serial is given though it is lost"
    if folded in _PLACEHOLDERS or "?" in serial:
        return "is this a serial? serial_state may say lost or illegible"
    if len(folded) > 3 and len(set(folded)) == 1:
        return "is one character over and over"
    if _TURNED_TO_NUMBER.fullmatch(folded):
        return "looks as if a spreadsheet had turned it into a number"
    return None
