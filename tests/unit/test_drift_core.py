"""The engine's mixed model with given variances, held to a dense one, to limiting cases and to what must not matter."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from collection.analysis.drift import core
from collection.analysis.drift.given import Fleet, Floats
from collection.analysis.drift.layout import layout_of
from collection.analysis.lines import straight_line
from tests.support.dense_reml import Dense, dense


@dataclass(frozen=True, slots=True, eq=False)
class Given:
    """A fleet with the variance of each reading, the walk's variance a year, and the prior of each run's slope."""

    fleet: Fleet
    noise: Floats
    walk: float
    precision: Floats
    mean: Floats


def random_fleet(seed: int) -> Given:
    """Return a fleet of series with one to three segments in one or two runs, read by one to four instruments."""
    dice = np.random.default_rng(seed)
    series, instruments = int(dice.integers(2, 9)), int(dice.integers(1, 5))
    segment_run: list[int] = []
    run_series: list[int] = []
    rows: list[tuple[float, float, int, int]] = []
    offset = dice.normal(0, 1, instruments)
    for one in range(series):
        at = 0.0
        for part in range(int(dice.integers(1, 4))):
            if part == 0 or dice.random() < 0.3:
                run_series.append(one)
            segment_run.append(len(run_series) - 1)
            level = dice.normal()
            for _ in range(int(dice.integers(1, 8))):
                at += float(dice.exponential(0.4)) + 0.01
                tool = int(dice.integers(instruments))
                rows.append((at, level + 0.2 * at + offset[tool] + 0.1 * dice.normal(), len(segment_run) - 1, tool))
    # One more segment, so that all instruments can be compared.
    run_series.append(series)
    segment_run.append(len(run_series) - 1)
    rows += [(0.1 * k, offset[k] + 0.1 * dice.normal(), len(segment_run) - 1, k) for k in range(instruments)]
    years, values, segment, instrument = zip(*rows, strict=True)
    fleet = Fleet(
        years=np.array(years),
        values=np.array(values),
        segment=np.array(segment),
        instrument=np.array(instrument),
        segment_run=np.array(segment_run),
        run_series=np.array(run_series),
        series_class=dice.integers(0, 2, series + 1),
        usual_slope=np.array([0.3, 0.02]),
        reference=np.arange(instruments) == 0,
        resolution=np.zeros(instruments),
        uncertainty=np.zeros(instruments),
        half_width=1.5,
    )
    runs = len(run_series)
    return Given(
        fleet, dice.uniform(0.005, 0.05, len(rows)), 0.04, dice.uniform(0.5, 30, runs), dice.normal(0, 0.3, runs)
    )


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """Per node-free fleet: slopes by run, offsets, level of each segment at its series' end, and the criterion."""

    slope: Floats
    slope_variance: Floats
    offset: Floats
    offset_covariance: Floats
    level: Floats
    residual: Floats
    residual_variance: Floats
    log_likelihood: float


def solved(given: Given) -> Answer:
    """Return the engine's answer, in the order of the fleet; offsets against the first instrument."""
    fleet = given.fleet
    layout = layout_of(fleet)
    tools = fleet.instrument[layout.order]
    used = (tools[None, :] == np.arange(1, fleet.instruments)[:, None]).astype(float)
    columns = np.concatenate([np.ones((1, len(tools))), layout.years[None], used])
    noise = core.Noise(
        given.noise[layout.order][None], (given.walk * layout.gap)[None], given.precision[None], given.mean[None]
    )
    values = fleet.values[layout.order][None]
    made = core.solve(layout, columns, values, noise)
    left = core.leave_out(layout, made)
    place = np.argsort(layout.order)
    level = made.level_share[-1, 0] - made.level_share[1, 0] * made.slope[0, layout.run]
    level -= made.offsets[0] @ made.level_share[2:-1, 0]
    by_fleet = np.empty(fleet.segments)
    by_fleet[fleet.segment[layout.order]] = level[layout.segment]
    clean = values - np.einsum("kn,gk->gn", columns[2:], made.offsets)
    runs = core.run_likelihood(layout, clean, left.score, noise, made)
    total = float(runs.sum()) - 0.5 * float(made.log_volume[0])
    total += 0.5 * (fleet.instruments - 1) * float(np.log(2 * np.pi))
    return Answer(
        made.slope[0],
        made.slope_variance[0],
        made.offsets[0],
        made.covariance[0],
        by_fleet,
        left.residual[0][place],
        left.variance[0][place],
        total,
    )


