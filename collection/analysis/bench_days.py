"""The days of the week on which there is work at the bench: as they are typed, kept and reckoned with."""

from __future__ import annotations

import re

from collection.errors import Refused

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_SHORT = 3  # letters by which a day is kept, and the fewest that name one
_BETWEEN = re.compile(r"[\s,;]+")


def parse_weekdays(text: str) -> str:
    """Return the days that `text` spells ("Sunday, sat") as they are kept: "sat,sun", from Monday on, each once.

    Raises Refused for a word that is no day of the week, and for none at all.
    """
    words = [word for word in _BETWEEN.split(text.strip().casefold()) if word]
    found = {_weekday(word) for word in words}
    if not found:
        raise Refused("No day of the week was given.", "Type days as sat,sun.")
    return ",".join(WEEKDAYS[day][:_SHORT] for day in sorted(found))


def bench_weekdays(kept: str | None) -> tuple[int, ...]:
    """Return the days of a text as it is kept, 0 for Monday; none where nothing was set."""
    return tuple(_weekday(word) for word in kept.split(",")) if kept else ()


def show_weekdays(kept: str) -> str:
    """Return days as a person reads them: "Saturday and Sunday"."""
    names = [WEEKDAYS[day].capitalize() for day in bench_weekdays(kept)]
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _weekday(word: str) -> int:
    for day, name in enumerate(WEEKDAYS):
        if len(word) >= _SHORT and name.startswith(word):
            return day
    raise Refused(f'"{word}" is no day of the week.', "Type days as sat,sun.")
