"""Fleets that no method likes: an answer or none, never a warning, a number that is none or a chance beyond 0 and 1."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from collection.analysis.drift.fit import fit_fleet
from collection.analysis.drift.forecast import chance_outside, known, mean_slope, range_on, slope_range
from collection.analysis.drift.given import Fleet
from collection.analysis.drift.sample import before, part_of, sample_of
from collection.errors import Refused
from tests.support.simulated_fleets import BASE, make_fleet


def fleet(years: list[float], values: list[float], **more: Any) -> Fleet:
    """Return a fleet of one series, segment and instrument unless told otherwise."""
    count = len(years)
    usual: dict[str, Any] = {
        "years": np.array(years, dtype=float),
        "values": np.array(values, dtype=float),
        "segment": np.zeros(count, dtype=np.int64),
        "instrument": np.zeros(count, dtype=np.int64),
        "segment_run": np.zeros(1, dtype=np.int64),
        "run_series": np.zeros(1, dtype=np.int64),
        "series_class": np.zeros(1, dtype=np.int64),
        "usual_slope": np.array([0.3]),
        "reference": np.array([True]),
        "resolution": np.zeros(1),
        "uncertainty": np.zeros(1),
        "half_width": 1.5,
    }
    return Fleet(**usual | more)


TWO = {"instrument": np.array([0, 1]), "reference": np.array([True, False]), "resolution": np.zeros(2)}
HOSTILE = {
    "no reading": fleet([], []),
    "one reading": fleet([20.0], [0.4]),
    "all on one day": fleet([20.0] * 4, [0.4, 0.5, 0.3, 0.4]),
    "equal values": fleet([20.0, 21.0, 22.0, 23.0], [0.4] * 4),
    "two that disagree": fleet([20.0, 20.0], [0.0, 4.0]),
    "two instruments, one segment": fleet([20.0, 20.0], [0.0, 4.0], **TWO, uncertainty=np.zeros(2)),
    "forty years apart": fleet([-20.0, 20.0], [0.0, 0.1]),
    "no reference": fleet([20.0, 21.0, 22.0], [0.0, 0.1, 0.2], reference=np.array([False])),
    "tiny": fleet([20.0, 21.0, 22.0], [0.0, 1e-12, 2e-12], half_width=1e-9),
    "huge": fleet([20.0, 21.0, 22.0], [0.0, 1e9, 2e9]),
    "huge limits": fleet([20.0, 21.0, 22.0], [0.0, 1.0, 2.0], half_width=1e12),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_fleet_gets_an_answer_or_none(name: str) -> None:
    """Ranges hold their middle, chances lie between 0 and 1, and only a series without a reading has no level."""
    given = HOSTILE[name]

    found = fit_fleet(given)

    assert (len(given.values) > 0) == bool(known(found.paths).all())
    low, high = slope_range(found.paths)
    assert (low <= mean_slope(found.paths)).all()
    assert (mean_slope(found.paths) <= high).all()
    if len(given.values):
        first, last = range_on(found.paths, found.paths.start + 1.0)
        chance = chance_outside(found.paths, found.paths.start + 1.0, np.array([-1.5]), np.array([1.5]))
        assert np.isfinite([*first, *last]).all()
        assert (first <= last).all()
        assert ((chance >= 0) & (chance <= 1)).all()
    for part in (found.corrected, found.stray, found.jump, found.jump_size, found.smooth, found.smooth_sd):
        assert np.isfinite(part).all()


@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_a_value_that_is_no_number_is_refused(bad: float) -> None:
    """In a reading, and as the width of the limits."""
    with pytest.raises(Refused, match="finite"):
        fleet([20.0], [bad])
    with pytest.raises(Refused, match="above zero"):
        fleet([20.0], [0.1], half_width=bad)


def test_an_instrument_that_nothing_ties_is_told_against_itself() -> None:
    """Two units, each read by one instrument alone: no offset can be known, and none is claimed."""
    given = fleet(
        [20.0, 21.0, 20.0, 21.0],
        [0.0, 0.1, 2.0, 2.1],
        segment=np.array([0, 0, 1, 1]),
        instrument=np.array([0, 0, 1, 1]),
        segment_run=np.array([0, 1]),
        run_series=np.array([0, 1]),
        series_class=np.zeros(2, dtype=np.int64),
        reference=np.array([True, False]),
        resolution=np.zeros(2),
        uncertainty=np.zeros(2),
    )

    found = fit_fleet(given)

    assert [True, False] == found.instruments.to_reference.tolist()
    assert [True, False] == found.corrected_series.tolist()
    assert 0 == found.instruments.offset[1]
    assert given.values.tolist() == found.corrected.tolist()


def test_the_same_fleet_gives_the_same_bytes() -> None:
    """To the last bit: nothing in the fit is left to chance."""
    given, _ = make_fleet(BASE, 3)

    once, twice = fit_fleet(given), fit_fleet(given)

    assert once.paths.level.tobytes() == twice.paths.level.tobytes()
    assert once.instruments.offset.tobytes() == twice.instruments.offset.tobytes()


def test_a_large_fleet_is_judged_by_its_sample_as_it_is_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """Slopes agree within a small part of what is not known of them, and offsets within the sample's own error."""
    from collection.analysis.drift import fit

    given, _ = make_fleet(replace(BASE, units=60), 1)
    together = fit_fleet(given)
    monkeypatch.setattr(fit, "_TOGETHER", 30)

    apart = fit_fleet(given)

    low, high = slope_range(together.paths)
    off = np.abs(mean_slope(apart.paths) - mean_slope(together.paths)) / (high - low)
    assert np.median(off) < 0.05
    assert np.quantile(off, 0.95) < 0.3
    assert np.abs(apart.instruments.offset - together.instruments.offset).max() < 0.05


