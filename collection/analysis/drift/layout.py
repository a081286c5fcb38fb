"""The order in which the readings of many segments are worked through together.

A filter runs along the readings of a segment one after the other. To run it along thousands of segments at once, the
readings stand *by step*: the first reading of every segment, then the second of every segment that has two, and so
on, the longest segments first. Each step is then one slice of the arrays, and its segments are the first ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from collection.analysis.drift.given import Fleet, Floats, Ints


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Readings by step; segments by length, the longest first; runs and series that have a reading.

    order: the place in the fleet of each reading by step. starts, counts: where each step begins and how many segments
    reach it. segment: per reading. run: per segment. segments_by_run with run_starts: the segments of each run stand
    together there. series: per run; run_class: per run; runs_by_class with class_starts likewise, of the classes in
    `classes`. series_of_run are places in the fleet. last_segment: of each run. years: time of each reading counted
    from the last one of its series. gap: years since the reading before it in its segment, 0 for the first.
    """

    order: Ints
    starts: Ints
    counts: Ints
    segment: Ints
    run: Ints
    segments_by_run: Ints
    run_starts: Ints
    series: Ints
    run_class: Ints
    last_segment: Ints
    years: Floats
    gap: Floats
    end: Floats

    @property
    def segments(self) -> int:
        """How many segments have a reading."""
        return len(self.run)

    @property
    def runs(self) -> int:
        """How many runs have a reading."""
        return len(self.series)

    def of_runs(self, per_segment: Floats) -> Floats:
        """Return sums over the segments of each run; the segments are the last axis."""
        return np.add.reduceat(per_segment[..., self.segments_by_run], self.run_starts, axis=-1)


def layout_of(fleet: Fleet) -> Layout:
    """Return the layout of a fleet that has at least one reading."""
    lengths = np.bincount(fleet.segment, minlength=fleet.segments)
    ranked = np.argsort(-lengths, kind="stable")[: int((lengths > 0).sum())]
    rank = np.full(fleet.segments, -1)
    rank[ranked] = np.arange(len(ranked))
    by_segment = np.argsort(fleet.segment, kind="stable")
    firsts = np.concatenate(([0], np.cumsum(lengths)[:-1]))
    place = np.empty(len(by_segment), dtype=np.int64)
    place[by_segment] = np.arange(len(by_segment)) - firsts[fleet.segment[by_segment]]
    order = np.argsort(place * len(ranked) + rank[fleet.segment], kind="stable")
    counts = np.bincount(place)
    segment = rank[fleet.segment[order]]
    runs, run = np.unique(fleet.segment_run[ranked], return_inverse=True)
    segments_by_run = np.argsort(run, kind="stable")
    series = fleet.run_series[runs]
    ends = np.full(fleet.series, -np.inf)
    np.maximum.at(ends, fleet.run_series[fleet.segment_run[fleet.segment]], fleet.years)
    latest = np.zeros(len(runs), dtype=np.int64)
    np.maximum.at(latest, run, ranked)
    return Layout(
        order=order,
        starts=np.concatenate(([0], np.cumsum(counts)[:-1])),
        counts=counts,
        segment=segment,
        run=run,
        segments_by_run=segments_by_run,
        run_starts=np.searchsorted(run[segments_by_run], np.arange(len(runs))),
        series=series,
        run_class=fleet.series_class[series],
        last_segment=rank[latest],
        years=(fleet.years - ends[fleet.run_series[fleet.segment_run[fleet.segment]]])[order],
        gap=_gaps(fleet, by_segment, place)[order],
        end=ends,
    )


def _gaps(fleet: Fleet, by_segment: Ints, place: Ints) -> Floats:
    gap = np.zeros(len(place))
    gap[by_segment[1:]] = np.diff(fleet.years[by_segment])
    return np.where(place == 0, 0.0, np.maximum(gap, 0.0))
