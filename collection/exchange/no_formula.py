"""Texts that a spreadsheet must show and never run, and the exact way back.

In CSV an apostrophe goes before what would begin a formula: = + - @, a tab, a line end, and the full-width forms of
the four (OWASP, "CSV Injection"; ASVS 5, 1.2.10). So it does after a semicolon, a tab or a line end within a text,
where a program that separates cells there would see a cell begin (OWASP, the same page, on separators and quotes).
A text that is nothing but a plain number stays one. In a workbook a text is a cell of kind "s" and never run; there
only those characters matter that XML cannot hold (ECMA-376 part 1, 22.9.2.19, ST_Xstring).
"""

from __future__ import annotations

import re

_FORMULA = r"=+\-@\uff1d\uff0b\uff0d\uff20"
_CELL_ENDS = r";\t\r\n"
_BLANKS = r"[^\S\t\r\n]*+"
_NUMBER = r"[+-]?[0-9]+(?:\.[0-9]+)?"
# Apostrophes that stand there already are stepped over: a text that looks guarded gets one more and keeps its own.
_FIRST = rf"(?='*+{_BLANKS}(?!{_NUMBER}\Z)[{_FORMULA}\t\r\n\0])"
_LATER = rf"(?='*+(?:\"|[^\S\t\r\n])*+[{_FORMULA}])"
_SPOT = re.compile(rf"\A{_FIRST}|(?<=[{_CELL_ENDS}]){_LATER}")
_GUARD = re.compile(rf"\A'{_FIRST}|(?<=[{_CELL_ENDS}])'{_LATER}")
_CELL_END = re.compile(rf"[{_CELL_ENDS}]")

_NOT_XML = re.compile("[\0-\x08\x0b-\x1f\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")


def guarded(text: str) -> str:
    """Return a text as it is written into a CSV cell: no program that opens the file runs any of it."""
    if text[:1].isalnum() and not _CELL_END.search(text):
        return text  # nearly all are such
    return _SPOT.sub("'", text)


def unguarded(cell: str) -> str:
    """Return the text that `guarded` made a CSV cell of; a cell that needed no guard stays as it is."""
    return _GUARD.sub("", cell) if "'" in cell else cell


def sheet_text(text: str) -> str:
    """Return a text as it is stored in a cell of a workbook, for a cell of kind "s": what XML cannot hold as _xHHHH_.

    A carriage return is among it, which XML would turn into a line feed, and an underscore that begins such a word.
    """
    return _NOT_XML.sub(lambda found: f"_x{ord(found[0]):04X}_", text)
