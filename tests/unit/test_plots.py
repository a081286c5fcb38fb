"""Pictures: the same bytes twice, no line across a reset, marks that differ without colour, bad names refused."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from collection.analysis.agreement import agreement
from collection.errors import Refused
from collection.exchange import plot_drift as drawing
from collection.exchange.plot_agreement import plot_agreement
from collection.exchange.plot_chart import plot_chart
from collection.exchange.plot_drift import plot_drift
from collection.exchange.plot_paper import at_day, marks
from collection.views.drift_chart import chart_of
from collection.views.drift_rows import DriftReading, DriftRow, DriftSegment, PathPoint, SeriesDrift
from tests.support.times import TODAY

ROW = DriftRow(
    unit_id=1, tag="D1", measurement="spindle speed", point="", measured_in="r/min", class_name="belt",
    standing="ready", readings=3, stray=1, segments=2, instruments=("counter", "strobe"), first_read="2024-01-10",
    last_read="2025-02-01", nominal=300.0, lower=295.5, upper=304.5, corrected=True, level=300.0, level_low=299.0,
    level_high=301.0, slope_per_year=1.0, slope_low=0.5, slope_high=1.5, chance_12_months=0.1, by_date="2027-03-01",
    by_value=301.0, by_low=300.0, by_high=302.0, chance_outside=0.1, recheck_by="2026-05-01", recheck_rule="risk",
    sentence="drifts up 1.0 r/min a year (0.5 to 1.5)", rests_on="3 readings", missing="",
)  # fmt: skip


def read(day: str, value: float, instrument: str, segment: int | None, **more: Any) -> DriftReading:
    """Return a reading that is used where it has a segment."""
    nothing: dict[str, Any] = dict.fromkeys(("corrected", "stray", "jump", "jump_size", "z"))
    used = {"corrected": value, "stray": 0.0, "jump": 0.0, "jump_size": 0.0, "z": 0.5} if segment is not None else {}
    state = "" if segment is not None else "set aside"
    told = {"instrument": instrument, "stage": "between", "state": state, "segment": segment, "run": 0}
    return DriftReading(taken_on=day, value=value, **(told | nothing | used | more))


SERIES = SeriesDrift(
    ROW,
    (
        read("2024-01-10", 299.0, "counter", 0, z=None),
        read("2024-07", 296.5, "strobe", 0, corrected=299.5, stray=0.9),
        read("2024-08-01", 299.9, "strobe", None),
        read("2024-09-01", 250.0, "strobe", 0, corrected=253.0, stray=0.9),
        read("2025-02-01", 300.0, "counter", 1, z=None),
    ),
    (DriftSegment("", "2025-02-01", "", False, 2), DriftSegment("2025-02-01", "", "set spindle speed", False, 1)),
    (
        PathPoint("2024-01-10", 299.0, 298.8, 299.2, 0, ahead=False),
        PathPoint("2024-07-16", 299.5, 299.3, 299.7, 0, ahead=False),
        PathPoint("2025-02-01", 300.0, 299.8, 300.2, 1, ahead=False),
        PathPoint("2027-02-01", 302.0, 301.0, 303.0, 1, ahead=True),
    ),
    None,
)


@pytest.mark.parametrize("ending", [".png", ".SVG"])
def test_a_picture_has_the_same_bytes_twice_and_is_written_over(tmp_path: Path, ending: str) -> None:
    """Nothing of the clock or of chance goes into it."""
    file, other = tmp_path / f"a{ending}", tmp_path / f"b{ending}"
    plot_drift(SERIES, file, today=TODAY)
    first = file.read_bytes()
    plot_drift(SERIES, file, today=TODAY)
    plot_drift(replace(SERIES, row=replace(ROW, tag="D2")), other, today=TODAY)

    assert first == file.read_bytes()
    assert first != other.read_bytes()
    assert first.startswith(b"\x89PNG" if ending == ".png" else b"<?xml")
    assert [file.name, other.name] == sorted(each.name for each in tmp_path.iterdir() if each.is_file())


def test_no_line_crosses_a_reset(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The level ends where its segment does; the fan begins in the last one; the limits are there, and today."""
    drawn: list[Any] = []
    monkeypatch.setattr(drawing, "write", lambda figure, _: drawn.append(figure))
    plot_drift(SERIES, tmp_path / "a.svg", today=TODAY)
    (axes,) = drawn[0].axes
    reset = at_day("2025-02-01")
    spans = [(min(line.get_xdata()), max(line.get_xdata())) for line in axes.get_lines() if len(line.get_xdata()) > 1]
    own = [(low, high) for low, high in spans if (low, high) != (0, 1) and low != high]

    assert own
    assert all(high < reset or low >= reset for low, high in own)
    said = [text.get_text() for text in axes.texts]
    assert {"limit 295.5", "limit 304.5", "today", "set spindle speed, 1 Feb 2025"} <= set(said)
    assert "1 reading lies outside the picture" in said
    assert axes.get_ylim()[0] < 295.5
    assert axes.get_ylim()[1] > 304.5
    labels = axes.get_legend_handles_labels()[1]
    assert {"counter", "strobe", "as read", "not used", "likely stray"} <= set(labels)


