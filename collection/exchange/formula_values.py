"""Formulas that bring their values along, for readers that show a workbook and do not reckon.

openpyxl writes a formula with an empty value; a preview, a telephone or pandas would show nothing in its place. Formula
and value stand side by side in a cell (ECMA-376 part 1, 18.3.1.4, 18.3.1.40 and 18.3.1.96; from memory).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from io import BytesIO
from typing import TYPE_CHECKING
from zipfile import ZIP_DEFLATED, ZipFile

if TYPE_CHECKING:
    from openpyxl import Workbook

_FORMULA = re.compile(r'(<c r="([A-Z]+[0-9]+)"[^>]*><f>[^<]*</f>)<v(?: ?/>|></v>)')


def with_values(book: Workbook, values: Mapping[str, Mapping[str, str]]) -> bytes:
    """Return a workbook as the bytes of its file, its formulas with what they come to.

    values: by title of the sheet and cell ("B7"), each a plain number. A program that reckons does so anew on opening.
    """
    book.calculation.fullCalcOnLoad = True
    made, filled = BytesIO(), BytesIO()
    book.save(made)
    parts = {f"xl/worksheets/sheet{at}.xml": title for at, title in enumerate(book.sheetnames, 1)}
    with ZipFile(made) as archive, ZipFile(filled, "w", ZIP_DEFLATED) as whole:
        for part in archive.infolist():
            content = archive.read(part)
            known = values.get(parts.get(part.filename, ""))
            whole.writestr(part, _filled(content, known) if known else content)
    return filled.getvalue()


def _filled(content: bytes, values: Mapping[str, str]) -> bytes:
    def value(found: re.Match[str]) -> str:
        return f"{found[1]}<v>{values[found[2]]}</v>" if found[2] in values else found[0]

    return _FORMULA.sub(value, content.decode("utf-8")).encode("utf-8")
