"""Numbers of drift as a person reads them."""

from __future__ import annotations

import pytest

from collection.analysis.drift.shown import as_chance, as_known, as_range, with_uncertainty


@pytest.mark.parametrize(
    ("value", "low", "high", "shown"),
    [
        (296.5195, 296.2453, 296.7934, "296.52 ± 0.27"),
        (198.0, 131.15, 264.85, "198 ± 67"),
        (-9.46, -20.19, 0.67, "-9 ± 10"),
        (5.0602, 5.0363, 5.0841, "5.060 ± 0.024"),
        (-0.0004, -1.3, 1.3, "0.0 ± 1.3"),
        (3.0, 3.0, 3.0, "3.0 ± 0.0"),
        (2.5e9, 2.4e9, 2.6e9, "2.500e+09 ± 1.000e+08"),
    ],
)
def test_a_value_has_the_decimals_of_two_digits_of_its_uncertainty(
    value: float, low: float, high: float, shown: str
) -> None:
    """No more digits than are known, and no minus before zero."""
    assert shown == with_uncertainty(value, low, high)


def test_what_is_not_known_is_blank() -> None:
    """Nothing is made up where a number is missing; a reading alone is shown as it was read."""
    assert ["", "", ""] == [with_uncertainty(None, 1.0, 2.0), as_range(None, 2.0), as_chance(None)]
    assert "300.683" == as_known(300.683, None, None)
    assert "300.68" == as_known(300.683, 296.25, 296.79)
    assert "294.59 to 295.25" == as_range(294.589, 295.246)


@pytest.mark.parametrize(
    ("chance", "shown"),
    [(0.0, "<1 %"), (0.005, "<1 %"), (0.0051, "1 %"), (0.9949, "99 %"), (0.995, ">99 %"), (1.0, ">99 %")],
)
def test_a_chance_is_neither_none_nor_certain(chance: float, shown: str) -> None:
    """Below, at and above what is not told apart from them."""
    assert shown == as_chance(chance)