def test_instruments_are_told_apart_without_colour() -> None:
    """Six shapes before one comes again; an instrument keeps its mark however often it is named."""
    made = marks(["a", "b", "a", "c", "d", "e", "f", "g"])
    assert 6 == len({mark.shape for mark in made.values()}) == len({mark.colour for mark in made.values()})
    assert made["a"] == made["g"]


def test_a_series_of_which_little_is_known_is_drawn_all_the_same(tmp_path: Path) -> None:
    """No reading, only one that is set aside, no limits, one day."""
    bare = replace(ROW, lower=None, upper=None, readings=0, rests_on="", sentence="nothing to say")
    for number, readings in enumerate(((), SERIES.readings[2:3], SERIES.readings[:1])):
        path = SERIES.path[:1] if number == 2 else ()
        plot_drift(SeriesDrift(bare, readings, (), path, None), tmp_path / f"{number}.svg", today=date(2024, 1, 10))
        plot_chart(chart_of(SeriesDrift(bare, readings, (), path, None)), tmp_path / f"{number}-chart.svg")
    assert 6 == len([each for each in tmp_path.iterdir() if each.is_file()])


def test_agreement_is_drawn_of_one_pair_and_of_many(tmp_path: Path) -> None:
    """Limits of agreement stand only where there are pairs enough to tell them."""
    dice = np.random.default_rng(3)
    for pairs in (1, 2, 20):
        a = 300 + dice.normal(size=pairs)
        found = agreement(a, a + 1 + dice.normal(size=pairs))
        told = {"title": "speed: A less B", "mean_in": "r/min", "difference_in": "r/min", "below": "."}
        plot_agreement(found, tmp_path / f"{pairs}.png", shown=float, **told)
    assert 3 == len([each for each in tmp_path.iterdir() if each.is_file()])


def test_agreement_is_drawn_in_the_unit_in_which_it_is_told(tmp_path: Path) -> None:
    """The figure at the end of a line is the one of the sentence below, not one of the scale of the fit."""
    found = agreement(np.array([0.01, 0.02, 0.03]), np.array([0.0, 0.01, 0.02]))
    plot_agreement(
        found, tmp_path / "a.svg", shown=lambda each: 250 * each, title="", mean_in="%", difference_in="%", below=""
    )
    assert "+2.5" in (tmp_path / "a.svg").read_text(encoding="utf-8")


def test_a_name_that_is_no_picture_and_a_folder_that_is_not_there_are_refused(tmp_path: Path) -> None:
    """Nothing is written, and the two endings are named."""
    for name, said in (("a.pdf", ".png or .svg"), ("a", ".png or .svg"), ("none/a.png", "cannot be written")):
        with pytest.raises(Refused, match=said):
            plot_drift(SERIES, tmp_path / name, today=TODAY)
    assert [] == [each for each in tmp_path.iterdir() if each.is_file()]
