"""What ties instruments to one another: readings of one segment, by two of them directly or by way of others."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from collection.analysis.drift.given import Bools, Floats, Ints


class Tie(NamedTuple):
    """What an instrument is told against (its place, -1 for nothing), and what ties it to that.

    direct: in how many segments both were read. indirect: how many other instruments read the same things as this
    one and are themselves tied to what it is told against. told: something can be said of its offset at all, if only
    that it is what the others are told against.
    """

    against: int
    direct: int
    indirect: int
    told: bool


def shared_segments(segment: Ints, instrument: Ints, instruments: int) -> Ints:
    """Return in how many segments each two instruments were read (instruments, instruments), 0 on the diagonal.

    segment, instrument: of each reading.
    """
    many = max(instruments, 1)
    pairs = np.unique(segment * many + instrument)
    of_segment, of_instrument = pairs // many, pairs % many
    both = np.zeros((instruments, instruments), dtype=np.int64)
    for place in range(instruments):
        same = np.isin(of_segment, of_segment[of_instrument == place])
        both[place] = np.bincount(of_instrument[same], minlength=instruments)
        both[place, place] = 0
    return both


def ties(shared: Ints, group: Ints, reference: Bools, width: Floats, readings: Ints) -> list[Tie]:
    """Return the tie of each instrument.

    shared: see `shared_segments`. group: those of one number can be compared. width: of each one's interval of
    offset, 0 for those that the others of their group are told against. readings: of each. Of several that could be
    told against, it is the one with the most readings.
    """
    return [_tie(place, shared, group, reference, width, readings) for place in range(len(group))]


def _tie(place: int, shared: Ints, group: Ints, reference: Bools, width: Floats, readings: Ints) -> Tie:
    if reference[place]:
        return Tie(-1, 0, 0, told=True)
    mine = np.flatnonzero(group == group[place])
    fixed = mine[reference[mine]] if reference[mine].any() else mine[width[mine] == 0]
    against = int(fixed[np.argmax(readings[fixed])]) if len(fixed) else -1
    if against in (place, -1):
        return Tie(-1, 0, 0, told=against == place and len(mine) > 1)
    over = (shared[place] > 0) & _reached(shared, against, place)
    over[[place, against]] = False
    return Tie(against, int(shared[place, against]), int(over.sum()), told=True)


def _reached(shared: Ints, start: int, without: int) -> Bools:
    """Say which instruments readings tie to one of them, leaving one other out."""
    reached = np.zeros(len(shared), dtype=bool)
    reached[start] = True
    while True:
        more = reached | (shared[reached] > 0).any(axis=0)
        more[without] = False
        if (more == reached).all():
            return reached
        reached = more
