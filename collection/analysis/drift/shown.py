"""Numbers of drift as a person reads them: no more digits than are known, no chance of 100 %."""

from __future__ import annotations

from math import floor, log10

_MOST_DIGITS = 9
_SELDOM, _OFTEN = 0.01, 0.99
_MANY = 10**6  # from here on digits tell nothing any more


def show_level(value: float, low: float, high: float) -> str:
    """Return a value with the decimals that show the leading digit of the half width of its range."""
    return _fixed(value, _decimals((high - low) / 2))


def show_range(low: float, high: float) -> str:
    """Return a range as "294.6 to 295.2", with the decimals that tell its ends apart."""
    digits = _decimals((high - low) / 2)
    return f"{_fixed(low, digits)} to {_fixed(high, digits)}"


def show_chance(chance: float) -> str:
    """Return a chance as "7 %", never as none or as certain."""
    if chance < _SELDOM:
        return "under 1 %"
    return "over 99 %" if chance > _OFTEN else f"{100 * chance:.0f} %"


def _decimals(size: float) -> int:
    return min(_MOST_DIGITS, max(0, -floor(log10(size)))) if size > 0 else 1


def _fixed(value: float, digits: int) -> str:
    shown = f"{value:.{digits}f}" if abs(value) < _MANY else f"{value:.3e}"
    return shown if float(shown) != 0 else shown.lstrip("-")