def test_a_sample_has_every_instrument_and_class_and_stays_when_a_reading_is_added() -> None:
    """So that what can be compared in the fleet can be in the sample, and a new reading moves nobody else."""
    given, _ = make_fleet(replace(BASE, units=200), 2)
    whole = sample_of(given, 20)
    early = before(given, float(np.median(given.years)))

    part, places = part_of(given, whole)

    assert len(whole) < 200
    assert set(given.instrument.tolist()) == set(part.instrument.tolist())
    assert set(given.series_class.tolist()) == set(part.series_class.tolist())
    assert given.values[places].tolist() == part.values.tolist()
    assert (early.years < np.median(given.years)).all()
    assert early.segments == given.segments
    more = replace(
        given,
        years=np.append(given.years, given.years[-1]),
        values=np.append(given.values, 0.0),
        segment=np.append(given.segment, given.segment[-1]),
        instrument=np.append(given.instrument, given.instrument[-1]),
    )
    assert whole.tolist() == sample_of(more, 20).tolist()


def test_two_last_readings_that_disagree_are_as_likely_stray_as_each_other() -> None:
    """Nothing tells which of them slipped, so the level is at either, and the chance of being outside says so."""
    given, _ = make_fleet(BASE, 3)
    last = max(np.flatnonzero(given.run_series[given.segment_run] == 0).tolist())
    rest, day = given.segment != last, float(given.years[given.segment == last].max())
    torn = replace(
        given,
        years=np.append(given.years[rest], [day, day]),
        values=np.append(given.values[rest], [0.0, 3.3]),  # the third instrument reads 0.3 high
        segment=np.append(given.segment[rest], [last, last]),
        instrument=np.append(given.instrument[rest], [0, 2]),
    )

    found = fit_fleet(torn)

    assert 0.5 == pytest.approx(found.stray[-2], abs=0.05)
    assert found.stray[-2] == pytest.approx(found.stray[-1], abs=1e-9)
    chance = chance_outside(found.paths, day, np.full(given.series, -1.5), np.full(given.series, 1.5))
    assert 0.5 == pytest.approx(chance[0], abs=0.1)
