"""Planning: what the book has, what names lead to, and what is to be written, gathered while files are looked at.

References to rows that do not exist yet are numbers below zero, given out per table; writing turns them into ids.
"""

from __future__ import annotations

import re
import secrets
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from itertools import islice
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.acts.bring_in.names import Names
from collection.acts.bring_in.sheet import Finding
from collection.acts.bring_in.tables import Table
from collection.errors import Refused, fold
from collection.store.book import BookSettings, open_book
from collection.store.engine import fetch
from collection.views.folder.form import FORMS, KEY
from collection.views.folder.rows import known_rows
from collection.views.units import unit_ids

_WITH_COMMA = re.compile(r"\s*[+-]?[0-9]*,[0-9]+\s*", re.ASCII)
_NAMED = {
    "location": "locations.csv",
    "person": "people.csv",
    "measurement": "measurements.csv",
    "instrument": "instruments.csv",
    "procedure": "procedures.csv",
    "supply": "supplies.csv",
    "supplier": "suppliers.csv",
}
_CHUNK = 50
NEW_PERSON = ("name", "name_folded", "role", "salt")
NEW_LOCATION = ("name", "name_folded")


@dataclass(frozen=True, slots=True)
class Options:
    """How a folder is to be read and what is told besides.

    decimal_comma: numbers are written "12,5". last_done: (partial) day on which what has no history was last done;
    spread_months: over how many months what has no history falls due for the first time.
    """

    decimal_comma: bool = False
    last_done: str | None = None
    spread_months: int | None = None


class Mention(NamedTuple):
    """A record that a row brings about by naming it."""

    kind: str
    rule: str
    record: str


@dataclass(slots=True)
class Batch:
    """New rows of one table, one list per column; refs: what other rows know them by, if any do."""

    table: str
    columns: dict[str, list[Any]]
    refs: Sequence[int]

    def __len__(self) -> int:
        return len(self.refs)


class Update(NamedTuple):
    """A change of a row of the book; values may refer to new rows."""

    table: str
    row_id: int
    changes: dict[str, Any]


class Mark(NamedTuple):
    """What makes a written row doubtful."""

    table: str
    ref: int
    column: str | None
    value: str | None
    rule: str


