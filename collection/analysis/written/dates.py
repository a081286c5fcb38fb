"""Days as people write them: "12.05.2021", "May 12, 2021", "March 2022", "spring 2022", "Q1 2022", "ca. 2020"."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal
from functools import lru_cache

from collection.analysis.written.forms import Read, sentence, take_about, tidy
from collection.analysis.written.months import FILLERS, MONTHS, PARTS_OF_YEAR, WEEKDAYS
from collection.errors import Refused, fold
from collection.quantity import parse_day, show_day

EARLIEST_YEAR = 1950  # before any disk drive
_AHEAD = 10  # a two-digit year may be an expiry: up to ten years ahead it is of this century

_CLOCK_TIME = re.compile(
    r"[ ,T]+([0-9]{1,2}[:.h][0-9]{2}(?:[:.][0-9]{2}(?:[.,][0-9]+)?)?)\s*(am|pm|uhr|h)?"
    r"\s*(?:z|utc|gmt|[+-][0-9]{2}:?[0-9]{2})?$",
    re.IGNORECASE | re.ASCII,
)
_THREE = re.compile(r"([0-9]{1,4})\s*([./\-, ])\s*([0-9]{1,2})\s*\2\s*([0-9]{4}|[0-9]{1,2})\.?", re.ASCII)
_TWO = re.compile(r"([0-9]{1,4})\s*([./\- ])\s*([0-9]{1,4})\.?", re.ASCII)
_QUARTER = re.compile(r"(?:q([1-4])|([1-4])\.?\s*q(?:uarter|uartal|t?r)?)[\s./-]*'?([0-9]{4}|[0-9]{2})", re.ASCII)
_QUARTER_LAST = re.compile(r"([0-9]{4})[\s./-]*q([1-4])", re.ASCII)
_TOKEN = re.compile(r"'?[0-9]+(?:st|nd|rd|th|er|ère|\.|º|ª)?|[^\W\d_]+\.?", re.IGNORECASE)
_SERIAL_ZERO = date(1899, 12, 30)


@lru_cache(maxsize=4096)
def read_day(text: str, form: str = "dmy", *, today: date) -> Read:
    """Return the day, month or year that a cell names, as ISO 8601 text: "2021-05-12", "2022-03", "2020".

    form: the book's date form, which decides what "12/05/2021" is ("mdy" month first, any other day first); with
    points the day stands first. Years of two digits, parts of a year and "about" are doubtful. today: two digits are
    the year nearest to it, at most ten years ahead. Raises Refused for a day of no calendar, one before 1950, and
    what cannot be read. A day ahead of today is not refused here: a loan's due day may be one.
    """
    whole = tidy(text)
    bare, said = take_about(whole)
    bare, time_said = _without_time(bare)
    folded = _without_weekday(fold(bare))
    read = (
        _iso_basic(folded)
        or _quarter(folded, today)
        or _three_numbers(folded, form, today)
        or _two_numbers(folded, today)
        or _in_words(folded, today)
    )
    if read is None:
        raise Refused(f'"{whole}" is not a day that can be read.', "Write it as 2021-05-12, 2021-05 or 2021.")
    if int(read.value[:4]) < EARLIEST_YEAR:
        raise Refused(f'"{whole}" is before {EARLIEST_YEAR}, before any disk drive.', "Write the year in full.")
    said = [*said, *time_said, *([read.doubt] if read.doubt else [])]
    return Read(read.value, f"read as {show_day(read.value)}: {sentence(said)}" if said else "")


def order_of(texts: Iterable[str], form: str) -> str:
    """Return the order in which a column of days is written: "mdy" or "dmy" where a day tells it, else `form`.

    "02/13/2024" tells that the month stands first, "13/02/2024" that the day does; a column that tells both keeps
    the book's form.
    """
    told = set()
    for text in texts:
        found = _THREE.fullmatch(fold(tidy(text)))
        if found is not None and found[2] != "." and len(found[1]) <= 2:
            one, two = int(found[1]), int(found[3])
            told |= {"dmy"} if one > 12 >= two else {"mdy"} if two > 12 >= one else set()
    return told.pop() if len(told) == 1 else form


def read_serial(number: float | Decimal) -> Read:
    """Return the day that a spreadsheet's day number stands for, always doubtful: 44328 is 2021-05-12.

    Counted from 1899-12-30, which is right from 1900-03-01 on (Office Open XML, ISO/IEC 29500-1, clause 18.17.4.1,
    the 1900 date base, from memory). Raises Refused for numbers before 1950 and after 2099.
    """
    days = int(number)
    least, most = (date(EARLIEST_YEAR, 1, 1) - _SERIAL_ZERO).days, (date(2099, 12, 31) - _SERIAL_ZERO).days
    if not least <= days <= most:
        raise Refused(
            f"{number} is neither a year nor a spreadsheet's day number ({least} to {most}).",
            "Write the day as 2021-05-12.",
        )
    day = (_SERIAL_ZERO + timedelta(days=days)).isoformat()
    return Read(day, f"read as {show_day(day)}: the cell holds a spreadsheet's day number")


def _without_time(text: str) -> tuple[str, list[str]]:
    """Take the time of day off; midnight is what spreadsheets add by themselves and needs no word."""
    found = _CLOCK_TIME.search(text)
    if found is None or not text[: found.start()].strip():
        return text, []
    midnight = re.fullmatch(r"0{1,2}[:.]00(?:[:.]00(?:[.,]0+)?)?", found.group(1)) is not None
    kept = text[: found.start()].rstrip(", ")
    return kept, [] if midnight else [f'the time "{found.group(1)}" is left out']


def _without_weekday(text: str) -> str:
    """Take a weekday off the start: it adds nothing."""
    first, _, rest = text.partition(" ")
    return rest.strip() if rest and first.rstrip(".,") in WEEKDAYS else text


def _iso_basic(text: str) -> Read | None:
    """Read "20210512" (ISO 8601 basic form) and a year alone."""
    if re.fullmatch(r"(?:19|20)[0-9]{6}", text, re.ASCII):
        return _day(int(text[:4]), int(text[4:6]), int(text[6:]), text)
    return Read(text) if re.fullmatch(r"[0-9]{4}", text, re.ASCII) else None


def _quarter(text: str, today: date) -> Read | None:
    """Read "Q1 2022" as its year: a quarter has no form of its own in the book."""
    found = _QUARTER.fullmatch(text)
    last = _QUARTER_LAST.fullmatch(text)
    if found is None and last is None:
        return None
    number, written = (found.group(1) or found.group(2), found.group(3)) if found else (last[2], last[1])  # type: ignore[index]
    year, doubt = _year(written, today)
    return Read(str(year), sentence([f"quarter {number} is left out", *doubt]))


def _three_numbers(text: str, form: str, today: date) -> Read | None:
    """Read day, month and year in numbers."""
    found = _THREE.fullmatch(text)
    if found is None:
        return None
    first, mark, second, last = found.groups()
    if len(first) == 3:
        return None
    if len(first) == 4:
        return _day(int(first), int(second), int(last), text) if len(last) <= 2 else None
    if int(first) > 31 and len(last) <= 2:
        year, doubt = _year(first, today)
        return _day(year, int(second), int(last), text, [*doubt, "the year is read first"])
    year, doubt = _year(last, today)
    one, two = int(first), int(second)
    if one > 12 or (two <= 12 and (mark == "." or form != "mdy")):
        day, month = one, two
    else:
        day, month = two, one
    if mark == "." and one <= 12 < two:
        doubt.append("the month is read first")
    if mark != "." and max(one, two) <= 12 and one != two:
        order = "month" if form == "mdy" else "day"
        other = show_day(f"{year:04d}-{day:02d}-{month:02d}")
        doubt.append(f"the {order} is read first; it could be {other}")
    return _day(year, month, day, text, doubt)


def _two_numbers(text: str, today: date) -> Read | None:
    """Read month and year in numbers; "05/12" could be a day without a year and is refused."""
    found = _TWO.fullmatch(text)
    if found is None:
        return None
    first, mark, second = found.groups()
    if len(first) == 4 and len(second) <= 2:
        return _month(int(first), int(second), text)
    if len(second) == 4 and len(first) <= 2:
        return _month(int(second), int(first), text)
    if len(first) <= 2 and len(second) == 2 and int(second) > 12 >= int(first) and mark != " ":
        year, doubt = _year(second, today)
        return _month(year, int(first), text, doubt)
    if len(first) == len(second) == 4:
        raise Refused(f'"{text}" names two years.', "Write the one that is known, as 2021.")
    raise Refused(f'"{text}" has no year that can be told from a day.', "Write it as 2021-05-12, 2021-05 or 2021.")


def _in_words(text: str, today: date) -> Read | None:
    """Read a month by its name, with or without a day, or a part of a year."""
    if re.sub(r"[^\W_]|[\s.,'/ºª-]", "", text):
        return None
    tokens = [token for token in _TOKEN.findall(text) if token.rstrip(".") not in FILLERS]
    names = [MONTHS.get(token.rstrip(".")) for token in tokens]
    parts = [token for token in tokens if token.rstrip(".") in PARTS_OF_YEAR]
    numbers = [token for token, name in zip(tokens, names, strict=True) if name is None and token not in parts]
    if any(not number.strip("'")[:1].isdigit() for number in numbers):
        return None
    if parts:
        return _part_of_year(parts, numbers, [name for name in names if name], today)
    months = [name for name in names if name is not None]
    if len(months) != 1:
        return None
    return _named_month(months[0], numbers, text, today, first=names[0] is not None)


def _part_of_year(parts: list[str], numbers: list[str], months: list[int], today: date) -> Read | None:
    """Read "spring 2022", "early May 2021": the part is left out, what is sure stays."""
    if len(numbers) != 1 or len(months) > 1:
        return None
    year, doubt = _year(numbers[0], today)
    value = f"{year:04d}-{months[0]:02d}" if months else f"{year:04d}"
    return Read(value, sentence([f'"{" ".join(parts)}" is left out', *doubt]))


def _named_month(month: int, numbers: list[str], text: str, today: date, *, first: bool) -> Read | None:
    """Read the one or two numbers beside a month's name."""
    years = [number for number in numbers if len(_digits(number)) == 4]
    if len(numbers) == 1:
        year, doubt = _year(numbers[0], today)
        if not years and not numbers[0].startswith("'"):
            if not first or not _digits(numbers[0]) == numbers[0] or len(numbers[0]) != 2:
                raise Refused(f'"{text}" has no year.', "Write it as 2021-05-12, 2021-05 or 2021.")
            doubt = [*doubt, "it could be a day without a year"]
        return _month(year, month, text, doubt)
    if len(numbers) != 2:
        return None
    day, written = (numbers[1], numbers[0]) if len(_digits(numbers[0])) == 4 else (numbers[0], numbers[1])
    year, doubt = _year(written, today)
    return _day(year, month, int(_digits(day)), text, doubt)


