"""Formulas that bring their values along, for readers that show a workbook and do not reckon.

openpyxl writes a formula with an empty value; a preview, a telephone or pandas would show nothing in its place. Formula
and value stand side by side in a cell (ECMA-376 part 1, 18.3.1.4, 18.3.1.40 and 18.3.1.96; from memory).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

if TYPE_CHECKING:
    from openpyxl import Workbook

_FORMULA = re.compile(r'(<c r="([A-Z]+[0-9]+)"[^>]*><f>[^<]*</f>)<v(?: ?/>|></v>)')
_PICTURES = "xl/media/"


def with_values(book: Workbook, values: Mapping[str, Mapping[str, str]]) -> bytes:
    """Return a workbook as the bytes of its file, its formulas with what they come to.

    values: by title of the sheet and cell ("B7"), each a plain number. A program that reckons does so anew on opening.
    """
    from openpyxl.writer.excel import ExcelWriter

    book.calculation.fullCalcOnLoad = True
    known = {f"xl/worksheets/sheet{at}.xml": values.get(title, {}) for at, title in enumerate(book.sheetnames, 1)}
    made = BytesIO()
    ExcelWriter(book, _Archive(made, known)).save()
    return made.getvalue()


class _Archive(ZipFile):
    """Fills the values in while openpyxl hands over the parts; pictures, which do not shrink, are stored as is."""

    def __init__(self, file: BytesIO, values: Mapping[str, Mapping[str, str]]) -> None:
        super().__init__(file, "w", ZIP_DEFLATED)
        self._values = values

    def write(self, filename: Any, arcname: Any = None, *how: Any) -> None:
        """Add a part that openpyxl wrote into a file of its own: a sheet."""
        values = self._values.get(str(arcname))
        if values:
            self.writestr(str(arcname), _filled(Path(filename).read_bytes(), values))
        else:
            super().write(filename, arcname, *how)

    def writestr(self, name: Any, data: Any, *how: Any) -> None:
        """Add any other part."""
        kind = (ZIP_STORED,) if str(name).startswith(_PICTURES) else how
        super().writestr(name, data, *kind)


def _filled(content: bytes, values: Mapping[str, str]) -> bytes:
    def value(found: re.Match[str]) -> str:
        return f"{found[1]}<v>{values[found[2]]}</v>" if found[2] in values else found[0]

    return _FORMULA.sub(value, content.decode("utf-8")).encode("utf-8")
