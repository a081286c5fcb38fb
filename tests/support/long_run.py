"""How many random cases an ordinary run tries, and how many the long one before a release."""

from __future__ import annotations

import os

LONG = "SPINDLEBOOK_FUZZ" in os.environ


def cases(few: int, many: int) -> int:
    """Return `few` in an ordinary run, `many` where SPINDLEBOOK_FUZZ is set."""
    return many if LONG else few
