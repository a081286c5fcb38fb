"""What the tables of a person's own workbook become: a proposal by their headings, and the file that keeps it.

The file is JSON with plain names: {"tables": [{"sheet", "heading row", "holds", "columns": {heading: what it becomes},
"leave out rows": [...]}]}. A table is known again by its sheet and its headings, wherever it stands.
"""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from collection.analysis.written.heading_words import MEASUREMENTS, SUBJECTS
from collection.analysis.written.headings import Guess, propose, subject_of
from collection.errors import Refused, fold, nearest
from collection.exchange.sheets_tables import Block, Column, Words

__all__ = ["LEAVE", "NOTE", "SUBJECTS", "ColumnMap", "TableMap"]

NOTE = "note"
LEAVE = "leave out"
_STAGES = ("as_found", "as_left", "between")
_SINGULAR = {"units": "unit", "models": "model", "readings": "reading", "supplies": "supply", "lots": "lot"}
_SINGULAR |= {"offers": "offer", "suppliers": "supplier"}
_NOTES = tuple(f"{name}.note" for name in ("units", "fault", "loan", "valuation", "readings", "supplies"))
_SAMPLES = 3
_OF_UNITS = {"models.model", "units.serial"}
_OF_READINGS = {"service.tag", "service.opened_on", "service.findings", "service.by"}


@dataclass(frozen=True)
class ColumnMap:
    """What a column becomes: a field, NOTE or LEAVE. sure: whether it was asked or leaves no doubt."""

    column: Column
    becomes: str
    sure: bool
    others: tuple[str, ...] = ()
    samples: tuple[str, ...] = ()


@dataclass(frozen=True)
class TableMap:
    """What a table holds: a subject ("units", "services" ...) or LEAVE, and what its columns become."""

    block: Block
    holds: str
    sure: bool
    columns: tuple[ColumnMap, ...]
    others: tuple[str, ...] = ()
    leave_rows: frozenset[int] = field(default_factory=frozenset)

    @property
    def keys(self) -> list[str]:
        """The columns as the file names them: by heading, by letter where that is empty or stands twice."""
        counts = Counter(each.column.heading for each in self.columns)
        return [
            each.column.heading if each.column.heading and counts[each.column.heading] == 1 else _lettered(each.column)
            for each in self.columns
        ]


def _lettered(column: Column) -> str:
    return f"column {column.letter}" + (f": {column.heading}" if column.heading else "")


@lru_cache(maxsize=4096)
def _is_word(text: str) -> bool:
    """Say whether a text is a word that some subject has for a heading."""
    return bool(subject_of([text]))


WORDS = Words(
    known=_is_word,
    is_table=lambda texts: bool(subject_of(texts)) and any(_names_one(text) for text in texts),
)


def _names_one(text: str) -> bool:
    """Say whether a heading is that of a column which tells the things of a table apart."""
    ends = (".tag", ".serial", "models.model", "supplies.supply", ".person")
    return any(guess.field.endswith(ends) for guess in propose(text))


def plain_name(becomes: str) -> str:
    """Return a field as a person reads it: "unit serial", "reading as found: rail voltage, +5 V"."""
    subject, _, name = becomes.partition(".")
    if not name:
        return becomes
    stage, _, measured = name.partition(":")
    shown = f"{_SINGULAR.get(subject, subject)} {stage.replace('_', ' ')}"
    return f"{shown}: {measured.replace(':', ', ')}" if measured else shown


def all_fields() -> list[str]:
    """Return every field that a column can become."""
    fields = [name for subject in SUBJECTS.values() for name in subject]
    return [*fields, *(f"reading.{stage}:{measured}" for measured in MEASUREMENTS for stage in _STAGES)]


def field_of(name: str) -> str:
    """Return the field of a plain name. Raises Refused with the nearest names."""
    known = {fold(plain_name(each)): each for each in all_fields()} | {NOTE: NOTE, LEAVE: LEAVE}
    found = known.get(fold(name))
    if found is None:
        near = nearest(name, known) or [NOTE, LEAVE]
        raise Refused(f'"{name}" is nothing that a column can become.', f"Nearest: {', '.join(near)}.")
    return found


def propose_table(block: Block) -> TableMap:
    """Return what a table seems to hold, and its columns to become."""
    subjects = subject_of([column.heading for column in block.columns])
    if not subjects:
        return TableMap(block, LEAVE, False, (), tuple(SUBJECTS))
    others = tuple(dict.fromkeys([*(guess.field for guess in subjects[1:]), *SUBJECTS]))
    table = map_columns(block, subjects[0].field, sure=subjects[0].sure, others=others)
    if table.holds == "services" and _only_readings(table):
        return map_columns(block, "readings", sure=True, others=others)
    return table


def with_units(tables: Sequence[TableMap]) -> list[TableMap]:
    """Return the tables of a file, of which some holds units where one can.

    Where none does, an unsure one with models and serials is taken for a list of units that tells of more besides.
    """
    if any(table.holds == "units" for table in tables):
        return list(tables)
    return [
        map_columns(table.block, "units", sure=False, others=(table.holds, *table.others))
        if not table.sure and {each.becomes for each in table.columns} >= _OF_UNITS
        else table
        for table in tables
    ]


def _only_readings(table: TableMap) -> bool:
    """Say whether a table of services tells of no service: units, days and readings, none of them as found or left."""
    fields = {each.becomes for each in table.columns}
    named = {name.partition(":")[0] for name in fields}
    services = {name for name in fields if name.startswith("service.")}
    return (
        "reading.between" in named and services <= _OF_READINGS and not named & {"reading.as_found", "reading.as_left"}
    )


