"""In which order the readings of a series stand, and where services cut it into segments.

What a service read as found lies before what it reset, what it read as left after it, whatever else was read that day
in the order in which readings have it (`views.readings.newest_first`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from collection.views.drift_columns import BETWEEN, FOUND, LEFT, Bools, Ints, Resets, Taken

_RESET = 1  # between readings as found and as left of one service; those have 0 and 2
_NEVER = np.iinfo(np.int64).max // 4


class Cut(NamedTuple):
    """Readings in order, and the resets among them.

    order: places of the readings, by history and then as they were taken. resets_before, slopes_before: how many
    resets of its history stand before each reading, and how many of these began a new slope; amid: it was read between
    as found and as left in a service that reset it. These are in the order of `order`. For each reset in order:
    reset_history, reset_row (its place in what was given), reset_slope (it began a new slope).
    """

    order: Ints
    resets_before: Ints
    slopes_before: Ints
    amid: Bools
    reset_history: Ints
    reset_row: Ints
    reset_slope: Bools


def cut(taken: Taken, history: Ints, resets: Resets, reset_history: Ints, reset_row: Ints) -> Cut:
    """Cut the histories of readings (history: of each) where resets fall.

    reset_history, reset_row: pairs of a history and the reset, by its place in `resets`, that falls into it.
    """
    place = _places(taken)
    reset_half, reset_place, amid = _fall(taken, history, place, resets, reset_history, reset_row)
    late = np.where(taken.stage == LEFT, 2, 0)
    events = len(reset_row)
    both_history = np.concatenate((history, reset_history))
    order = np.lexsort(
        (
            np.concatenate((taken.id, reset_row)),
            np.concatenate((late, np.full(events, _RESET))),
            np.concatenate((2 * place, reset_place)),
            np.concatenate((taken.half, reset_half)),
            both_history,
        )
    )
    is_reset = order >= len(history)
    which = order[is_reset] - len(history)
    slope = np.zeros(len(order), dtype=np.int64)
    slope[is_reset] = resets.slope[reset_row[which]]
    sorted_history = both_history[order]
    before = _since_start(is_reset.astype(np.int64), sorted_history)[~is_reset]
    slopes = _since_start(slope, sorted_history)[~is_reset]
    read = order[~is_reset]
    rows = reset_row[which]
    return Cut(read, before, slopes, amid[read], reset_history[which], rows, resets.slope[rows])


def _places(taken: Taken) -> Ints:
    """Return the place of each reading within its day: that of the first reading of its service, else its own."""
    order = np.lexsort((taken.service, taken.day, taken.series))
    keys = np.stack((taken.series, taken.day, taken.service))[:, order]
    begins = np.ones(len(order), dtype=bool)
    begins[1:] = (keys[:, 1:] != keys[:, :-1]).any(axis=0)
    firsts = taken.id[order][begins]
    place = np.empty(len(order), dtype=np.int64)
    place[order] = firsts[np.cumsum(begins) - 1] if len(order) else firsts
    return np.where(taken.service > 0, place, taken.id)


def _fall(
    taken: Taken, history: Ints, place: Ints, resets: Resets, reset_history: Ints, reset_row: Ints
) -> tuple[Ints, Ints, Bools]:
    """Return day (in half days) and place of each reset, and which readings were taken amid one.

    The day is the one told, unless the service read as found only later or as left only before.
    """
    service, half = resets.service[reset_row], resets.half[reset_row]
    base = int(max(service.max(initial=0), taken.service.max(initial=0))) + 1
    wanted = np.unique(reset_history * base + service)
    mine = np.flatnonzero((taken.service > 0) & np.isin(history * base + taken.service, wanted))
    pair = np.searchsorted(wanted, history[mine] * base + taken.service[mine])
    of_reset = np.searchsorted(wanted, reset_history * base + service)
    first_found, last_left = np.full(len(wanted), -_NEVER), np.full(len(wanted), _NEVER)
    found, left = mine[taken.stage[mine] == FOUND], mine[taken.stage[mine] == LEFT]
    _least(first_found, pair[taken.stage[mine] == FOUND], taken.half[found])
    _most(last_left, pair[taken.stage[mine] == LEFT], taken.half[left])
    half = np.minimum(np.maximum(half, first_found[of_reset]), last_left[of_reset])
    amid = np.zeros(len(history), dtype=bool)
    amid[mine[taken.stage[mine] == BETWEEN]] = True
    return half, _reset_places(taken, place, mine, pair, of_reset, half, resets.act[reset_row]), amid


def _reset_places(taken: Taken, place: Ints, mine: Ints, pair: Ints, of_reset: Ints, half: Ints, act: Ints) -> Ints:
    """Return the place of resets within their day: with the readings of their service, else by when it was written."""
    days, low = 1 << 24, 1 << 23
    with_day = pair * days + taken.half[mine] + low
    known, at = np.unique(with_day, return_inverse=True)
    firsts = np.full(len(known), -_NEVER)
    _least(firsts, at, place[mine])
    wanted = of_reset * days + half + low
    near = np.searchsorted(known, wanted)
    same = near < len(known)
    same[same] = known[near[same]] == wanted[same]
    entered = np.searchsorted(np.maximum.accumulate(taken.act), act)
    ids = np.append(taken.id, _NEVER)
    made = ids[entered]
    # A reading of that act itself, or of a later one, comes after the reset: half a step before it.
    places = 2 * made - 1
    places[same] = 2 * firsts[near[same]]
    return places


def _least(into: Ints, at: Ints, values: Ints) -> None:
    """Put the least of the values into each place that has any."""
    order = np.lexsort((-values, at))
    into[at[order]] = values[order]


def _most(into: Ints, at: Ints, values: Ints) -> None:
    """Put the greatest of the values into each place that has any."""
    order = np.lexsort((values, at))
    into[at[order]] = values[order]


def _since_start(counted: Ints, group: Ints) -> Ints:
    """Return running sums that begin anew with each group; groups stand together."""
    if not len(group):
        return counted
    sums = np.cumsum(counted)
    begins = np.ones(len(group), dtype=bool)
    begins[1:] = group[1:] != group[:-1]
    at = np.flatnonzero(begins)
    return sums - np.repeat((sums - counted)[at], np.diff(np.append(at, len(group))))
