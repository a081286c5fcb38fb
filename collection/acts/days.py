"""The one day on which something happened, as a person types it."""

from __future__ import annotations

from datetime import date

from collection.errors import Refused
from collection.quantity import Day, parse_day

_EARLIEST = 1950  # no disk drive is older; a year before it is a slip of the finger


def day_given(text: str, today: date, option: str = "--on") -> date:
    """Return the day that `text` spells, `today` where nothing is given.

    Raises Refused for a day of no calendar, one known only to its month or year, one that has not come yet,
    and one before 1950.
    """
    if not text:
        return today
    day = parse_day(text)
    if not day.full:
        raise Refused(f"{option} {day.text} names no single day.", f"Type the whole day, as {today.isoformat()}.")
    return _not_ahead(_not_too_early(day, option), today, option).first


def past_day(text: str, today: date, option: str) -> str:
    """Return the day, maybe known only to its month or year, that `text` spells, `today` where nothing is given.

    Raises Refused for a day of no calendar, one that has not come yet, and one before 1950.
    """
    if not text:
        return today.isoformat()
    return _not_ahead(_not_too_early(parse_day(text), option), today, option).text


def day_ahead(text: str, option: str) -> date:
    """Return the day that `text` spells, past or future. Raises Refused for no day and one not whole."""
    day = parse_day(text)
    if not day.full:
        raise Refused(f"{option} {day.text} names no single day.", "Type the whole day, as 2026-03-01.")
    return _not_too_early(day, option).first


def _not_ahead(day: Day, today: date, option: str) -> Day:
    if day.first > today:
        raise Refused(
            f"{option} {day.text} has not come yet (today is {today.isoformat()}).",
            "Type the day on which it happened.",
        )
    return day


def _not_too_early(day: Day, option: str) -> Day:
    if day.first.year < _EARLIEST:
        raise Refused(f"{option} {day.text} is before {_EARLIEST}: no drive is that old.", "Type the year in full.")
    return day