def _digits(token: str) -> str:
    """Return the digits of "12th", "12.", "'22"."""
    return re.sub(r"[^0-9]", "", token)


def _year(written: str, today: date) -> tuple[int, list[str]]:
    """Return a year of four digits; of two digits, the one at most ten years ahead, with a doubt."""
    digits = _digits(written)
    if len(digits) == 4:
        return int(digits), []
    if len(digits) != 2:
        raise Refused(f'"{written}" is not a year.', "Write the year with four digits.")
    latest = today.year + _AHEAD
    year = latest - (latest - int(digits)) % 100
    return year, [f'the year "{digits}" is read as {year}']


def _day(year: int, month: int, day: int, text: str, doubt: list[str] | None = None) -> Read:
    """Return a whole day; one of no calendar is refused."""
    try:
        found = date(year, month, day)
    except ValueError:
        raise Refused(f'"{text}" does not exist.', "Write a day of the calendar, as 2021-05-12.") from None
    return Read(found.isoformat(), sentence(doubt or []))


def _month(year: int, month: int, text: str, doubt: list[str] | None = None) -> Read:
    """Return a month; a thirteenth is refused."""
    if not 1 <= month <= 12:
        raise Refused(f'"{text}" does not exist: there is no month {month}.', "Write it as 2021-05.")
    return Read(parse_day(f"{year:04d}-{month:02d}").text, sentence(doubt or []))
