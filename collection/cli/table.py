"""Lay out rows of text as a table that fits a terminal: columns are wrapped, never cut."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence
from itertools import zip_longest

_GAP = "  "
_LEAST = 8
_INDENT = " " * 5


def width_of(text: str) -> int:
    """Return how many cells of a terminal a text takes; wide characters take two (Unicode Annex #11)."""
    if text.isascii():
        return len(text)
    return sum(_cells(character) for character in text)


def _cells(character: str) -> int:
    if unicodedata.category(character) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def wrap(text: str, width: int, *, whole_words: bool = False) -> list[str]:
    """Break a text into lines of at most `width` cells, at blanks where there are any.

    A word that is longer is broken, or with `whole_words` stands whole on a line of its own.
    """
    lines = [""]
    for word in text.split(" "):
        joined = f"{lines[-1]} {word}" if lines[-1] else word
        if width_of(joined) <= width:
            lines[-1] = joined
        else:
            pieces = [word] if whole_words else list(_pieces(word, width))
            lines[-1:] = ([lines[-1]] if lines[-1] else []) + pieces
    return lines


def _pieces(word: str, width: int) -> Iterator[str]:
    piece = ""
    for character in word:
        if piece and width_of(piece + character) > width:
            yield piece
            piece = ""
        piece += character
    yield piece


def lay_out(
    headings: Sequence[str],
    rows: Sequence[Sequence[str]],
    right: Sequence[bool],
    width: int | None,
    under: Sequence[str] = (),
    above: Sequence[str] = (),
) -> tuple[list[str], list[str]]:
    """Return the lines of the heading and the lines of the rows.

    `right` tells which columns hold numbers; `width` is what the terminal offers, None without a limit; `under` has a
    text for each row that stands below it, indented, line by line; `above` one that begins a group with it, "" within a
    group.
    Where even the narrowest columns do not fit side by side, each row becomes a block of lines
    "heading: value".
    """
    columns = list(zip(*rows, strict=True)) or [()] * len(headings)
    return lay_out_columns(headings, columns, right, width, under, above)


def lay_out_columns(
    headings: Sequence[str],
    columns: Sequence[Sequence[str]],
    right: Sequence[bool],
    width: int | None,
    under: Sequence[str] = (),
    above: Sequence[str] = (),
) -> tuple[list[str], list[str]]:
    """Do the same from the texts of each column."""
    natural = [max(width_of(heading), _widest(column)) for heading, column in zip(headings, columns, strict=True)]
    widths = natural if width is None else _fit(natural, headings, columns, right, width)
    heading = [] if widths is None else list(_lines(headings, widths, right))
    if widths == natural and not under and not above:
        return heading, _side_by_side(columns, natural, right)
    rows = list(zip(*columns, strict=True))
    body: list[str] = []
    for row, first, text in zip(rows, above or [""] * len(rows), under or [""] * len(rows), strict=True):
        if body and (first or widths is None):
            body.append("")
        body += _above(first, width)
        body += _block(headings, row, width or 0) if widths is None else _lines(row, widths, right)
        body += _below(text, width)
    return heading, body


def _widest(texts: Sequence[str]) -> int:
    return max(map(len if all(map(str.isascii, texts)) else width_of, texts), default=0)


def _side_by_side(columns: Sequence[Sequence[str]], widths: Sequence[int], right: Sequence[bool]) -> list[str]:
    """Return the lines of rows of which every cell has room: most lists, some of them very long."""
    forms = zip(columns, widths, right, strict=True)
    padded = [[_pad(text, width, number) for text in column] for column, width, number in forms]
    return [_GAP.join(line).rstrip() for line in zip(*padded, strict=True)]


def _above(text: str, width: int | None) -> Iterator[str]:
    if text:
        first, *more = [text] if width is None else wrap(text, width - 2)
        yield from (first, *(f"  {piece}" for piece in more))


def _below(text: str, width: int | None) -> Iterator[str]:
    for line in text.split("\n") if text else ():
        pieces = [line] if width is None else wrap(line, width - len(_INDENT))
        yield from (f"{_INDENT}{piece}" for piece in pieces)


def _longest_word(text: str) -> int:
    return max(width_of(word) for word in text.split(" "))


def _fit(
    natural: list[int],
    headings: Sequence[str],
    columns: Sequence[Sequence[str]],
    right: Sequence[bool],
    width: int,
) -> list[int] | None:
    """Narrow the widest columns until all fit; None when that cannot be.

    Numbers are never broken, words of text only if it must be.
    """
    widths = list(natural)
    spare = width - sum(widths) - len(_GAP) * (len(widths) - 1)
    if spare >= 0:
        return widths
    words = [
        max([_longest_word(heading), *map(width_of if number else _longest_word, column)])
        for number, heading, column in zip(right, headings, columns, strict=True)
    ]
    while spare < 0:
        narrow = [at for at, cells in enumerate(widths) if cells > (words[at] if right[at] else _LEAST)]
        if not narrow:
            return None
        wide = [at for at in narrow if widths[at] > words[at]] or narrow
        widths[max(wide, key=lambda at: widths[at])] -= 1
        spare += 1
    return widths


def _lines(cells: Sequence[str], widths: Sequence[int], right: Sequence[bool]) -> Iterator[str]:
    columns = [
        wrap(cell, width) if width_of(cell) > width else [cell] for cell, width in zip(cells, widths, strict=True)
    ]
    for line in zip_longest(*columns, fillvalue=""):
        padded = [_pad(text, *form) for text, form in zip(line, zip(widths, right, strict=True), strict=True)]
        yield _GAP.join(padded).rstrip()


def _pad(text: str, width: int, right: bool) -> str:
    if text.isascii():
        return text.rjust(width) if right else text.ljust(width)
    blanks = " " * (width - width_of(text))
    return blanks + text if right else text + blanks


def _block(headings: Sequence[str], row: Sequence[str], width: int) -> Iterator[str]:
    for heading, cell in zip(headings, row, strict=True):
        if cell:
            first, *more = wrap(f"{heading}: {cell}", max(width - 2, 1))
            yield first
            yield from (f"  {line}" for line in more)
