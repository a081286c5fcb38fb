"""The page docs/csv-folder.md: its tables of columns, written from the parsers that import reads the cells with.

In each table the first two cells of a row are the program's; the third, what the column means, is kept as it stands.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from inspect import getclosurevars
from typing import Any

from collection.acts.bring_in import form, parse
from collection.acts.bring_in.form import PARSERS
from collection.schema.measurement import GRADES
from collection.views.folder.form import FORMS, FileForm

_HEAD = "| column | what may stand in it | what it says |\n|---|---|---|\n"
_TABLE = re.compile(rf"{re.escape(_HEAD)}((?:\|.*\n)*)")
_ROW = re.compile(r"\| \*{0,2}`(\w+)`\*{0,2} \|.*? \| (.*) \|$", re.MULTILINE)

_NUMBER_FROM_0 = "number, 0 or more"
_NUMBER_ABOVE_0 = "number above 0"
_UNIT = "unit of measure"
_PLAIN: dict[Any, str] = {
    parse.short: "short text",
    parse.long: "text",
    parse.number: "number",
    parse.exact: _NUMBER_ABOVE_0,
    parse.above_zero: _NUMBER_ABOVE_0,
    parse.from_zero: _NUMBER_FROM_0,
    parse.past_day: "day, not after today",
    parse.any_day: "day",
    parse.yes_no: "yes / no",
    parse.unit_symbol: _UNIT,
    parse.currency: "ISO 4217 code",
    form._tag: "tag of a unit",
    form._location: "name of a location",
    form._amount: _NUMBER_FROM_0,
    form._made: "quarter (3/94) or day",
    form._measured_in: f"{_UNIT} / graded",
    form._result: f"number / {' / '.join(GRADES)}",
    form._every_months: "whole number, 1 or more",
    form._resets: "measurement: level / measurement: level+slope, several by ;",
    form._retests: "name of a measurement, several by ;",
}


def with_forms(text: str) -> str:
    """Return the text with the table of every file as the program reads it. Raises ValueError for a missing section."""
    for known in FORMS.values():
        text = _with_form(text, known)
    return text


def _with_form(text: str, known: FileForm) -> str:
    place = re.search(rf"^## {re.escape(known.file)}\n(?:(?!^## ).*\n)*", text, re.MULTILINE)
    if place is None or _TABLE.search(place[0]) is None:
        raise ValueError(f'docs/csv-folder.md has no section "## {known.file}" with a table of its columns')
    section = _TABLE.sub(lambda table: _HEAD + _rows(known, dict(_ROW.findall(table[1]))), place[0])
    return text[: place.start()] + section + text[place.end() :]


def _rows(known: FileForm, meanings: dict[str, str]) -> str:
    return "".join(
        f"| {_name(known, column)} | {what_may_stand_in(known.file, column)} | {meanings.get(column, '')} |\n"
        for column in known.columns
    )


def _name(known: FileForm, column: str) -> str:
    return f"**`{column}`**" if column in known.required else f"`{column}`"


def what_may_stand_in(file: str, column: str) -> str:
    """Return in words what a column takes. Raises KeyError for a parser that has no words here."""
    parser = PARSERS[file][column]
    if parser in _PLAIN:
        return _PLAIN[parser]
    maker, made_from = parser.__qualname__.partition(".")[0], getclosurevars(parser).nonlocals
    return _MADE[maker](made_from)


def _a_name(made_from: Mapping[str, Any]) -> str:
    return f"name of {'an' if made_from['table'] == 'instrument' else 'a'} {made_from['table']}"


def _a_range(made_from: Mapping[str, Any]) -> str:
    return ("number from {least} to {most}" if made_from["ends"] else "number between {least} and {most}").format_map(
        made_from
    )


_MADE: dict[str, Callable[[Mapping[str, Any]], str]] = {
    "one_of": lambda made_from: " / ".join(made_from["words"]),
    "whole": lambda made_from: f"whole number, {made_from['least']} or more",
    "between": _a_range,
    "listed": lambda made_from: f"{'texts' if made_from['part'] is None else 'numbers above 0'}, several by ;",
    "_several": lambda made_from: f"{_a_name(made_from)}, several by ;",
    "_named": _a_name,
    "_person": lambda _: "name of a person",
    "_rule_part": lambda _: "triggers, several by ;",
}