def map_columns(block: Block, holds: str, *, sure: bool, others: tuple[str, ...]) -> TableMap:
    """Return a table with the proposal for its columns; no field but a note is proposed twice."""
    guesses = [_guesses(column.heading, holds) for column in block.columns]
    chosen: list[Guess | None] = [None] * len(guesses)
    taken: set[str] = set()
    for sure_ones in (True, False):
        for at, options in enumerate(guesses):
            if chosen[at] is None:
                free = [guess for guess in options if guess.field not in taken and guess.sure >= sure_ones]
                if free:
                    chosen[at] = free[0]
                    taken |= {free[0].field} - set(_NOTES)
    columns = []
    for at, column in enumerate(block.columns):
        guess = chosen[at] or Guess(NOTE, False)
        rest = [each.field for each in guesses[at] if each.field != guess.field]
        columns.append(ColumnMap(column, guess.field, guess.sure, tuple(rest), _samples(block, at)))
    return TableMap(block, holds, sure, tuple(columns), tuple(name for name in others if name != holds))


def _guesses(heading: str, holds: str) -> list[Guess]:
    """Return what a heading may mean in a table of a subject; a word of another subject alone is sure as well."""
    own = propose(heading, holds)
    if holds == "readings":  # outside a service
        own = [Guess(guess.field, guess.sure or guess.field.startswith("reading.between:")) for guess in own]
    if any(guess.sure for guess in own):
        return own
    exact = [guess for guess in propose(heading) if guess.sure]
    return [*exact, *(guess for guess in own if guess.field not in {each.field for each in exact})]


def _samples(block: Block, at: int) -> tuple[str, ...]:
    """Return the first different texts of a column."""
    texts = (line.cells[at].text.strip() for line in block.lines)
    found: dict[str, None] = {}
    for text in texts:
        if text:
            found.setdefault(text)
        if len(found) == _SAMPLES:
            break
    return tuple(found)


def answered(table: TableMap, at: int, becomes: str) -> TableMap:
    """Return a table whose column was answered."""
    columns = list(table.columns)
    columns[at] = replace(columns[at], becomes=becomes, sure=True)
    return replace(table, columns=tuple(columns))


def write_map(path: Path, tables: Sequence[TableMap]) -> None:
    """Write the mapping to a file, whole or not at all."""
    found = [
        {
            "sheet": table.block.sheet,
            "heading row": table.block.heading_row,
            "holds": table.holds,
            "columns": {key: plain_name(each.becomes) for key, each in zip(table.keys, table.columns, strict=True)},
            "leave out rows": sorted(table.leave_rows),
        }
        for table in tables
    ]
    aside = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        aside.write_text(json.dumps({"tables": found}, ensure_ascii=False, indent=2) + "\n", encoding="utf-8")
        aside.replace(path)
    finally:
        with suppress(FileNotFoundError):
            aside.unlink()


def read_map(path: Path, tables: Sequence[TableMap]) -> tuple[list[TableMap], list[str]]:
    """Return the tables as the file says, and the places of those that it says nothing about.

    Raises Refused where the file is no such mapping, or names what no table or column can become.
    """
    entries = _entries(path)
    mapped: list[TableMap] = []
    unsaid: list[str] = []
    for table in tables:
        entry = next((one for one in entries if _is_of(one, table)), None)
        if entry is None:
            unsaid.append(f"{table.block.sheet} {table.block.place}")
            mapped.append(table)
        else:
            entries.remove(entry)
            mapped.append(_applied(path, entry, table))
    return mapped, unsaid


def _entries(path: Path) -> list[dict[str, Any]]:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
        entries = found["tables"]
        good = all(isinstance(one, dict) and isinstance(one["columns"], dict) and one["holds"] for one in entries)
    except (ValueError, KeyError, TypeError, RecursionError):
        good = False
    if not good:
        raise Refused(
            f'"{path}" is no mapping of a workbook.', "Name another file, or delete it and let the import write it."
        )
    return list(entries)


def _is_of(entry: dict[str, Any], table: TableMap) -> bool:
    """Say whether an entry is about a table: of its sheet, with columns that it has."""
    if fold(str(entry.get("sheet", ""))) != fold(table.block.sheet):
        return False
    headings = {fold(key) for key in table.keys}
    return headings == {fold(str(key)) for key in entry["columns"]}


def _applied(path: Path, entry: dict[str, Any], table: TableMap) -> TableMap:
    """Return a table as its entry says."""
    holds = fold(str(entry["holds"]))
    if holds not in (*SUBJECTS, LEAVE):
        known = ", ".join([*SUBJECTS, LEAVE])
        raise Refused(f'{path}: a table cannot hold "{entry["holds"]}".', f"It holds one of: {known}.")
    said = {fold(str(key)): str(name) for key, name in entry["columns"].items()}
    if not table.columns:
        table = map_columns(table.block, "units", sure=True, others=())
    try:
        columns = tuple(
            replace(each, becomes=field_of(said[fold(key)]), sure=True)
            for key, each in zip(table.keys, table.columns, strict=True)
        )
        rows = frozenset(int(row) for row in entry.get("leave out rows", ()))
    except Refused as refusal:
        raise Refused(f"{path}: {refusal.what}", refusal.hint) from None
    except (TypeError, ValueError):
        raise Refused(f'{path}: "leave out rows" must list row numbers.', "Write it as [7, 12].") from None
    return replace(table, holds=holds, sure=True, columns=columns, leave_rows=rows)
