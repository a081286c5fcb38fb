"""What fits on a label: where its code stands, and each line of text in a size in which it has room."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from typing import NamedTuple

from collection.errors import Refused

QUIET = 4  # modules around a code: ISO/IEC 18004:2015, 6.3.8
# The smallest module, in mm: four dots of a printer of 300 dots an inch. Common practice, no source.
LEAST_MODULE = 4 * 25.4 / 300
_LEAST_TAG = 2.0  # mm of type that is read at arm's length; common practice, no source
_LEAST_TEXT = 1.6  # mm of type that is read from near: common practice, no source
_MOST_TAG, _MOST_TEXT = 9.0, 3.2  # mm
_TAG_PART, _TEXT_PART = 0.34, 0.14  # of the height of the text's room
_MATTER = (
    2  # first texts that shrink rather than are cut: days of service and of the next work, model and serial number
)
_LEADING = 1.2  # height of a line, in sizes of its type
_PAD = 1.5  # mm between text and the edge of the label
_CODE_PART = 0.45  # of the width of a wide label
_UPRIGHT = 1.5  # labels less wide than this many heights have their text below the code
_CODE_ABOVE = 0.6  # of the height of such a label
# Letters by their width; all others are as wide as small ones where they are letters, else as wide as signs.
_THIN, _SLIM, _WIDE = frozenset("iljI.,:;'|! ()[]/-"), frozenset("rtf"), frozenset("MWmw@%ÆŒæœĦħŉŴŵ")


class Widths(NamedTuple):
    """How wide letters are at most, in sizes of their type."""

    thin: float
    slim: float
    small: float
    capital: float
    sign: float
    wide: float


# Not less than those of a wide sans-serif type (DejaVu Sans, measured), so that others have room as well.
_PLAIN = Widths(0.41, 0.42, 0.65, 0.79, 0.84, 1.08)
_BOLD = Widths(0.47, 0.50, 0.74, 0.86, 0.88, 1.17)


class Line(NamedTuple):
    """A line of text: left end and base line in mm from the corner of the label, size of type in mm."""

    x: float
    y: float
    size: float
    text: str
    bold: bool


class LabelPlan(NamedTuple):
    """Where the code stands with its quiet zone (corner, side and one module, in mm), and the lines of text."""

    code_x: float
    code_y: float
    side: float
    module: float
    lines: tuple[Line, ...]


def plan_label(width: float, height: float, modules: int, tag: str, texts: Sequence[str]) -> LabelPlan:
    """Return how a label of so many mm is filled; texts after the tag that have no room are left out, the last first.

    modules: of one side of the code, without its quiet zone. Raises Refused where the code would be too fine to be
    read, and where the tag would be.
    """
    upright = width < _UPRIGHT * height
    side = min(width, height * _CODE_ABOVE) if upright else min(height, width * _CODE_PART)
    module = side / (modules + 2 * QUIET)
    if module < LEAST_MODULE:
        needed = (modules + 2 * QUIET) * LEAST_MODULE
        raise Refused(
            f'The code of "{tag}" needs {needed:.1f} mm of a label; one of {width:g} x {height:g} mm leaves it'
            f" {side:.1f} mm.",
            "Take larger labels, as --sheet 3x8 --size 70x37.",
        )
    if upright:
        lines = _lines(_PAD, side, width - 2 * _PAD, height - side - _PAD / 2, tag, texts)
        return LabelPlan((width - side) / 2, 0.0, side, module, lines)
    # The quiet zone of the code is white already, so the text begins at its edge.
    lines = _lines(side, _PAD, width - side - _PAD, height - 2 * _PAD, tag, texts)
    return LabelPlan(0.0, (height - side) / 2, side, module, lines)


def _lines(x: float, y: float, width: float, height: float, tag: str, texts: Sequence[str]) -> tuple[Line, ...]:
    """Return the tag and what else has room in a box, one below the other, in the middle of its height."""
    size = min(_MOST_TAG, height * _TAG_PART if texts else height, width / width_of(tag, bold=True), height / _LEADING)
    if size < _LEAST_TAG:
        raise Refused(
            f'The tag "{tag}" has no room on the label: {width:.1f} mm leave it type of {size:.1f} mm.',
            "Take larger labels, as --sheet 3x8 --size 70x37.",
        )
    kept = [(size, tag, True)]
    left = height - size * _LEADING
    small = _size_of_texts([text for text in texts[:_MATTER] if text], width, height)
    for text in filter(None, texts):
        if left < small * _LEADING:
            break
        kept.append((small, _cut(text, width / small), False))
        left -= small * _LEADING
    lines, top = [], y + left / 2
    for one, text, bold in kept:
        # Letters stand on the base line and reach below it by a quarter of their size at most.
        lines.append(Line(x, top + one * (_LEADING + 0.5) / 2, one, text, bold))
        top += one * _LEADING
    return tuple(lines)


def _size_of_texts(texts: Sequence[str], width: float, height: float) -> float:
    """Return one size for all texts: the usual one, or one in which those that matter have room."""
    usual = min(_MOST_TEXT, height * _TEXT_PART)
    fits = min((width / width_of(text) for text in texts), default=usual)
    return max(_LEAST_TEXT, min(usual, fits))


def _cut(text: str, room: float) -> str:
    """Return what has room of a text, in sizes of its type; one that was cut ends in "…"."""
    if width_of(text) <= room:
        return text
    while len(text) > 1 and width_of(text + "…") > room:
        text = text[:-1]
    return text.rstrip() + "…"


def width_of(text: str, *, bold: bool = False) -> float:
    """Return how wide a text is at most, in sizes of its type."""
    widths = _BOLD if bold else _PLAIN
    return sum(_letter(letter, widths) for letter in text) or widths.small


def _letter(letter: str, widths: Widths) -> float:
    for letters, width in ((_THIN, widths.thin), (_SLIM, widths.slim), (_WIDE, widths.wide)):
        if letter in letters:
            return width
    if unicodedata.east_asian_width(letter) in "WF":
        return 1.0  # a full square, whatever the type
    if letter.isupper():
        return widths.capital
    if letter.isascii() and not letter.isalnum():
        return widths.sign
    return widths.small if letter.isalpha() or letter.isdecimal() else widths.wide
