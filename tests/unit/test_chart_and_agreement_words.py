"""What signals of a chart and pairs of readings say in words, and which readings make a pair."""

from __future__ import annotations

import numpy as np
import pytest

from collection.analysis.agreement import agreement
from collection.analysis.agreement_words import WINDOW_DAYS, agreement_sentence, nearest_pairs
from collection.analysis.chart_words import drawn, scale_line, signal_sentence

PREDICTS = "what this unit's own drift predicts"


@pytest.mark.parametrize(
    ("z", "mean", "beyond", "drifted", "stray", "said"),
    [
        (
            -3.4,
            -0.7,
            True,
            False,
            False,
            f"3.4 noise-widths below {PREDICTS}. One reading: repeat it before you adjust.",
        ),
        (3.4, 1.2, True, True, False, f"3.4 noise-widths above {PREDICTS}. Those before it lie that way too: look for"),
        (
            -8.0,
            0.0,
            True,
            False,
            True,
            f"8 or more noise-widths below {PREDICTS}. The readings around it say otherwise",
        ),
        (1.0, -1.1, False, True, False, f"The last readings together lie below {PREDICTS}: look for a cause."),
    ],
)
def test_a_signal_says_how_far_which_way_and_what_to_do(
    z: float, mean: float, beyond: bool, drifted: bool, stray: bool, said: str
) -> None:
    """One reading is repeated, several that lie one way have a cause, a stray one is called so."""
    assert signal_sentence(z, mean, beyond=beyond, drifted=drifted, stray=stray).startswith(said)


def test_no_signal_says_nothing() -> None:
    """A sentence stands only where something is to be done."""
    assert "" == signal_sentence(2.99, 0.5, beyond=False, drifted=False, stray=False)


def test_a_drawing_has_the_reading_at_its_place_and_at_the_edge_when_it_is_off() -> None:
    """Signal lines stand at 3 to both sides, where the heading has them."""
    assert "  :        |        :  " == drawn(None, None)
    assert "  o     *  |        :  " == drawn(-3.0, -1.0)
    assert "  :        |        : >" == drawn(8.0, None)
    assert "<" == drawn(-3.84, None)[0]
    assert "o" == drawn(-3.66, None)[0]
    assert ["-3", "0", "+3"] == scale_line().split()
    assert scale_line().index("0") == drawn(None, None).index("|")


def test_readings_make_a_pair_in_one_segment_up_to_seven_days_apart_the_nearest_first() -> None:
    """Below, at and above the window; another segment never; no reading is in two pairs."""
    both, other = np.array([0]), np.array([1])
    for apart, found in ((WINDOW_DAYS - 1, 1), (WINDOW_DAYS, 1), (WINDOW_DAYS + 1, 0)):
        assert found == len(nearest_pairs(both, np.array([100.0]), both, np.array([100.0 + apart])))
    assert [] == nearest_pairs(both, np.array([100.0]), other, np.array([100.0]))

    a, b = np.array([10.0, 12.0]), np.array([12.0, 40.0])
    assert [(1, 0)] == nearest_pairs(np.zeros(2, int), a, np.zeros(2, int), b)


def test_pairs_say_their_mean_with_its_range_and_the_limits_only_from_six_on() -> None:
    """One pair, five, six; no difference; none at all."""
    b = np.full(6, 300.0)
    a = b + np.array([-2.0, -2.2, -1.8, -2.1, -1.9, -2.0])

    def said(a_read: np.ndarray, b_read: np.ndarray) -> str:
        return agreement_sentence("strobe", "counter", agreement(a_read, b_read), 3, "µm", ratio=False)

    assert "strobe read 2 µm lower than counter, once: too few to say more" == said(a[:1], b[:1])
    assert "fewer than 6 pairs tell no limits of agreement" in said(a[:5], b[:5])
    assert said(a, b).startswith("strobe reads 2.00 µm lower than counter (1.85 to 2.15; 6 pairs on 3 units); 95 % of")
    assert said(a + 2, b).startswith("no difference seen between strobe and counter: -0.15 to 0.15 µm")
    assert "never read the same unit within 7 days" in agreement_sentence("a", "b", None, 0, "%", ratio=True)


def test_a_single_reading_that_carries_the_mean_past_its_line_is_to_be_repeated() -> None:
    """Those before it are called on only where they make up a third of the mean."""
    said = [signal_sentence(3.9, mean, beyond=True, drifted=True, stray=False) for mean in (0.88, 1.16, 1.18)]
    assert ["One reading" in each for each in said] == [True, True, False]