def dense_answer(given: Given) -> Dense:
    """Return the dense model of the same: levels and offsets fixed, slopes less their prior means random."""
    fleet = given.fleet
    run = fleet.segment_run[fleet.segment]
    ends = np.full(fleet.series, -np.inf)
    np.maximum.at(ends, fleet.run_series[run], fleet.years)
    since = fleet.years - ends[fleet.run_series[run]]
    z = np.where(run[:, None] == np.arange(fleet.runs)[None, :], since[:, None], 0.0)
    levels = (fleet.segment[:, None] == np.arange(fleet.segments)[None, :]).astype(float)
    used = (fleet.instrument[:, None] == np.arange(1, fleet.instruments)[None, :]).astype(float)
    first = np.full(fleet.segments, np.inf)
    np.minimum.at(first, fleet.segment, fleet.years)
    walked = fleet.years - first[fleet.segment]
    together = fleet.segment[:, None] == fleet.segment[None, :]
    r = np.where(together, given.walk * np.minimum(walked[:, None], walked[None, :]), 0.0) + np.diag(given.noise)
    return dense(fleet.values - z @ given.mean, np.hstack([levels, used]), z, np.diag(1 / given.precision), r)


@pytest.mark.parametrize("seed", range(30))
def test_the_engine_and_a_dense_model_say_the_same(seed: int) -> None:
    """Levels, slopes, offsets, their variances, each reading left out and the restricted likelihood, to 1e-8."""
    given = random_fleet(seed)
    mine, other = solved(given), dense_answer(given)
    levels = given.fleet.segments
    assert mine.level == pytest.approx(other.fixed[:levels], rel=1e-8, abs=1e-8)
    assert mine.offset == pytest.approx(other.fixed[levels:], rel=1e-8, abs=1e-8)
    assert mine.offset_covariance == pytest.approx(other.covariance[levels:, levels:], rel=1e-8, abs=1e-10)
    assert mine.slope == pytest.approx(other.random + given.mean, rel=1e-8, abs=1e-8)
    assert mine.slope_variance == pytest.approx(np.diag(other.random_covariance), rel=1e-8)
    assert mine.log_likelihood == pytest.approx(-other.reml / 2, rel=1e-8, abs=1e-8)
    knows = np.diag(other.projected)
    told = np.isfinite(mine.residual_variance)
    assert (told == (knows > 1e-7)).all()
    assert mine.residual_variance[told] == pytest.approx(1 / knows[told], rel=1e-8)
    rest = (other.projected @ (given.fleet.values - given_trend(given)))[told] / knows[told]
    assert mine.residual[told] == pytest.approx(rest, rel=1e-7, abs=1e-8)


def given_trend(given: Given) -> Floats:
    """Return what the prior means of the slopes foretell of each reading."""
    fleet = given.fleet
    run = fleet.segment_run[fleet.segment]
    ends = np.full(fleet.series, -np.inf)
    np.maximum.at(ends, fleet.run_series[run], fleet.years)
    return np.asarray((fleet.years - ends[fleet.run_series[run]]) * given.mean[run], dtype=float)


def test_one_unit_read_by_one_instrument_is_the_straight_line() -> None:
    """A free slope, no walk: least squares, with the residual variance of the line put in as noise."""
    dice = np.random.default_rng(5)
    years = np.sort(dice.uniform(0, 6, 12))
    values = 1.0 - 0.3 * years + 0.1 * dice.normal(size=12)
    line = straight_line(years, values)
    zero = np.zeros(12, dtype=np.int64)
    one = np.zeros(1)
    fleet = Fleet(years, values, zero, zero, zero[:1], zero[:1], zero[:1], one + 1, one == 0, one, one, 1.0)
    found = solved(Given(fleet, np.full(12, line.sd**2), 0.0, one, one))
    assert found.slope[0] == pytest.approx(line.slope, rel=1e-10)
    assert np.sqrt(found.slope_variance[0]) == pytest.approx(line.slope_error, rel=1e-10)
    assert found.level[0] == pytest.approx(line.at(float(years[-1])), rel=1e-10)


def test_a_narrow_prior_makes_all_slopes_its_middle() -> None:
    """Precision to infinity: each run has the slope of its prior, whatever its readings say."""
    given = random_fleet(3)
    held = solved(replace(given, precision=given.precision * 0 + 1e12))
    assert held.slope == pytest.approx(given.mean, abs=1e-6)


