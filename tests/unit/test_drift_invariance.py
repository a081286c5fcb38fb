"""What must not matter to the fit as a whole does not, stray readings, jumps and wandering included."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from collection.analysis.drift.fit import fit_fleet
from collection.analysis.drift.forecast import chance_outside, mean_slope, slope_range
from collection.analysis.drift.found import Found
from collection.analysis.drift.given import Fleet
from collection.analysis.drift.sample import part_of
from tests.support.simulated_fleets import BASE, make_fleet


@pytest.fixture(scope="module")
def given() -> Fleet:
    """Return a dozen units with stray readings and resets."""
    return make_fleet(replace(BASE, stray=0.04), 5)[0]


@pytest.fixture(scope="module")
def found(given: Fleet) -> Found:
    """Return its fit."""
    return fit_fleet(given)


def _same_slopes(one: Found, other: Found, sign: float = 1.0) -> None:
    assert mean_slope(one.paths) == pytest.approx(sign * mean_slope(other.paths), abs=1e-6)
    ends = slope_range(other.paths)
    low, high = ends if sign > 0 else (-ends[1], -ends[0])
    assert slope_range(one.paths)[0] == pytest.approx(low, abs=1e-6)
    assert slope_range(one.paths)[1] == pytest.approx(high, abs=1e-6)


def test_another_epoch_moves_nothing(given: Fleet, found: Found) -> None:
    """Years may be counted from any day."""
    moved = fit_fleet(replace(given, years=given.years + 7.25))

    _same_slopes(moved, found)
    assert moved.paths.start == pytest.approx(found.paths.start + 7.25)


def test_a_constant_on_an_instrument_is_its_offset_and_nothing_else(given: Fleet, found: Found) -> None:
    """Whether it reads 2 % low or 3 % high: levels, slopes and what is stray stay."""
    values = given.values + np.where(given.instrument == 1, 5.0, 0.0)

    moved = fit_fleet(replace(given, values=values))

    _same_slopes(moved, found)
    assert moved.instruments.offset - found.instruments.offset == pytest.approx([0.0, 5.0, 0.0], abs=1e-6)
    assert moved.corrected == pytest.approx(found.corrected, abs=1e-6)
    assert moved.stray == pytest.approx(found.stray, abs=1e-6)


def test_a_constant_on_a_segment_is_its_level_and_nothing_else(given: Fleet, found: Found) -> None:
    """A reset can go anywhere."""
    moved = fit_fleet(replace(given, values=given.values + np.where(given.segment == 0, 3.0, 0.0)))

    _same_slopes(moved, found)
    assert moved.instruments.offset == pytest.approx(found.instruments.offset, abs=1e-6)


def test_a_mirror_turns_signs_and_nothing_else(given: Fleet, found: Found) -> None:
    """What drifts down drifts up in it, as sure and as soon outside."""
    mirror = fit_fleet(replace(given, values=-given.values))

    _same_slopes(mirror, found, -1.0)
    assert mirror.instruments.offset == pytest.approx(-found.instruments.offset, abs=1e-6)
    limits = np.full(given.series, -1.0), np.full(given.series, 1.0)
    ahead = found.paths.start + 1
    assert chance_outside(mirror.paths, ahead, *limits) == pytest.approx(
        chance_outside(found.paths, ahead, *limits), abs=1e-6
    )


def test_the_order_of_units_moves_nothing(given: Fleet, found: Found) -> None:
    """The last unit first: each keeps its slope."""
    backwards = np.arange(given.series)[::-1]
    parts = [part_of(given, np.array([series])) for series in backwards]
    segments = np.cumsum([0, *(part.segments for part, _ in parts[:-1])])
    runs = np.cumsum([0, *(part.runs for part, _ in parts[:-1])])
    turned = replace(
        given,
        years=np.concatenate([part.years for part, _ in parts]),
        values=np.concatenate([part.values for part, _ in parts]),
        instrument=np.concatenate([part.instrument for part, _ in parts]),
        segment=np.concatenate([part.segment + first for (part, _), first in zip(parts, segments, strict=True)]),
        segment_run=np.concatenate([part.segment_run + first for (part, _), first in zip(parts, runs, strict=True)]),
        run_series=np.concatenate([np.full(part.runs, place) for place, (part, _) in enumerate(parts)]),
        series_class=given.series_class[backwards],
    )

    other = fit_fleet(turned)

    assert mean_slope(other.paths)[::-1] == pytest.approx(mean_slope(found.paths), abs=1e-6)


def test_another_reference_moves_every_level_and_no_slope(given: Fleet, found: Found) -> None:
    """The levels move by what the new one reads off the old one."""
    other = fit_fleet(replace(given, reference=np.array([False, True, False])))

    _same_slopes(other, found)
    level = [(each.paths.weight * each.paths.level).sum(axis=1) for each in (other, found)]
    assert level[0] - level[1] == pytest.approx(np.full(given.series, found.instruments.offset[1]), abs=1e-3)
