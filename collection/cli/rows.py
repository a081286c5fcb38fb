"""The rows of a list as a person wants them: by a column, and those alone that name something."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, ParamSpec, TypeVar

import click

from collection.cli.show import Column, Row
from collection.errors import Refused, fold, nearest

P = ParamSpec("P")
T = TypeVar("T")


def sort_option(command: Callable[P, T]) -> Callable[P, T]:
    """Add --sort to a list, which receives `sort` for `in_order`; "" is the list's own order."""
    text = "Sort by a column, as owner; -owner turns it round."
    return click.option("--sort", default="", metavar="COLUMN", help=text)(command)


def in_order(rows: Sequence[Row], columns: Sequence[Column], sort: str) -> list[Row]:
    """Return the rows by the column that `sort` names by its key or heading, turned round after "-".

    Numbers go by size and before words, words as tags do (D2 before D10); equal rows keep their order, and those with
    nothing in the column come last either way. Raises Refused for a column that the list does not have.
    """
    if not sort:
        return list(rows)
    key = _key(columns, sort.removeprefix("-"))
    filled = [row for row in rows if row.get(key) not in (None, "", [], ())]
    empty = [row for row in rows if row.get(key) in (None, "", [], ())]
    filled.sort(key=lambda row: _place(row[key], day=key.endswith("_on")), reverse=sort.startswith("-"))
    return [*filled, *empty]


def _key(columns: Sequence[Column], name: str) -> str:
    """Return the key of the column that a person names."""
    wanted = fold(name.replace("_", " "))
    for column in columns:
        if wanted in (fold(column.key.replace("_", " ")), fold(column.title)):
            return column.key
    raise Refused(
        f'The list has no column "{name}".', f"Sort by one of: {', '.join(column.key for column in columns)}.", 2
    )


def _place(value: Any, *, day: bool) -> tuple[int, Any]:
    """Return where a value stands among others of its column; a day of which only the year is known is no number."""
    from collection.analysis.schedule import tag_order
    from collection.cli.show import plain
    from collection.quantity import parse_number

    text = plain(value)
    if day:
        return 0, text
    try:
        return 0, parse_number(text)
    except Refused:
        return 1, tag_order(text)


def naming(rows: Sequence[Row], **wanted: str) -> list[Row]:
    """Return the rows that have each wanted text in its column, whatever the case; an empty text lets all pass.

    Raises Refused for a text that no row has, naming the nearest: an empty list would look as if the text were right.
    """
    for key, name in wanted.items():
        has = {row[key] for row in rows if row.get(key)}
        if rows and name and fold(name) not in map(fold, has):
            near = nearest(name, has) or sorted(has)[:3]
            hint = f"Nearest: {', '.join(near)}." if near else "Leave the option out to see all."
            raise Refused(f'Nothing in this list has the {key.replace("_", " ")} "{name}".', hint)
    asked = {key: fold(name) for key, name in wanted.items() if name}
    return [row for row in rows if all(fold(row.get(key) or "") == name for key, name in asked.items())]


def first_of_group(rows: Sequence[Row], key: str = "group") -> list[dict[str, Any]]:
    """Return the rows with the text of a group in the first row of each run of it alone."""
    before = [None, *(row.get(key) for row in rows)]
    return [{**row, key: "" if row.get(key) == last else row.get(key)} for row, last in zip(rows, before, strict=False)]
