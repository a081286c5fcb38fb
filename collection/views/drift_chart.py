"""The chart of a series: how far each reading was from what those before it foretold, and what that signals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby
from statistics import median

import numpy as np

from collection.analysis.chart_words import signal_sentence
from collection.analysis.charts import (
    BEYOND,
    Bools,
    ErrorChart,
    Floats,
    IndividualsChart,
    error_chart,
    false_alarms_a_year,
    individuals_chart,
    why_no_individuals,
)
from collection.views.drift_rows import DriftReading, DriftRow, SeriesDrift

_YEAR = 365.25
_SUSPECTED = 0.5
_NOTHING = "No chart yet: it takes two readings with nothing set anew between them."


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """A reading on the chart.

    z: its prediction error in standard deviations, None for the first of a segment, which nothing foretells; mean:
    the weighted mean of the errors of its segment, with its signal line to both sides. beyond, drifted: which rule
    signals. sentence: what that says, "" without a signal. single_beyond: it lies beyond the lines of the classic
    chart.
    """

    reading: DriftReading
    z: float | None
    mean: float | None
    line: float | None
    beyond: bool
    drifted: bool
    sentence: str
    single_beyond: bool


@dataclass(frozen=True, slots=True, eq=False)
class SeriesChart:
    """The chart of one series.

    errors, days: what a picture is drawn from, one element a point. individuals: the classic chart of its corrected
    readings, or None with the reason in why_none. readings_a_year: how often it is read. false_alarms: how many
    signals to expect of it in a year with nothing wrong. nothing: why there is no chart, "" where there is one.
    """

    row: DriftRow
    points: tuple[ChartPoint, ...]
    errors: ErrorChart
    days: tuple[str, ...]
    individuals: IndividualsChart | None
    why_none: str
    readings_a_year: float
    false_alarms: float
    nothing: str


def chart_of(one: SeriesDrift) -> SeriesChart:
    """Return the chart of a series; readings that the fit put together are one point."""
    readings = _points(one.readings)
    z = np.array([np.nan if each.z is None else each.z for each in readings], dtype=np.float64)
    segments = [each.segment for each in readings]
    begins = np.array([at == 0 or segments[at] != segments[at - 1] for at in range(len(segments))], dtype=bool)
    errors = _without_stray(readings, z, begins)
    single, why = _individuals(one, readings)
    days = tuple(each.taken_on for each in readings)
    often = _readings_a_year(days)
    return SeriesChart(
        row=one.row,
        points=tuple(_point(each, at, errors, single) for at, each in enumerate(readings)),
        errors=errors,
        days=days,
        individuals=single,
        why_none=why,
        readings_a_year=often,
        false_alarms=false_alarms_a_year(1, often),
        nothing="" if np.isfinite(z).any() else _NOTHING,
    )


def _without_stray(readings: Sequence[DriftReading], z: Floats, begins: Bools) -> ErrorChart:
    """Return the chart in which a likely stray reading signals, and leaves the weighted mean as it was."""
    stray = np.array([(each.stray or 0.0) >= _SUSPECTED for each in readings], dtype=bool)
    chart = error_chart(np.where(stray, np.nan, z), begins)
    for at in np.flatnonzero(stray & ~begins).tolist():
        chart.mean[at], chart.line[at] = chart.mean[at - 1], chart.line[at - 1]
    with np.errstate(invalid="ignore"):
        return replace(chart, z=z, beyond=np.abs(z) > BEYOND)


def _points(readings: Sequence[DriftReading]) -> list[DriftReading]:
    """Return the readings that are used; those that the fit put together as one, with their median."""
    alike = groupby((each for each in readings if not each.state), _as_one)
    return [_as_one_reading(list(same)) for _, same in alike]


def _as_one_reading(same: Sequence[DriftReading]) -> DriftReading:
    values = [each.value for each in same if each.value is not None]
    corrected = [each.corrected for each in same if each.corrected is not None]
    return replace(
        same[-1], value=median(values) if values else None, corrected=median(corrected) if corrected else None
    )


def _as_one(reading: DriftReading) -> tuple[object, ...]:
    """Return what readings that the fit put together have in common."""
    return reading.taken_on, reading.instrument, reading.segment, reading.stray, reading.z


def _point(reading: DriftReading, at: int, errors: ErrorChart, single: IndividualsChart | None) -> ChartPoint:
    z, mean, line = (None if np.isnan(each[at]) else float(each[at]) for each in (errors.z, errors.mean, errors.line))
    beyond, drifted = bool(errors.beyond[at]), bool(errors.drifted[at])
    stray = (reading.stray or 0.0) >= _SUSPECTED
    sentence = signal_sentence(z or 0.0, mean or 0.0, beyond=beyond, drifted=drifted, stray=stray)
    out = single is not None and bool(single.signals[at])
    return ChartPoint(reading, z, mean, line, beyond, drifted, sentence, out)


def _individuals(one: SeriesDrift, readings: Sequence[DriftReading]) -> tuple[IndividualsChart | None, str]:
    """Return the classic chart of the corrected readings, or why there is none."""
    row = one.row
    values = [each.corrected for each in readings]
    known = [each for each in values if each is not None]
    if len(known) < max(len(values), 2) or row.slope_low is None or row.slope_high is None:
        return None, f"No classic chart: {len(known)} readings are too few."
    why = why_no_individuals(
        np.array([_day_number(each.taken_on) for each in readings], dtype=np.float64),
        instruments=len({each.instrument for each in readings}),
        segments=len({each.segment for each in readings}),
        slope_low=row.slope_low,
        slope_high=row.slope_high,
    )
    return (None, why) if why else (individuals_chart(np.array(known)), "")


def _readings_a_year(days: Sequence[str]) -> float:
    """Return how often a series is read, 0 where its readings span no time."""
    if len(days) < 2:
        return 0.0
    span = _day_number(days[-1]) - _day_number(days[0])
    return (len(days) - 1) * _YEAR / span if span > 0 else 0.0


def _day_number(day: str) -> int:
    """Return the number of the first day that a (partial) day can mean."""
    return date.fromisoformat(day + "-01-01"[len(day) - 10 :] if len(day) < len("2024-01-01") else day).toordinal()
