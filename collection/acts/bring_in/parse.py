"""What the text of a cell means, and whole columns at once: every different text is read once.

A parser takes the text, never empty, and the state of planning; it raises Refused when the text breaks the column's
rule. Values are what the book stores, so that they can be compared with it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any
from uuid import UUID

from collection.acts.bring_in.sheet import Sheet
from collection.errors import Refused, fold
from collection.quantity import minor_digits, parse_day, parse_number, show_number, unit_of
from collection.schema.columns import LONG, SHORT
from collection.views.folder.form import KEY

if TYPE_CHECKING:
    from collection.acts.bring_in.state import State

Parser = Callable[[str, "State"], Any]

_MOST_WHOLE = 2**53
_KEY = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.ASCII)
_LINE_END = re.compile(r"\r\n?")


def short(text: str, _state: State) -> str:
    """A name or another text on one line."""
    return _within(text.strip(), SHORT)


def long(text: str, _state: State) -> str:
    """A text of any shape, kept as it is but for the kind of its line ends."""
    return _within(_LINE_END.sub("\n", text), LONG)


def _within(text: str, most: int) -> str:
    if len(text) > most:
        raise Refused(f"has {len(text)} characters; at most {most} are kept", "shorten it")
    return text


def number(text: str, state: State) -> float:
    """A measure."""
    return float(parse_number(state.with_point(text)))


def exact(text: str, state: State) -> str:
    """A number above zero that is kept as it was typed."""
    found = parse_number(state.with_point(text))
    if found <= 0:
        raise Refused("must be above zero")
    return show_number(found)


def from_zero(text: str, state: State) -> float:
    """A measure that cannot be below zero."""
    found = number(text, state)
    if found < 0:
        raise Refused("must not be below zero")
    return found


def above_zero(text: str, state: State) -> float:
    """A measure above zero."""
    found = number(text, state)
    if found <= 0:
        raise Refused("must be above zero")
    return found


def between(least: float, most: float, *, ends: bool) -> Parser:
    """A measure in a range, with or without its ends."""

    def parse(text: str, state: State) -> float:
        found = number(text, state)
        if not least <= found <= most or (not ends and found in (least, most)):
            raise Refused(f"must be {'from' if ends else 'between'} {least:g} {'to' if ends else 'and'} {most:g}")
        return found

    return parse


def whole(least: int) -> Parser:
    """A whole number that is not too small."""

    def parse(text: str, state: State) -> int:
        found = parse_number(state.with_point(text))
        if found != found.to_integral_value():
            raise Refused("must be a whole number")
        if not least <= found <= _MOST_WHOLE:
            raise Refused(f"must be {least} or more" if found < least else "is more than can be kept")
        return int(found)

    return parse


def past_day(text: str, state: State) -> str:
    """A (partial) day that has come."""
    day = parse_day(text)
    if not state.reading_book and day.first > state.today:
        raise Refused(f"is later than today ({state.today.isoformat()})", "correct the day")
    return day.text


def any_day(text: str, _state: State) -> str:
    """A (partial) day that may still come."""
    return parse_day(text).text


def yes_no(text: str, _state: State) -> int:
    """A yes or a no."""
    answer = {"yes": 1, "no": 0}.get(fold(text))
    if answer is None:
        raise Refused("must be yes or no")
    return answer


def one_of(words: Sequence[str]) -> Parser:
    """One of the trade's own words, whatever its capitals."""
    known = {fold(word): word for word in words}

    def parse(text: str, _state: State) -> str:
        found = known.get(fold(text))
        if found is None:
            raise Refused(f"must be one of: {', '.join(words)}")
        return found

    return parse


def listed(part: Parser | None = None, most: int = LONG) -> Parser:
    """Several things separated by semicolons; kept as "one; other"."""

    def parse(text: str, state: State) -> str:
        parts = [piece.strip() for piece in text.split(";") if piece.strip()]
        shown = [str(part(piece, state)) if part else piece for piece in parts]
        return _within("; ".join(shown), most)

    return parse


def speed(text: str, state: State) -> str:
    """A nominal speed in r/min."""
    return exact(text, state)


def unit_symbol(text: str, _state: State) -> str:
    """A unit of measure."""
    return unit_of(text).symbol


def currency(text: str, _state: State) -> str:
    """An ISO 4217 code."""
    code = text.strip().upper()
    minor_digits(code)
    return code


def row_key(text: str, _state: State) -> str:
    """The UUID of a row."""
    if _KEY.fullmatch(text):
        return text
    try:
        return str(UUID(text.strip()))
    except ValueError:
        raise Refused("is not a UUID", "leave the key empty for a new row") from None


def parse_sheet(sheet: Sheet, parsers: dict[str, Parser], state: State) -> None:
    """Read every column of a sheet; empty cells are None, and refused where the column must be filled."""
    for column in (*sheet.form.columns, KEY):
        cells = sheet.table.column(column)
        if cells is None:
            sheet.values[column] = [None] * sheet.size
        elif column == KEY and sheet.stored:
            sheet.values[column] = cells
        else:
            parser = row_key if column == KEY else parsers[column]
            sheet.values[column] = _parse_column(sheet, column, cells, parser, state)


def _parse_column(sheet: Sheet, column: str, cells: list[str], parser: Parser, state: State) -> list[Any]:
    meaning: dict[str, Any] = {}
    wrong: dict[str, str] = {}
    for text in dict.fromkeys(cells):
        if not text or text.isspace():
            meaning[text] = None
            if column in sheet.form.required:
                wrong[text] = "must be filled"
            continue
        try:
            meaning[text] = parser(text, state)
        except Refused as refusal:
            meaning[text], wrong[text] = None, sentence(refusal, text)
        for mention in state.take_mentions():
            sheet.mention(cells.index(text), mention.kind, column, text.strip(), mention.rule, mention.record)
    if wrong:
        for row, text in enumerate(cells):
            if text in wrong:
                sheet.refuse(row, column, wrong[text])
    return [meaning[text] for text in cells]


def sentence(refusal: Refused, value: str = "") -> str:
    """Return a refusal as the rule of a finding, beside which the value stands."""
    rule = refusal.what.removeprefix(f'"{value.strip()}" ').rstrip(".")
    hint = refusal.hint[:1].lower() + refusal.hint[1:].rstrip(".")
    return f"{rule}; {hint}" if hint else rule
