"""Which instruments can be compared at all: those that readings of one segment tie together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from collection.analysis.drift.given import Bools, Fleet, Ints


@dataclass(frozen=True, slots=True, eq=False)
class Groups:
    """group (instruments,): those of one number are tied together by segments that both read, directly or not.

    to_reference (instruments,): its group has a reference. base (instruments,): the one its offset is told against,
    itself where that is zero. compared: the instruments that have an offset to be found, in order.
    """

    group: Ints
    to_reference: Bools
    base: Ints
    compared: Ints


def groups_of(fleet: Fleet) -> Groups:
    """Return the groups; a group without a reference is told against its instrument with the most readings."""
    group = _tied(fleet)
    used = np.bincount(fleet.instrument, minlength=fleet.instruments)
    has = np.zeros(fleet.instruments, dtype=bool)
    has[group[fleet.reference]] = True
    to_reference = has[group]
    base = np.arange(fleet.instruments)
    for number in np.unique(group):
        mine = np.flatnonzero(group == number)
        named = mine[fleet.reference[mine]]
        chosen = (named if len(named) else mine)[int(np.argmax(used[named if len(named) else mine]))]
        rest = mine[~fleet.reference[mine]] if len(named) else mine
        base[rest] = chosen
    compared = np.flatnonzero((base != np.arange(fleet.instruments)) & (used > 0))
    return Groups(group, to_reference, base, compared)


def same_groups(one: Groups, other: Groups) -> bool:
    """Say whether two fleets of the same instruments compare them alike."""
    return bool(
        np.array_equal(one.group, other.group)
        and np.array_equal(one.base, other.base)
        and np.array_equal(one.compared, other.compared)
    )


def _tied(fleet: Fleet) -> Ints:
    """Return the least number of an instrument that each is tied to."""
    label = np.arange(fleet.instruments)
    pairs = np.unique(np.stack([fleet.segment, fleet.instrument]), axis=1)
    while True:
        least = np.full(fleet.segments, fleet.instruments)
        np.minimum.at(least, pairs[0], label[pairs[1]])
        new = label.copy()
        np.minimum.at(new, pairs[1], least[pairs[0]])
        if (new == label).all():
            return label
        label = new[new]
