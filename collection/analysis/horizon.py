"""How far ahead a person wants to look: "60d", "8w", "2m"."""

from __future__ import annotations

import re
from datetime import date

from collection.analysis.months import add_months
from collection.errors import Refused

_HORIZON = re.compile(r"([0-9]{1,5}) ?([dwm])", re.ASCII)


def days_ahead(text: str, today: date) -> int:
    """Return how many days after `today` a time of days, weeks or calendar months ends.

    Raises Refused for any other form and for a time that leaves the calendar.
    """
    match = _HORIZON.fullmatch(text.strip().lower())
    if match is None:
        raise Refused(f'"{text}" is no time ahead.', "Type days, weeks or months, as 60d, 8w or 2m.")
    number, what = int(match[1]), match[2]
    if what == "m":
        return (add_months(today, number) - today).days
    return number * (7 if what == "w" else 1)
