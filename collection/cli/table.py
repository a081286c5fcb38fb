"""Lay out rows of text as a table that fits a terminal: columns are wrapped, never cut."""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Iterable, Iterator, Sequence
from functools import cache
from itertools import chain, zip_longest

_GAP = "  "
_LEAST = 8
_WHOLE = len("2026-03-01")  # a word as short as a day or a tag is never broken
_INDENT = " " * 5


def width_of(text: str) -> int:
    """Return how many cells of a terminal a text takes; wide characters take two (Unicode Annex #11)."""
    if text.isascii():
        return len(text)
    return sum(map(_cells, text))


@cache
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
    heading, body = lay_out_columns(headings, columns, right, width, under, above)
    return heading, list(body)


def lay_out_columns(
    headings: Sequence[str],
    columns: Sequence[Sequence[str]],
    right: Sequence[bool],
    width: int | None,
    under: Sequence[str] = (),
    above: Sequence[str] = (),
) -> tuple[list[str], Iterator[str]]:
    """Do the same from the texts of each column; the lines of the rows are laid out when they are asked for."""
    natural = [max(width_of(heading), _widest(column)) for heading, column in zip(headings, columns, strict=True)]
    widths = natural if width is None else _fit(natural, headings, columns, right, width)
    heading = [] if widths is None else list(_lines(headings, widths, right))
    if widths == natural and not under and not above:
        return heading, map(str.rstrip, _padded(columns, natural, right))
    rows = zip(*columns, strict=True)
    blocks = (_block(headings, row, width or 0) for row in rows) if widths is None else _wrapped(columns, widths, right)
    none = [""] * len(columns[0])
    return heading, _between(blocks, above or none, under or none, width, apart=widths is None)


def _between(
    blocks: Iterable[Iterable[str]], above: Sequence[str], under: Sequence[str], width: int | None, *, apart: bool
) -> Iterator[str]:
    """Yield the lines of each row between the text above it and that below it; groups, or all rows, stand apart."""
    begun = False
    for lines, first, text in zip(blocks, above, under, strict=True):
        if begun and (first or apart):
            yield ""
        for line in chain(_above(first, width), lines, _below(text, width)):
            begun = True
            yield line


def _widest(texts: Collection[str]) -> int:
    if all(map(str.isascii, texts)):
        return max(map(len, texts), default=0)
    return max(map(width_of, set(texts)))


def _wrapped(columns: Sequence[Sequence[str]], widths: Sequence[int], right: Sequence[bool]) -> Iterator[Iterable[str]]:
    """Yield the lines of each row; one whose cells all have room, as most have, is as wide as they are."""
    whole = sum(widths) + len(_GAP) * (len(widths) - 1)
    for line, row in zip(_padded(columns, widths, right), zip(*columns, strict=True), strict=True):
        yield (line.rstrip(),) if width_of(line) == whole else _lines(row, widths, right)


def _padded(columns: Sequence[Sequence[str]], widths: Sequence[int], right: Sequence[bool]) -> Iterator[str]:
    """Return each row as one line, cells without room being left as they are."""
    forms, cells = [], []
    for column, width, number in zip(columns, widths, right, strict=True):
        if all(map(str.isascii, column)):
            forms.append(f"%{'' if number else '-'}{width}s")
            cells.append(column)
        else:
            padded = {text: _pad(text, width, number) for text in set(column)}
            forms.append("%s")
            cells.append([padded[text] for text in column])
    return map(_GAP.join(forms).__mod__, zip(*cells, strict=True))


def _above(text: str, width: int | None) -> Iterator[str]:
    if text:
        first, *more = [text] if width is None else wrap(text, width - 2)
        yield from (first, *(f"  {piece}" for piece in more))


def _below(text: str, width: int | None) -> Iterator[str]:
    for line in text.split("\n") if text else ():
        pieces = [line] if width is None else wrap(line, width - len(_INDENT))
        yield from (f"{_INDENT}{piece}" for piece in pieces)


def _longest_word(texts: Iterable[str]) -> int:
    return _widest({word for text in texts for word in text.split(" ")})


def _fit(
    natural: list[int],
    headings: Sequence[str],
    columns: Sequence[Sequence[str]],
    right: Sequence[bool],
    width: int,
) -> list[int] | None:
    """Narrow the widest columns until all fit; None when that cannot be.

    Numbers and short words are never broken, longer words only if it must be.
    """
    widths = list(natural)
    spare = width - sum(widths) - len(_GAP) * (len(widths) - 1)
    if spare >= 0:
        return widths
    words = [
        max(_longest_word([heading]), _widest(column) if number else _longest_word(column))
        for number, heading, column in zip(right, headings, columns, strict=True)
    ]
    least = [
        cells if number else max(cells if cells <= _WHOLE else 0, _LEAST)
        for number, cells in zip(right, words, strict=True)
    ]
    while spare < 0:
        narrow = [at for at, cells in enumerate(widths) if cells > least[at]]
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
