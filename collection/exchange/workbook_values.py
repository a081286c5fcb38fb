"""What a person sees in a cell, out of the number or text that the file stores and the cell's number format.

Numbers, dates and their formats: ECMA-376 part 1, clauses 18.8.30 (numFmt, with the built-in ids), 18.17.4 (dates and
times), 18.18.11 (ST_CellType), 22.9.2.19 (ST_Xstring). 15 digits are what a spreadsheet program shows and keeps of a
number (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from typing import NamedTuple

_BUILT_IN = {
    9: "0%",
    10: "0.00%",
    **dict.fromkeys(range(14, 17), "dd/mm/yyyy"),
    17: "mmm yyyy",
    **dict.fromkeys(range(18, 22), "hh:mm:ss"),
    22: "dd/mm/yyyy hh:mm",
    **dict.fromkeys(range(27, 32), "dd/mm/yyyy"),
    **dict.fromkeys(range(32, 36), "hh:mm:ss"),
    36: "dd/mm/yyyy",
    45: "mm:ss",
    46: "[h]:mm:ss",
    47: "mm:ss",
    **dict.fromkeys(range(50, 59), "dd/mm/yyyy"),
}
_ESCAPED = re.compile(r'"[^"]*"|\\.|_.|\*.|\[(?!h+\]|m+\]|s+\])[^\]]*\]', re.IGNORECASE)
_ZEROS = re.compile(r'(?:"([^"]*)"|((?:\\.|[-A-Z])*))(0{2,})', re.IGNORECASE)
_CURRENCY = re.compile(r'\[\$([^\]-]+)[^\]]*\]|"\s*([A-Z]{3})\s*"|(?<!\[)([$€£¥₤₩₪₴₹₺₽])')
_CONTROL = re.compile(r"_x(?:(00(?!00)[01][0-9A-F]|FFF[EF])|005F(?=_x[0-9A-F]{4}_))_", re.IGNORECASE)
_LAST_SERIAL = 2_958_466  # the day after 9999-12-31 in the 1900 system
_DAYS_TO_1904 = 1462


class Cell(NamedTuple):
    """What stands in a cell: its text, and "empty", "text", "number", "date", "yes_no" or "error".

    Text cells are as written. Numbers are plain decimals of at most 15 digits ("300", "12.5"). Dates are ISO: the day
    "2021-05-12", with a time of day "2021-05-12 14:30", or what of it the cell shows, "2021-05" or "2021". A number
    that is shown with a currency or as a percentage is the text "35.50 €" or "99 %".
    """

    text: str
    kind: str


EMPTY = Cell("", "empty")


class Format(NamedTuple):
    """What a number format means for reading: "number", "date" or "time", and the details.

    shows: of a date the part that is shown, 4 (year), 7 (month) or 10 (day) characters of its ISO form.
    prefix, digits: of a format such as "D-"000, what stands before, and to how many digits zeros fill up.
    sign: the currency that is shown beside a number, or "%".
    """

    kind: str = "number"
    shows: int = 10
    prefix: str = ""
    digits: int = 0
    sign: str = ""


class Formats:
    """The number formats of a workbook by a cell's style, and its date system."""

    def __init__(self, codes: Mapping[int, str], styles: Sequence[int], *, from_1904: bool) -> None:
        known = {number: read_format(codes.get(number) or _BUILT_IN.get(number, "")) for number in set(styles)}
        self._styles = {str(place): known[number] for place, number in enumerate(styles)}
        self._from_1904 = from_1904
        self._plain = Format()

    def cell(self, style: str | None, raw: str) -> Cell:
        """Return the cell of a stored number; where the store holds no number, its text as it is."""
        form = self._styles.get(style, self._plain) if style else self._plain
        try:
            if form.kind == "number":
                return _number(raw, form)
            serial = float(raw)
        except (ValueError, ArithmeticError):
            return Cell(raw, "text")
        if form.kind == "time":
            return Cell(_time(serial), "text") if serial >= 0 else _number(raw, form)
        return _date(serial + _DAYS_TO_1904 if self._from_1904 else serial, form) or _number(raw, self._plain)