@dataclass
class State:
    """All that one planning knows and gathers. reading_book: rows of the book are parsed, which was checked once.

    keys: those that new rows bring, per table. voids: rows of the book that others take the place of. told: what is
    to be said besides the folder's rows.
    """

    conn: Connection
    today: date
    options: Options
    reading_book: bool = False
    batches: list[Batch] = field(default_factory=list)
    updates: list[Update] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    voids: list[tuple[str, int]] = field(default_factory=list)
    told: list[Finding] = field(default_factory=list)
    shared: dict[str, Any] = field(default_factory=dict)
    keys: defaultdict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    _counts: defaultdict[str, int] = field(default_factory=lambda: defaultdict(int))
    _names: dict[str, Names] = field(default_factory=dict)
    _mentions: list[Mention] = field(default_factory=list)

    @cached_property
    def settings(self) -> BookSettings:
        """The book's currency, mains and the like."""
        return open_book(self.conn).settings

    def with_point(self, text: str) -> str:
        """Return a number's text with a decimal point. Raises Refused for the mark that was not declared."""
        if self.reading_book:
            return text
        if not self.options.decimal_comma:
            if _WITH_COMMA.fullmatch(text):
                plain = text.strip().replace(",", ".")
                raise Refused(
                    "has a comma where a decimal point is expected",
                    f'write "{plain}", or add --decimal-comma if all numbers of the folder have commas',
                )
            return text
        if "." in text:
            raise Refused("has a point, but --decimal-comma says that numbers have commas", 'write it as "12,5"')
        return text.replace(",", ".")

    def refs(self, table: str, count: int) -> range:
        """Give out references for new rows."""
        first = -self._counts[table] - 1
        self._counts[table] += count
        return range(first, first - count, -1)

    def add(self, table: str, columns: dict[str, list[Any]], refs: Sequence[int]) -> None:
        """Gather new rows; columns that are empty throughout are left out."""
        kept = {name: cells for name, cells in columns.items() if any(cell is not None for cell in cells)}
        if refs:
            self.batches.append(Batch(table, kept, refs))

    def append(self, table: str, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> Sequence[int]:
        """Gather new rows that are at hand as rows; returns their references."""
        refs = self.refs(table, len(rows))
        cells = [list(column) for column in zip(*rows, strict=True)] if rows else [[] for _ in columns]
        self.add(table, dict(zip(columns, cells, strict=True)), refs)
        return refs

    def update(self, table: str, row_id: int, changes: dict[str, Any]) -> None:
        """Gather a change of a row of the book."""
        self.updates.append(Update(table, row_id, changes))

    def names(self, table: str) -> Names:
        """Return the names of a table, read on first use."""
        if table not in self._names:
            file = _NAMED[table]
            rows = fetch(self.conn, f"SELECT name_folded, name, id FROM {table} WHERE void = 0")
            self._names[table] = Names(f"there is no such {table}", file, ((row[0], row[1], row[2]) for row in rows))
        return self._names[table]

    @cached_property
    def units(self) -> Names:
        """Units by tag and alias."""
        known = unit_ids(self.conn)
        spelt = dict(fetch(self.conn, "SELECT tag_folded, tag FROM unit WHERE void = 0"))
        return Names(
            "no unit has this tag", "units.csv", ((name, spelt.get(name, name), ref) for name, ref in known.items())
        )

    def person(self, name: str, *, role: str, doubtful: bool) -> int:
        """Return a person by name; one that is nowhere listed becomes new, and is told of."""
        return self._found_or_new(
            "person", name, (role, secrets.token_hex(16)), NEW_PERSON, f"new person with role {role}", doubtful
        )

    def location(self, name: str) -> int:
        """Return a location by name; one that is nowhere listed becomes new, and is told of."""
        return self._found_or_new("location", name, (), NEW_LOCATION, "new location", doubtful=True)

    def _found_or_new(
        self, table: str, name: str, rest: tuple[str, ...], columns: Sequence[str], what: str, doubtful: bool
    ) -> int:
        names, bare = self.names(table), name.strip()
        found = names.find(bare)
        if found is not None or self.reading_book:
            return found or 0
        ref = self.append(table, columns, [(bare, fold(bare), *rest)])[0]
        names.add(bare, ref)
        if doubtful:
            rule = f"neither in the book nor in {names.file}: {what}"
            self.marks.append(Mark(table, ref, "name", None, rule))  # names of people stay out of other tables
            self._mentions.append(Mention("doubtful", rule, f"{table} {bare}"))
        else:
            self._mentions.append(Mention("new", what, f"{table} {bare}"))
        return ref

    def take_mentions(self) -> list[Mention]:
        """Return, once, the records that the last parsed text brought about."""
        found, self._mentions = self._mentions, []
        return found

    def stored_table(self, file: str, unit_ids: Sequence[int] | None = None) -> tuple[Table, list[int]]:
        """Return what the book would write to a file, with its key, and the ids of these rows."""
        ids: list[int] = []
        columns = (KEY, *FORMS[file].columns)
        cells: list[list[str]] = [[] for _ in columns]
        rows = known_rows(self.conn, file, self.today, unit_ids)
        known = [dict[str, str]().setdefault for _ in columns]  # equal cells are one text
        while chunk := list(islice(rows, _CHUNK)):
            row_ids, *texts = zip(*chunk, strict=True)
            ids += row_ids
            for column, same, text in zip(cells, known, texts, strict=True):
                column.extend(map(same, text, text))
        return Table(file, columns, cells, range(len(ids))), ids
