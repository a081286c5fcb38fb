"""How far ahead or back a person wants to look: "60d", "8w", "2m", "12months"."""

from __future__ import annotations

import re
from datetime import date, timedelta

from collection.analysis.months import add_months
from collection.errors import Refused

_HORIZON = re.compile(r"([0-9]{1,5}) ?([dwm])", re.ASCII)
_BACK = re.compile(r"([0-9]{1,5}) ?(?:([dwmy])|(day|week|month|year)s?)", re.ASCII)


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


def day_back(text: str, today: date) -> date:
    """Return the day that lies a time of days, weeks, calendar months or years before `today`.

    Raises Refused for any other form and for a time that leaves the calendar.
    """
    match = _BACK.fullmatch(text.strip().lower())
    if match is None:
        raise Refused(f'"{text}" is no time.', "Type days, weeks, months or years, as 90d, 8w, 12months or 2y.")
    number, what = int(match[1]), (match[2] or match[3])[0]
    if what in "my":
        return add_months(today, -number * (12 if what == "y" else 1))
    days = number * (7 if what == "w" else 1)
    if days >= today.toordinal():
        raise Refused(f"{text} before {today} lies outside the calendar.", "Give a shorter time.")
    return today - timedelta(days=days)
