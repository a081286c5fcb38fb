"""Numbers of drift as a person reads them: no more digits than are known, no chance of 100 %."""

from __future__ import annotations

from math import floor, log10

_MOST_DIGITS = 9
_SELDOM, _OFTEN = 0.005, 0.995  # chances that are not told apart from none and from certainty
_MANY = 10**6  # from here on digits tell nothing any more


def with_uncertainty(value: float | None, low: float | None, high: float | None) -> str:
    """Return "296.53 ± 0.23", "" where nothing is known; low and high: of its range."""
    if value is None or low is None or high is None:
        return ""
    half = (high - low) / 2
    digits = _decimals(half)
    return f"{_fixed(value, digits)} ± {_fixed(half, digits)}"


def as_range(low: float | None, high: float | None) -> str:
    """Return "295.1 to 297.9", "" where nothing is known."""
    if low is None or high is None:
        return ""
    digits = _decimals((high - low) / 2)
    return f"{_fixed(low, digits)} to {_fixed(high, digits)}"


def as_known(value: float, low: float | None, high: float | None) -> str:
    """Return a value with the decimals of an uncertainty; with six digits where none is known."""
    return f"{value:.6g}" if low is None or high is None else _fixed(value, _decimals((high - low) / 2))


def as_chance(chance: float | None) -> str:
    """Return a chance in whole per cent: "12 %", "<1 %", ">99 %"; never as none or as certain."""
    if chance is None:
        return ""
    if chance <= _SELDOM:
        return "<1 %"
    return ">99 %" if chance >= _OFTEN else f"{100 * chance:.0f} %"


def _decimals(half_width: float) -> int:
    """Return how many decimals show two digits of an uncertainty (common practice; JCGM 100:2008, 7.2.6)."""
    return min(_MOST_DIGITS, max(0, 1 - floor(log10(half_width)))) if half_width > 0 else 1


def _fixed(value: float, digits: int) -> str:
    shown = f"{value:.{digits}f}" if abs(value) < _MANY else f"{value:.3e}"
    return shown if float(shown) != 0 else shown.lstrip("-")
