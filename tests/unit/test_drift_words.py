"""What a fit says in words: slopes, crossings, jumps, instruments, and what ties instruments to one another."""

from __future__ import annotations

from math import inf, nan

import numpy as np
import pytest

from collection.analysis.drift.links import Tie, shared_segments, ties
from collection.analysis.drift.words import (
    Known,
    Offset,
    crossing_sentence,
    drift_sentence,
    instrument_sentence,
    jump_sentence,
    rests_on,
    row_sentence,
    set_off_sentence,
)


@pytest.mark.parametrize(
    ("slope", "low", "high", "own", "said"),
    [
        (-2.1, -2.8, -1.4, 0.9, "drifts down 2.1 r/min a year (1.4 to 2.8)"),
        (0.19, 0.0014, 0.38, 0.9, "drifts up 0.190 r/min a year (0.001 to 0.380)"),
        (0.02, -0.19, 0.2, 0.9, "no drift seen: less than 0.2 r/min a year either way"),
        (0.02, -0.2, 0.2001, 0.9, "no drift seen: less than 0.21 r/min a year either way"),
        (0.5, -0.1, 2.0, 0.9, "drift not certain: -0.1 to 2.0 r/min a year"),
        (0.0, 0.0, 0.0, 0.9, "no drift seen"),
        (12.3, 8.7, 16.1, 0.3, "drifts up 12 r/min a year (9 to 16)"),
        (
            -1.2, -3.1, 0.4, 0.29,
            "too little to say: mostly what belt-driven units do on average (-3.1 to 0.4 r/min a year)",
        ),
    ],
)  # fmt: skip
def test_a_slope_is_told_with_its_interval_and_as_many_digits_as_it_has(
    slope: float, low: float, high: float, own: float, said: str
) -> None:
    """Or as no drift, or as the class's: below three tenths of its own share the readings have hardly spoken."""
    assert said == drift_sentence(slope, low, high, own, "r/min", "belt")


def test_what_stands_against_a_forecast_is_said_beside_the_drift() -> None:
    """A reset since, a new slope, a day before the last reading, no reading at all."""
    assert "d" == row_sentence(Known(3), "d", "u")
    assert "d; its level is not known: not read since it was reset" == row_sentence(Known(3, level_lost=True), "d", "u")
    lost = Known(3, level_lost=True, slope_lost=True)
    assert "not read since a new slope began, so its level is not known (u)" == row_sentence(lost, "d", "u")
    assert "today lies before its last reading" in row_sentence(Known(3, late=True, by_late=True), "d", "u")
    assert "the day asked for lies before its last reading" in row_sentence(Known(3, by_late=True), "d", "u")
    assert "none of its readings is used" in row_sentence(Known(0), "", "")
    assert "" == rests_on(0, 0, 0, (), tied=False)
    assert "2 readings (1 of them likely stray) in 2 segments; A, B; tied to a reference" == rests_on(
        2, 1, 2, ("A", "B"), tied=True
    )


@pytest.mark.parametrize(
    ("at", "first", "last", "said"),
    [
        (28.4, 28.0, 29.2, "reaches 295.5 r/min about May 2028 (from Jan 2028 to Mar 2029)"),
        (nan, 28.0, nan, "no date: 295.5 r/min is not reached before Jan 2028"),
        (60.0, 28.0, nan, "no date: 295.5 r/min is not reached before Jan 2028"),
        (28.4, 28.0, nan, "no date: 295.5 r/min is not reached before Jan 2028 (about May 2028 at the pace now seen)"),
        (28.4, 26.9, 29.2, "may be at 295.5 r/min already, else about May 2028"),
        (nan, nan, nan, None),
        (-inf, -inf, -inf, "is past 295.5 r/min already"),
    ],
)
def test_no_date_is_an_answer_to_when_a_limit_is_reached(
    at: float, first: float, last: float, said: str | None
) -> None:
    """A date is told only where its range has an end."""
    assert said == crossing_sentence(295.5, "r/min", at, first, last, today=26.9)


def test_a_jump_is_a_question_and_a_wrong_setting_has_a_size() -> None:
    """With the month of the reading that shows it, and the day of the setting."""
    jump = "looks like a jump down of 1.2 r/min by Mar 2025 with no service recorded: was it adjusted?"
    assert jump == jump_sentence("2025-03-04", -1.234, "r/min")
    assert "by 2025 " in jump_sentence("2025", 1.0, "r/min")
    left = "D9 was set by it on 8 Feb 2026, and so left 3.0 r/min (2.9 to 3.1) too high"
    assert left == set_off_sentence("D9", 2.97, 2.87, 3.1, "r/min", "2026-02-08")


def test_an_instrument_is_told_off_only_by_what_ties_it() -> None:
    """Corrected against a reference, compared without one, and else the one reading that would settle it."""
    low = Offset(-2.1, -2.2, -2.0, "%", False, True, True, False, "A", "A", "")
    none = low._replace(offset=0.0, low=-0.03, high=0.05)
    other = low._replace(offset=0.3, low=0.1, high=0.5, linked=False, against="B", some_reference="")
    untied = low._replace(linked=False, told=False, against="", settle="D5")
    only = "no instrument is a reference for this measurement, so only differences are known"
    assert "reads 2.1 % low (2.0 to 2.2); readings are corrected" == instrument_sentence(low)
    assert "no offset seen: -0.03 to 0.05 %; readings are corrected" == instrument_sentence(none)
    assert f"reads 0.3 % higher than B (0.1 to 0.5); nothing is corrected; {only}" == instrument_sentence(other)
    assert f"the others are told against it, and nothing is corrected; {only}" == instrument_sentence(
        other._replace(against="")
    )
    assert "read D5 with A, before it is adjusted, to tie them" in instrument_sentence(untied)
    assert "there is nothing to compare it with" in instrument_sentence(untied._replace(alone=True))
    assert "is a reference: the others are told against it" == instrument_sentence(low._replace(reference=True))


def test_instruments_are_tied_by_segments_that_both_read_or_by_way_of_others() -> None:
    """0 is the reference; 1 shares two segments with it; 2 only one with 1; 3 shares none."""
    segment = np.array([0, 0, 0, 1, 1, 2, 2, 3])
    instrument = np.array([0, 1, 1, 0, 1, 1, 2, 3])
    shared = shared_segments(segment, instrument, 4)
    assert [[0, 2, 0, 0], [2, 0, 1, 0], [0, 1, 0, 0], [0, 0, 0, 0]] == shared.tolist()

    group, width = np.array([0, 0, 0, 3]), np.array([0.0, 0.1, 0.2, 0.0])
    reference, readings = np.array([True, False, False, False]), np.array([2, 4, 1, 1])
    with_reference = ties(shared, group, reference, width, readings)
    without = ties(shared, group, np.zeros(4, dtype=bool), width, readings)

    assert [Tie(-1, 0, 0, True), Tie(0, 2, 0, True), Tie(0, 0, 1, True), Tie(-1, 0, 0, False)] == with_reference
    assert [Tie(-1, 0, 0, True), Tie(0, 2, 0, True), Tie(0, 0, 1, True), Tie(-1, 0, 0, False)] == without
    assert [] == ties(
        shared_segments(segment[:0], instrument[:0], 0), group[:0], reference[:0], width[:0], readings[:0]
    )