def read_format(code: str) -> Format:
    """Return what a number format means: the first of its sections, without what is quoted, escaped or in brackets."""
    section = code.split(";", maxsplit=1)[0] if '"' not in code else re.split(r';(?=(?:[^"]*"[^"]*")*[^"]*$)', code)[0]
    bare = _ESCAPED.sub("", section).lower()
    if "general" in bare or not re.search(r"[dmyhsbe]", bare):
        return _signed(section, bare) or _zeros(section)
    if "0" in bare and not re.search(r"s\.0|\[", bare):
        return Format()  # 0.00E+00
    if "d" in bare:
        return Format("date", 10)
    if re.search(r"[yeb]", bare):
        return Format("date", 7 if "m" in bare else 4)
    if "m" in bare and not re.search(r"[hs]", bare) and "[" not in bare:
        return Format("date", 10)  # only the month: the day is kept, nothing is guessed from half of it
    return Format("time")


def _signed(section: str, bare: str) -> Format | None:
    """Return the percentage or currency of a format, if it is one."""
    if "%" in bare:
        return Format(sign="%")
    found = _CURRENCY.search(section)
    return Format(sign=next(filter(None, found.groups())).strip()) if found else None


def _zeros(section: str) -> Format:
    """Return the filling up of a format of zeros alone, such as 00000 or "D-"000."""
    found = _ZEROS.fullmatch(section)
    if found is None:
        return Format()
    prefix = found[1] if found[1] is not None else (found[2] or "").replace("\\", "")
    return Format(prefix=prefix, digits=len(found[3]))


def _number(raw: str, form: Format) -> Cell:
    text = plain(raw)
    if form.sign == "%":
        return Cell(f"{plain(str(Decimal(text) * 100))} %", "text")
    if form.sign:
        cents = text if text.isdigit() else Decimal(text).quantize(Decimal("0.01"), ROUND_HALF_UP)
        return Cell(f"{cents} {form.sign}", "text")
    if form.digits and text.isdigit():
        return Cell(form.prefix + text.zfill(form.digits), "text" if form.prefix else "number")
    return Cell(text, "number")


def plain(raw: str) -> str:
    """Return a stored number as a plain decimal, never 1E+5 or 300.0; ValueError where it is none.

    Whole numbers written out keep every digit; others have the 15 digits that a spreadsheet program shows.
    """
    if raw.isascii() and raw.isdigit():
        return raw.lstrip("0") or "0"
    number = Decimal(f"{float(raw):.15g}")
    if not number.is_finite():
        raise ValueError(raw)
    text = f"{number:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _date(serial: float, form: Format) -> Cell | None:
    """Return the day of a serial number of the 1900 system, or None where that system has no such day.

    Its day 60 is 29 February 1900, which never was: days before it stand one lower than from 1899-12-30 on.
    """
    if not 0 < serial < _LAST_SERIAL:
        return None
    if serial < 1:
        return Cell(_time(serial), "text")
    if int(serial) == 60:
        return Cell("1900-02-29", "text")
    start = datetime(1899, 12, 31) if serial < 60 else datetime(1899, 12, 30)  # noqa: DTZ001  a cell has no time zone
    return _moment(start + timedelta(seconds=round(serial * 86_400)), form.shows)


def _moment(moment: datetime, shows: int = 10) -> Cell:
    day = moment.date().isoformat()
    if (moment.hour, moment.minute, moment.second) == (0, 0, 0):
        return Cell(day[:shows], "date")
    return Cell(f"{day} {moment:%H:%M}" + (f":{moment:%S}" if moment.second else ""), "date")


def _time(days: float) -> str:
    """Return a time of day or a length of time as 14:30, with seconds where there are any."""
    minutes, seconds = divmod(round(days * 86_400), 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}" + (f":{seconds:02d}" if seconds else "")


def iso_cell(raw: str) -> Cell:
    """Return the cell of a date that is stored as ISO 8601 text (cell type "d")."""
    try:
        if len(raw) == 10:
            return Cell(date.fromisoformat(raw).isoformat(), "date")
        return _moment(datetime.fromisoformat(raw).replace(tzinfo=None, microsecond=0))
    except ValueError:
        return Cell(raw, "text")


def as_written(stored: str) -> str:
    """Return stored text as a person wrote it: _x000D_ and its like are line ends and others that XML cannot hold.

    Other _xHHHH_ stay: spreadsheet programs escape a written one as _x005F_xHHHH_, other writers not at all, and no
    writer escapes what can be written plainly.
    """
    if "_x" not in stored:
        return stored
    return _CONTROL.sub(lambda found: chr(int(found[1], 16)) if found[1] else "_", stored)
