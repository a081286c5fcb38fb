"""Texts that do harm where they are not taken for texts: in a spreadsheet, in CSV, in XML, on a page, in a template.

What begins a formula: OWASP, "CSV Injection", and ASVS 5, 1.2.10. What a workbook takes for something else: ECMA-376
part 1, 18.18.11 (errors, yes or no), 22.9.2.19 (escapes); numbers, dates and zeros that get lost: common practice, no
source.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable

FORMULAS = (
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(1)",
    "\t=1+1",
    "\r=1+1",
    "\n=1+1",
    "  =1+1",
    "\u00a0=1+1",
    "\uff1d1+1",
    "\uff0b1+1",
    "\uff0d1+1",
    "\uff20SUM(1)",
    "=cmd|'/c calc'!A0",
    '=HYPERLINK("http://spool.example/","here")',
    "x;=1+1",
    'x";"=1+1',
    'x"\t"=1+1',
    "first line\n=1+1",
    "a;b;-1+1",
    '";=1+1',
    "+5 V",
    "- cleaned",
    "=",
)
LOOK_GUARDED = ("'=1+1", "''=1+1", "'", "'quoted'", "'-5", "x;'=1+1", "'+5 V", "' =1", "'\t")
NUMBERS = ("-5", "+5", "5", "-0.25", "00123", "12345678901234567890", "1E5", "0x10", "5,5")
TAKEN_FOR_OTHERS = (
    "NA", "NaN", "TRUE", "#N/A", "#REF!", "1/2", "2021-05-12", "3-4", "12:30", "_x0041_", "_x000D_", "_x005F_x0041_",
)  # fmt: skip
BREAK_FORMS = (
    "a\r\nb",
    "a\rb",
    "a\nb",
    "a\tb",
    'say "so"',
    '","=1+1',
    '"',
    "a,b",
    "a;b",
    "bell\x07",
    "unit\x1f",
    "\ufffe\uffff",
    "\ufeffmark",
    "\u202edrawkcab\u202c",
    "  blanks  ",
    "e\u0301 \U0001f4be",
    "x" * 200,
)
ON_PAGES = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "' onmouseover='alert(1)",
    "</style><script>1</script>",
    "]]>&amp;<!-- ",
    "{{ 7*7 }}{% for x in y %}",
    "javascript:alert(1)",
)
HOSTILE_TEXTS = (*FORMULAS, *LOOK_GUARDED, *NUMBERS, *TAKEN_FOR_OTHERS, *BREAK_FORMS, *ON_PAGES)
# As OWASP has them, after blanks, tabs and line ends that a program takes away; in a cell that is no plain number.
_RUNS = re.compile(r"\s*[=+\-@\uff1d\uff0b\uff0d\uff20]")
# A plain number, and what follows the comma behind it for a program that separates by something else.
_NUMBER = re.compile(r"\s*[+-]?[0-9]+(\.[0-9]+)?\s*(,.*)?", re.DOTALL)


def seen_by(separator: str, line: str) -> list[str]:
    """Return the cells that a program sees which separates them so."""
    return [cell for cells in csv.reader(io.StringIO(line, newline=""), delimiter=separator) for cell in cells]


def runs(cells: Iterable[str]) -> list[str]:
    """Return the cells that a spreadsheet would run."""
    return [cell for cell in cells if _RUNS.match(cell) and not _NUMBER.fullmatch(cell)]
