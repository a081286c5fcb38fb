"""One cell of a person's own table, read as a day, a sum, a number or a word, into a row of the folder's form.

What cannot be read stays for the note of the row, marked as doubtful; a day that no calendar has is refused, since
another day would be made up.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache

from collection.acts.bring_in.parse import sentence
from collection.analysis.written import dates
from collection.analysis.written.money import read_price
from collection.analysis.written.values import Read, read_number
from collection.errors import Refused
from collection.exchange.sheets_book import BookFacts
from collection.exchange.sheets_rows import Made, Source
from collection.quantity import minor_digits

_DIGIT = re.compile(r"[0-9]")
_DAY_NUMBER = re.compile(r"[0-9]{5}(\.[0-9]+)?", re.ASCII)
_MINUTES = re.compile(r"([0-9]+)\s*(?:m|min|mins|minutes|minuten)?\.?", re.IGNORECASE)
_HOURS = re.compile(
    r"([0-9]+)[:h]([0-9]{2})?(?::[0-9]{2})?|([0-9]+(?:[.,][0-9]+)?)\s*(?:h|hrs?|hours?|std)\.?", re.IGNORECASE
)


def read_day(source: Source, at: int, facts: BookFacts) -> Read:
    """Return the day of a cell. Raises Refused for what is none."""
    cell = source.line.cells[at]
    text = cell.text.strip()
    if cell.kind == "date":
        return Read(text[:10], "" if len(text) <= 10 else f'the time "{text[11:]}" is left out')
    if cell.kind == "number" and _DAY_NUMBER.fullmatch(text):
        return dates.read_serial(float(text))
    return _day(text, _order(source, at, facts.date_form), facts.today)


def _order(source: Source, at: int, form: str) -> str:
    """Return the order of day and month in a column: one day that can be read in one way tells it for all."""
    block = source.table.block
    if at not in block.orders:
        block.orders[at] = dates.order_of((line.cells[at].text for line in block.lines), form)
    return block.orders[at]


_day = lru_cache(maxsize=16384)(lambda text, form, today: dates.read_day(text, form, today=today))
_price = lru_cache(maxsize=16384)(read_price)


def put_day(made: Made, column: str, name: str, facts: BookFacts) -> str:
    """Fill a column with the day of a field and return it, "" where there is none or it cannot be read."""
    at = made.source.peek(name)
    if at is None:
        return ""
    try:
        read = read_day(made.source, at, facts)
    except Refused as refusal:
        if _DIGIT.search(made.source.seen(at)):
            made.refuse(column, sentence(refusal, made.source.seen(at)), at)
        return ""
    made.put(column, read.value, at)
    made.doubt(column, read.doubt, at)
    return read.value


def put_price(made: Made, column: str, name: str, facts: BookFacts, currency: str = "") -> None:
    """Fill a column and the currency with the sum of a field; `currency` is the field that tells of which it is."""
    at = made.source.peek(name)
    if at is None:
        return
    code_at = made.source.peek(currency) if currency else None
    code = made.source.seen(code_at).strip().upper() if code_at is not None else ""
    try:
        price = _price(made.source.seen(at), code if _is_currency(code) else facts.currency)
    except Refused as refusal:
        _cannot(made, refusal, at)
        return
    made.put(column, price.amount, at)
    made.put("currency", price.currency, code_at if price.currency == code else None)
    made.doubt(column, price.doubt, at)


def _is_currency(code: str) -> bool:
    """Say whether a text is the code of a currency."""
    try:
        return bool(code) and minor_digits(code) >= 0
    except Refused:
        return False


def put_read(made: Made, column: str, name: str, read: Callable[[str], Read]) -> str:
    """Fill a column with what a reader makes of a field and return it, "" where it cannot be read."""
    at = made.source.peek(name)
    if at is None:
        return ""
    try:
        found = read(made.source.seen(at))
    except Refused as refusal:
        _cannot(made, refusal, at)
        return ""
    made.put(column, found.value, at)
    made.doubt(column, found.doubt, at)
    return found.value


def read_minutes(text: str) -> Read:
    """Return whole minutes out of "45", "45 min", "1h30", "1.5 h". Raises Refused for what is no length of time."""
    bare = text.strip()
    if found := _MINUTES.fullmatch(bare):
        return Read(found[1])
    if found := _HOURS.fullmatch(bare):
        if found[1]:
            return Read(str(int(found[1]) * 60 + int(found[2] or 0)))
        hours = float(read_number(found[3]).value)
        return Read(str(round(hours * 60)))
    raise Refused(f'"{bare}" is no length of time.', 'Write it in minutes, as "45".')


def _cannot(made: Made, refusal: Refused, at: int) -> None:
    """Leave a cell for the note, with the reason why it is there."""
    made.source.reasons[at] = sentence(refusal, made.source.seen(at))
