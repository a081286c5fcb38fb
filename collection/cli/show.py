"""Show rows and lines to a person or a program, and ask a person a question."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from itertools import chain, islice
from types import NoneType
from typing import Any, Literal, ParamSpec, Self, TypeVar, overload

import click

from collection.cli.table import lay_out, lay_out_columns, width_of, wrap
from collection.errors import Refused

Mode = Literal["table", "json", "csv"]
Row = Mapping[str, Any]
P = ParamSpec("P")
T = TypeVar("T")

# Stored text must not steer a terminal: C0 and C1 controls, and those that turn the direction of writing.
_STEERING = dict.fromkeys([*range(32), *range(127, 160), *range(0x202A, 0x202F), *range(0x2066, 0x206A)])
_IN_CELL = _STEERING | {ord(blank): " " for blank in "\t\n\r"}
_IN_LINE = {code: gone for code, gone in _STEERING.items() if code not in (9, 10)}
_AT_ONCE = 1_000
_KEY = '{"\\u0000": '
_NUMBERS = (int, float, Decimal, Fraction)


def plain(value: Any) -> str:
    """Return a value as the text of a cell: nothing for None, no exponents, commas in a list."""
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, list | tuple):
        return ", ".join(plain(item) for item in value)
    return str(getattr(value, "text", value))


@dataclass(frozen=True)
class Column:
    """One column of a list.

    key: its name for programs (the CSV folder's where one exists) and in each row.
    heading: what a person reads above it; the key with blanks when left out.
    show: how a value is written for a person.
    right: whether it is set to the right; numbers are when left out.
    in_table: False keeps a column for programs only.
    """

    key: str
    heading: str = ""
    show: Callable[[Any], str] = plain
    right: bool | None = None
    in_table: bool = True

    @property
    def title(self) -> str:
        """The text above the column."""
        return self.heading or self.key.replace("_", " ")


class Records(Sequence[Row]):
    """Rows that are kept as columns, one under each key; a dict is made of a row only when it is asked for.

    A list of 200,000 takes half the time and memory so.
    """

    def __init__(self, keys: Sequence[str], columns: Sequence[Sequence[Any]]) -> None:
        self._columns = dict(zip(keys, columns, strict=True))

    @classmethod
    def of(cls, keys: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> Self:
        """Turn rows that are tuples of values into columns."""
        return cls(keys, [[row[at] for row in rows] for at in range(len(keys))])

    def __len__(self) -> int:
        return len(next(iter(self._columns.values()), ()))

    @overload
    def __getitem__(self, at: int) -> Row: ...

    @overload
    def __getitem__(self, at: slice) -> Records: ...

    def __getitem__(self, at: int | slice) -> Row | Records:
        if isinstance(at, slice):
            return Records(list(self._columns), [values[at] for values in self._columns.values()])
        return {key: values[at] for key, values in self._columns.items()}

    def values_of(self, key: str) -> Sequence[Any]:
        """Return what stands under one key in each row."""
        return self._columns[key]


def _values(rows: Sequence[Row], key: str) -> Sequence[Any]:
    return rows.values_of(key) if isinstance(rows, Records) else [row.get(key) for row in rows]


def output_options(command: Callable[P, T]) -> Callable[P, T]:
    """Add --json and --csv to a command, which receives `mode` ("table", "json" or "csv") for `emit`."""
    for mode, text in (("csv", "Print CSV (RFC 4180)."), ("json", "Print JSON: a list of objects.")):
        option = click.option(f"--{mode}", "mode", flag_value=mode, type=str, default="table", help=text)
        command = option(command)
    return command


def emit(
    rows: Sequence[Row],
    columns: Sequence[Column],
    mode: Mode = "table",
    *,
    empty: str = "",
    under: str = "",
    above: str = "",
) -> None:
    """Print a list from the same rows for a person or for a program.

    A terminal gets a table that fits it, a pipe the same table at its natural width, both without the columns in
    which nothing stands; `empty` is the sentence that a person reads in the place of a table without rows, `under` the
    key of a text (or a list of them, line by line) that stands below each row, `above` of one that begins a group of
    rows. JSON and CSV have all columns and are UTF-8 on every system.
    """
    if mode == "json":
        _write_all(_json_list(_json_lines(rows, columns)))
    elif mode == "csv":
        _write_all(_csv(rows, columns))
    elif rows:
        _table(rows, [column for column in columns if column.in_table], under, above)
    elif empty:
        say(empty)


def emit_lines(lines: Iterable[str]) -> None:
    """Print a list for a program from rows that are JSON already (see json_line)."""
    _write("".join(_json_list(lines)))


def emit_object(thing: Row) -> None:
    """Print one JSON object, its values in the same forms as in a list."""
    _write(_encode(thing, indent=2) + "\n")


def say(*lines: str, bold: bool = False) -> None:
    """Print lines to standard output, stripped of characters that would steer the terminal.

    On a terminal a line that does not fit goes on, indented, below itself; no word is broken, since it may be a path.
    """
    for piece in _fitted(lines, _width_of(sys.stdout)):
        click.echo(click.style(piece, bold=True) if bold else piece)


def _fitted(lines: Sequence[str], width: int | None) -> Iterator[str]:
    for line in clean("\n".join(lines)).split("\n") if lines else ():
        if width is None or width_of(line) <= width:
            yield line
        else:
            first, *more = wrap(line, width - 2, whole_words=True)
            yield from (first, *(f"  {piece}" for piece in more))


def say_pairs(pairs: Iterable[tuple[str, str]]) -> None:
    """Print labels and texts side by side; a long text is wrapped beside its label, an empty one left out."""
    shown = [(label, text.translate(_IN_CELL)) for label, text in pairs if text]
    if shown:
        click.echo("\n".join(lay_out(["", ""], shown, [False, False], _width_of(sys.stdout))[1]))


def note(*lines: str) -> None:
    """Print lines to standard error: what is not the result itself; a terminal gets them as `say` does."""
    for piece in _fitted(lines, _width_of(sys.stderr)):
        click.echo(piece, err=True)


def clean(text: str) -> str:
    """Return a text without the characters that steer a terminal; line breaks and tabs stay."""
    return text.translate(_IN_LINE)


def _table(rows: Sequence[Row], columns: Sequence[Column], under: str, above: str) -> None:
    values = [_values(rows, column.key) for column in columns]
    texts = [_texts(column, of_column) for column, of_column in zip(columns, values, strict=True)]
    filled = [at for at, of_column in enumerate(texts) if any(of_column)]
    columns, texts = [columns[at] for at in filled], [texts[at] for at in filled]
    right = [_is_right(columns[place], values[at]) for place, at in enumerate(filled)]
    below, first = ([_lines_of(row.get(key)) for row in rows] if key else () for key in (under, above))
    titles = [column.title for column in columns]
    heading, body = lay_out_columns(titles, texts, right, _width_of(sys.stdout), below, first)
    say(*heading, bold=True)
    for lines in _batches(body):
        click.echo("\n".join(lines))


def _batches(items: Iterable[T]) -> Iterator[list[T]]:
    """Yield items so many at a time: a long list is never in memory as one text."""
    left = iter(items)
    while some := list(islice(left, _AT_ONCE)):
        yield some


def _texts(column: Column, values: Sequence[Any]) -> Sequence[str]:
    """Return the cells of a column without what steers a terminal; nothing of that counts as printable."""
    texts = _plain(values) if column.show is plain else list(map(column.show, values))
    return texts if "".join(texts).isprintable() else [text.translate(_IN_CELL) for text in texts]


def _plain(values: Sequence[Any]) -> Sequence[str]:
    """Return what `plain` makes of each value; most columns hold nothing but texts, whole numbers and gaps."""
    kinds = set(map(type, values))
    if kinds <= {str}:
        return values
    if kinds <= {str, int, NoneType}:
        return ["" if value is None else str(value) for value in values]
    return list(map(plain, values))


def _lines_of(value: Any) -> str:
    """Return a text, or several of them each on its own line."""
    texts = value if isinstance(value, list | tuple) else [value]
    return "\n".join(plain(text).translate(_IN_CELL) for text in texts)


def _is_right(column: Column, values: Sequence[Any]) -> bool:
    if column.right is not None:
        return column.right
    kinds = set(map(type, values)) - {NoneType}
    return bool(kinds) and all(issubclass(kind, _NUMBERS) and kind is not bool for kind in kinds)


def _width_of(stream: Any) -> int | None:
    """The width of the terminal that a stream goes to; None for a pipe or a file."""
    if not _is_terminal(stream):
        return None
    import shutil

    return shutil.get_terminal_size((80, 24)).columns


def _is_terminal(stream: Any) -> bool:
    return stream is not None and not stream.closed and bool(stream.isatty())


def _write(text: str) -> None:
    click.echo(text.encode("utf-8", "replace"), nl=False)


def _write_all(pieces: Iterable[str]) -> None:
    for piece in pieces:
        _write(piece)


def _encode(value: Any, indent: int | None = None, separators: tuple[str, str] | None = None) -> str:
    import json

    return json.dumps(value, ensure_ascii=False, indent=indent, separators=separators, default=_for_json)


def _for_json(value: Any) -> Any:
    if isinstance(value, Decimal | Fraction):
        return int(value) if value == int(value) else float(value)
    return value.isoformat() if isinstance(value, date) else str(getattr(value, "text", value))


def _json_lines(rows: Sequence[Row], columns: Sequence[Column]) -> Iterator[str]:
    """Put many rows into text at once, column by column."""
    keys = list(dict.fromkeys(column.key for column in columns))
    form = "{" + ", ".join(f"{_encode(key).replace('%', '%%')}: %s" for key in keys) + "}"
    for start in range(0, len(rows), _AT_ONCE):
        some = rows[start : start + _AT_ONCE]
        texts = [_json_values(_values(some, key)) for key in keys]
        yield ",\n".join(map(form.__mod__, zip(*texts, strict=True)))


def _json_values(values: Sequence[Any]) -> Sequence[str]:
    """Return each value as JSON, all put into text at once and parted again.

    Values that hold no others are parted by line ends, of which no JSON text has one, others by a key that nothing
    has; in a text every quote has a backslash before it.
    """
    if not any(issubclass(kind, list | tuple | dict) for kind in set(map(type, values))):
        return _encode(values, separators=("\n", ": "))[1:-1].split("\n")
    return _encode([{"\0": value} for value in values])[len(_KEY) + 1 : -2].split("}, " + _KEY)


def json_line(row: Row) -> str:
    """Return one row as it stands in the JSON of a list, on one line."""
    return _encode(row)


def _json_list(lines: Iterable[str]) -> Iterator[str]:
    before = "["
    for line in lines:
        yield f"{before}\n{line}"
        before = ","
    yield "\n]\n" if before == "," else "[\n]\n"


def _csv(rows: Sequence[Row], columns: Sequence[Column]) -> Iterator[str]:
    import csv
    import io

    cells = [_csv_cells(_values(rows, column.key)) for column in columns]
    for lines in _batches(chain([[column.key for column in columns]], zip(*cells, strict=True))):
        text = io.StringIO(newline="")
        csv.writer(text).writerows(lines)
        yield text.getvalue()


def _csv_cells(values: Sequence[Any]) -> Sequence[str]:
    """Return the cells of a column; what a spreadsheet would run as a formula is led by an apostrophe."""
    from collection.exchange.no_formula import guarded

    kinds = set(map(type, values))
    if kinds <= {str, NoneType}:
        cells = {text: guarded(text or "") for text in set(values)}
        return [cells[text] for text in values]
    if all(issubclass(kind, (*_NUMBERS, NoneType)) for kind in kinds):
        return _plain(values)
    return [plain(value) if isinstance(value, _NUMBERS) else guarded(_in_one(value)) for value in values]


def _in_one(value: Any) -> str:
    return ";".join(map(plain, value)) if isinstance(value, list | tuple) else plain(value)


def ask(question: str, default: str, parse: Callable[[str], T]) -> T:
    """Ask on standard error until `parse` accepts the answer; an empty answer is the default.

    Without a terminal the default is taken and printed. Raises EOFError when the input ends, and whatever
    `parse` raises for the default.
    """
    if not has_person():
        note(f"{question}: {default} (default)")
        return parse(default)
    while True:
        try:
            return parse(answer(f"{question} [{default}]: ") or default)
        except Refused as refusal:
            note(str(refusal))


def confirm(question: str, *, yes: bool = False) -> bool:
    """Ask for a yes on standard error; `yes` answers beforehand, no terminal answers no and says so."""
    if yes:
        return True
    if not has_person():
        note(f"{question} no (there is no terminal to ask at; --yes answers beforehand)")
        return False
    return answer(f"{question} [y/N]: ").lower() in ("y", "yes")


def has_person() -> bool:
    """Say whether somebody can be asked: input and questions are at a terminal."""
    return _is_terminal(sys.stdin) and _is_terminal(sys.stderr)


def answer(prompt: str) -> str:
    """Ask on standard error and return the line typed, without blanks around it. Raises EOFError when input ends."""
    click.echo("\n".join(_fitted([prompt], _width_of(sys.stderr))), nl=False, err=True)
    line = sys.stdin.readline()
    if not line:
        note("")
        raise EOFError
    return line.strip()


@contextmanager
def progress(label: str) -> Iterator[Callable[[int, int], None]]:
    """Yield `tick(done, total)`; after half a second it shows how far the work is, on a terminal only."""
    from time import monotonic

    shown, due = "", monotonic() + 0.5
    visible = _is_terminal(sys.stderr)

    def tick(done: int, total: int) -> None:
        nonlocal shown, due
        if visible and monotonic() >= due:
            due = monotonic() + 0.1
            shown = f"{label}: {done:,} of {total:,}"
            click.echo(f"\r{shown}", nl=False, err=True)

    try:
        yield tick
    finally:
        if shown:
            click.echo("\r" + " " * width_of(shown) + "\r", nl=False, err=True)
