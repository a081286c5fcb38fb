"""The days at the bench, one after another without end, and what room each of them has left."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from datetime import date, timedelta

_WEEK = 7


class Calendar:
    """Bench days from a day on, counted by their place from 0; each has the same minutes.

    An opening goes on a day with room for all of it. One that is longer than any day goes alone on a day of its own.
    """

    def __init__(self, first: date, weekdays: Collection[int], minutes: int) -> None:
        """Begin on `first`; weekdays: 0 for Monday, at least one."""
        self.minutes = minutes
        self._first = first
        self._offsets = [ahead for ahead in range(_WEEK) if (first + timedelta(ahead)).weekday() in weekdays]
        self._used: Counter[int] = Counter()
        self._openings: Counter[int] = Counter()
        # By length of an opening: all days before this place have no room for one. Room only ever gets less.
        self._full_before: dict[int, int] = {}

    def day(self, place: int) -> date:
        """Return the day at a place."""
        weeks, within = divmod(place, len(self._offsets))
        return self._first + timedelta(weeks * _WEEK + self._offsets[within])

    def last_until(self, day: date) -> int:
        """Return the place of the last bench day until a day, that day counted; -1 where there is none."""
        weeks, within = divmod((day - self._first).days, _WEEK)
        return weeks * len(self._offsets) + sum(ahead <= within for ahead in self._offsets) - 1

    def first_from(self, day: date) -> int:
        """Return the place of the first bench day from a day on, that day counted."""
        return max(0, self.last_until(day - timedelta(1)) + 1)

    def in_use(self, place: int) -> bool:
        """Say whether something is planned for a day."""
        return bool(self._openings[place])

    def has_room(self, place: int, minutes: int) -> bool:
        """Say whether an opening of so many minutes may go on a day; on an empty one it always may."""
        return not self.in_use(place) or self._used[place] + minutes <= self.minutes

    def first_with_room(self, minutes: int, start: int) -> int:
        """Return the first place from `start` on with room for an opening."""
        known = self._full_before.get(minutes, 0)
        place = max(start, known)
        while not self.has_room(place, minutes):
            place += 1
        if start <= known:
            self._full_before[minutes] = place
        return place

    def last_with_room(self, minutes: int, start: int, end: int) -> int | None:
        """Return the last place from `start` to `end` with room for an opening; None where there is none."""
        least = max(start, self._full_before.get(minutes, 0))
        return next((place for place in range(end, least - 1, -1) if self.has_room(place, minutes)), None)

    def last_in_use_with_room(self, minutes: int, start: int, end: int) -> int | None:
        """Return the last place from `start` to `end` that is in use and has room; None where there is none."""
        places = range(end, start - 1, -1)
        return next((place for place in places if self.in_use(place) and self.has_room(place, minutes)), None)

    def take(self, place: int, minutes: int) -> None:
        """Plan an opening of so many minutes for a day."""
        self._used[place] += minutes
        self._openings[place] += 1
