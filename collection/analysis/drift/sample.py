"""Parts of a fleet, and the sample of a large one that stands for the whole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from collection.analysis.drift.given import Fleet, Ints

_OF_TIE, _OF_CLASS = 30, 100  # series of each kind in a sample, where there are so many


def part_of(fleet: Fleet, series: Ints) -> tuple[Fleet, Ints]:
    """Return the fleet of some series alone (ascending places), and the places of its readings in the whole."""
    new_series = _numbers(fleet.series, series)
    runs = np.flatnonzero(new_series[fleet.run_series] >= 0)
    new_run = _numbers(fleet.runs, runs)
    segments = np.flatnonzero(new_run[fleet.segment_run] >= 0)
    new_segment = _numbers(fleet.segments, segments)
    readings = np.flatnonzero(new_segment[fleet.segment] >= 0)
    part = replace(
        fleet,
        years=fleet.years[readings],
        values=fleet.values[readings],
        segment=new_segment[fleet.segment[readings]],
        instrument=fleet.instrument[readings],
        segment_run=new_run[fleet.segment_run[segments]],
        run_series=new_series[fleet.run_series[runs]],
        series_class=fleet.series_class[series],
    )
    return part, readings


def before(fleet: Fleet, years: float) -> Fleet:
    """Return a fleet with the readings before a time alone; its segments, runs and series stay, some without any."""
    kept = np.flatnonzero(fleet.years < years)
    return replace(
        fleet,
        years=fleet.years[kept],
        values=fleet.values[kept],
        segment=fleet.segment[kept],
        instrument=fleet.instrument[kept],
    )


def _numbers(count: int, kept: Ints) -> Ints:
    numbers = np.full(count, -1)
    numbers[kept] = np.arange(len(kept))
    return numbers


def sample_of(fleet: Fleet, many: int) -> Ints:
    """Return the places of about `many` series, ascending, that stand for the whole.

    Chosen by a number mixed from the place of each series (Fibonacci hashing), so that neither values nor the number
    of readings matter; but every class is in it, and every instrument and pair of instruments that meet in a segment,
    so that what can be compared in the fleet can be in the sample.
    """
    mixed = np.arange(fleet.series, dtype=np.uint64) * np.uint64(11400714819323198485)
    order = (mixed >> np.uint64(32)).astype(np.int64)
    whose = fleet.run_series[fleet.segment_run]
    met = np.unique(np.stack([fleet.segment, fleet.instrument]), axis=1)
    together = met[0, 1:] == met[0, :-1]
    first, second = met[1, :-1][together], met[1, 1:][together]
    ties = np.concatenate((met[1] * (fleet.instruments + 1), first * fleet.instruments + second))
    ties[len(met[1]) :] += (fleet.instruments + 1) ** 2
    of_tie = np.concatenate((whose[met[0]], whose[met[0, :-1][together]]))
    chosen = np.concatenate(
        (
            _some(ties, of_tie, order, _OF_TIE),
            _some(fleet.series_class, np.arange(fleet.series), order, _OF_CLASS),
            np.argsort(order, kind="stable")[:many],
        )
    )
    return np.unique(chosen)


def _some(kind: Ints, series: Ints, order: Ints, many: int) -> Ints:
    """Return the first `many` series of each kind, in the mixed order."""
    pairs = np.unique(np.stack([kind, series]), axis=1)
    pairs = pairs[:, np.lexsort((order[pairs[1]], pairs[0]))]
    starts = np.searchsorted(pairs[0], pairs[0])
    return np.asarray(pairs[1][np.arange(len(starts)) - starts < many])