@pytest.mark.parametrize("seed", [3, 8])
def test_free_slopes_are_those_of_least_squares_with_shared_offsets(seed: int) -> None:
    """Precision 0 and no walk: weighted least squares on levels, slopes and offsets, solved whole by numpy."""
    given = replace(random_fleet(seed), walk=0.0)
    given = replace(given, precision=given.precision * 0)
    fleet, free = given.fleet, solved(given)
    run = fleet.segment_run[fleet.segment]
    x = (
        np.hstack(
            [
                (run[:, None] == np.arange(fleet.runs)) * fleet.years[:, None],
                fleet.segment[:, None] == np.arange(fleet.segments),
                fleet.instrument[:, None] == np.arange(1, fleet.instruments),
            ]
        )
        / np.sqrt(given.noise)[:, None]
    )
    found = np.linalg.lstsq(x, fleet.values / np.sqrt(given.noise), rcond=None)[0]
    told = np.isfinite(free.slope_variance)
    assert told.sum() > 2
    assert free.slope[told] == pytest.approx(found[: fleet.runs][told], rel=1e-7, abs=1e-7)
    assert free.offset == pytest.approx(found[fleet.runs + fleet.segments :], rel=1e-7, abs=1e-7)


def test_another_reference_and_another_order_of_segments_change_no_slope() -> None:
    """Instruments numbered backwards, so that another is compared with; segments numbered backwards with their runs."""
    given = random_fleet(2)
    fleet, plain = given.fleet, solved(given)
    assert fleet.instruments > 1
    last = fleet.instruments - 1
    turned = solved(replace(given, fleet=replace(fleet, instrument=last - fleet.instrument)))
    offsets = np.append(0.0, plain.offset)
    assert turned.slope == pytest.approx(plain.slope, abs=1e-9)
    assert np.append(0.0, turned.offset) == pytest.approx((offsets - offsets[-1])[::-1], abs=1e-9)
    assert turned.level == pytest.approx(plain.level + offsets[-1], abs=1e-9)
    assert turned.log_likelihood == pytest.approx(plain.log_likelihood, rel=1e-10)
    back = replace(fleet, segment=fleet.segments - 1 - fleet.segment, segment_run=fleet.segment_run[::-1])
    again = solved(replace(given, fleet=back))
    assert again.slope == pytest.approx(plain.slope, abs=1e-9)
    assert again.level[::-1] == pytest.approx(plain.level, abs=1e-9)


@pytest.mark.parametrize("seed", [1, 4, 9])
def test_what_must_not_matter_does_not(seed: int) -> None:
    """A constant on a segment moves its level alone, one on an instrument its offset alone; mirrored, all mirrors."""
    given = random_fleet(seed)
    fleet, plain = given.fleet, solved(given)
    lifted = solved(replace(given, fleet=replace(fleet, values=fleet.values + 3.0 * (fleet.segment == 1))))
    assert lifted.level - plain.level == pytest.approx(3.0 * (np.arange(fleet.segments) == 1), abs=1e-9)
    assert lifted.slope == pytest.approx(plain.slope, abs=1e-9)
    assert lifted.offset == pytest.approx(plain.offset, abs=1e-9)
    last = fleet.instruments - 1
    off = solved(replace(given, fleet=replace(fleet, values=fleet.values + 2.0 * (fleet.instrument == last))))
    assert off.slope == pytest.approx(plain.slope, abs=1e-9)
    assert off.level == pytest.approx(plain.level + (2.0 if last == 0 else 0.0), abs=1e-9)
    assert off.offset == pytest.approx(plain.offset + 2.0 * (np.arange(1, last + 1) == last), abs=1e-9)
    mirrored = solved(replace(given, fleet=replace(fleet, values=-fleet.values), mean=-given.mean))
    assert mirrored.slope == pytest.approx(-plain.slope, abs=1e-12)
    assert mirrored.log_likelihood == pytest.approx(plain.log_likelihood, rel=1e-12)


def test_time_may_be_moved_and_measured_in_other_units() -> None:
    """Years from any epoch give the same slopes; in months, a slope is a twelfth with the same readings beside it."""
    given = random_fleet(6)
    plain = solved(given)
    moved = solved(replace(given, fleet=replace(given.fleet, years=given.fleet.years + 64.0)))
    assert moved.slope == pytest.approx(plain.slope, abs=1e-9)
    months = solved(
        Given(
            replace(given.fleet, years=given.fleet.years * 12),
            given.noise,
            given.walk / 12,
            given.precision * 144,
            given.mean / 12,
        )
    )
    assert months.slope * 12 == pytest.approx(plain.slope, abs=1e-9)
    assert months.level == pytest.approx(plain.level, abs=1e-9)
