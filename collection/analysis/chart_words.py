"""What a signal of a chart asks for, in plain words; and the chart drawn in characters."""

from __future__ import annotations

from collection.analysis.charts import BEYOND, WEIGHT

_MOST = 8.0  # the charts go no further
_A_STEP = 3  # characters of a drawing per standard deviation
_SIDE = 11  # characters to both sides of what was foretold


def signal_sentence(z: float, mean: float, *, beyond: bool, drifted: bool, stray: bool) -> str:
    """Return what a signal says and asks for; "" without one.

    z: the prediction error of the reading in standard deviations; mean: the weighted mean. beyond, drifted: which
    rule signals. stray: all readings together make it out as a stray one.
    """
    if beyond:
        size = f"{_MOST:.0f} or more" if abs(z) > _MOST - 0.05 else f"{abs(z):.1f}"
        said = f"{size} noise-widths {_way(z)} what this unit's own drift predicts."
        if stray:
            return f"{said} The readings around it say otherwise: likely stray, repeat it."
        # A single reading may carry the mean past its line: those before it must make up a third of it.
        if drifted and WEIGHT * abs(z) < abs(mean) * 2 / 3:
            return f"{said} Those before it lie that way too: look for a cause."
        return f"{said} One reading: repeat it before you adjust."
    if drifted:
        return f"The last readings together lie {_way(mean)} what this unit's own drift predicts: look for a cause."
    return ""


def drawn(z: float | None, mean: float | None) -> str:
    """Return one line of the chart: "|" is what was foretold, ":" the signal lines, "*" the mean, "o" the reading.

    A reading off the drawing is "<" or ">" at its edge.
    """
    cells = [" "] * (2 * _SIDE + 1)
    for at, sign in ((0.0, "|"), (-BEYOND, ":"), (BEYOND, ":")):
        cells[_place(at)] = sign
    if mean is not None:
        cells[_place(mean)] = "*"
    if z is not None:
        cells[_place(z)] = "o" if abs(z) * _A_STEP <= _SIDE else "<" if z < 0 else ">"
    return "".join(cells)


def scale_line() -> str:
    """Return the heading of the drawing: where three standard deviations are."""
    cells = [" "] * (2 * _SIDE + 1)
    for at, text in ((-BEYOND, "-3"), (0.0, "0"), (BEYOND, "+3")):
        start = _place(at) - len(text) + 1
        cells[start : start + len(text)] = text
    return "".join(cells)


def _way(error: float) -> str:
    return "above" if error > 0 else "below"


def _place(error: float) -> int:
    return _SIDE + max(-_SIDE, min(_SIDE, round(error * _A_STEP)))
