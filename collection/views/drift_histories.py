"""Whose readings they are: a unit's own, or those of the mechanism that sat in it then and sits elsewhere now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from collection.analysis.mechanisms import Mechanisms, Span
from collection.views.drift_columns import STAGES, Bools, Ints, Resets, Taken, day_text

_AFTER = "as left"


class Histories(NamedTuple):
    """The histories of one measurement: what was read of one unit or mechanism at one point.

    owner, point: of each history, ascending; the owner is a unit's id or the number of a mechanism, the point a code.
    unit: the place of the unit in which it is now, -1 where its mechanism lies loose; shown: the same, but then of
    the unit in which it was read last. of_reading: the history of each reading; lost: no mechanism was in its unit.
    """

    owner: Ints
    point: Ints
    unit: Ints
    shown: Ints
    of_reading: Ints
    lost: Bools


class Owners:
    """Tells whose readings and whose resets they are."""

    def __init__(self, moved: Mechanisms, places: Mapping[int, int]) -> None:
        """places: of each unit, by its id, its place in the list of units."""
        self._moved, self._places = moved, places
        self._sat: dict[int, list[tuple[Span, int]]] = defaultdict(list)
        for mechanism, spans in moved.spans.items():
            for span in spans:
                self._sat[span.unit_id].append((span, mechanism))

    def places(self, unit: Ints) -> Ints:
        """Return the places in the list of units of these, given by id."""
        known, number = np.unique(unit, return_inverse=True)
        return np.array([self._places[each] for each in known.tolist()], dtype=np.int64)[number]

    def histories(self, unit: Ints, point: Ints, read: Taken, *, along: bool) -> Histories:
        """Return the histories of readings with these units and points; along: mechanisms take them along."""
        owner, lost = unit.copy(), np.zeros(len(unit), dtype=bool)
        for at in self._touched(unit) if along else ():
            whose = self._at(int(unit[at]), day_text(int(read.day[at])), STAGES[read.stage[at]])
            lost[at] = whose is None
            owner[at] = self._home_owner(int(unit[at])) if whose is None else whose
        codes = int(point.max(initial=0)) + 1
        known, last, of_reading = _numbered(owner * codes + point)
        owners = known // codes
        homes = np.array([self._home(each) if along else self._places[each] for each in owners.tolist()])
        read_in = np.array([self._places[each] for each in unit[last].tolist()])
        return Histories(owners, known % codes, homes, np.where(homes < 0, read_in, homes), of_reading, lost)

    def resets(self, histories: Histories, resets: Resets, *, along: bool) -> tuple[Ints, Ints]:
        """Return pairs of a history and a reset that falls into it, by its place among the resets."""
        owner = resets.unit.copy()
        nobody = np.zeros(len(owner), dtype=bool)
        for at in self._touched(owner) if along else ():
            whose = self._at(int(owner[at]), day_text(int(resets.day[at])), _AFTER)
            nobody[at] = whose is None
            owner[at] = owner[at] if whose is None else whose
        first, past = (np.searchsorted(histories.owner, owner, side) for side in ("left", "right"))
        many = np.where(nobody, 0, past - first)
        row = np.repeat(np.arange(len(owner)), many)
        step = np.arange(len(row)) - np.repeat(np.cumsum(many) - many, many)
        return first[row] + step, row

    def _touched(self, unit: Ints) -> list[int]:
        places: list[int] = np.flatnonzero(np.isin(unit, list(self._moved.touched))).tolist()
        return places

    def _at(self, unit_id: int, day: str, stage: str) -> int | None:
        return next((mechanism for span, mechanism in self._sat[unit_id] if span.holds(day, stage)), None)

    def _home_owner(self, unit_id: int) -> int:
        now = self._moved.now_in(unit_id)
        return unit_id if now is None else now

    def _home(self, owner: int) -> int:
        """Return the place of the unit in which a unit's own or another mechanism is now, -1 for none."""
        home = self._moved.home_of(owner) if owner < 0 or owner in self._moved.touched else owner
        return -1 if home is None else self._places.get(home, -1)


def _numbered(keys: Ints) -> tuple[Ints, Ints, Ints]:
    """Return the distinct keys ascending, the last place of each, and the number of each place's key."""
    known, number = np.unique(keys, return_inverse=True)
    last = np.zeros(len(known), dtype=np.int64)
    last[number] = np.arange(len(keys))
    return known, last, number
