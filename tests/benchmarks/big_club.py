"""The large invented book of a club with its whole journal: every act sealed in the chain, so that `verify` is clean.

Ten services of ten readings, four loans and their returns for each unit; some acts taken back. What an act writes is
journalled in the form of `collection.acts.work`, but many acts go into one transaction of the plain driver.
"""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from collection.acts.start import start_book
from collection.acts.work import Work, open_work
from collection.schema import SUBJECT_OF, TABLES
from collection.store.book import BookSettings
from collection.store.chain import act_hash, canonical, rows_digest
from collection.store.engine import fetch, open_engine
from tests.support.times import NOW, TODAY

ROUNDS, LOANS, MODELS, PEOPLE, PLACES, LOTS, STILL_OUT = 10, 4, 40, 200, 30, 20, 200
MEASURED: tuple[tuple[str, str, float | None], ...] = (
    ("spindle speed", "", 300.0),
    ("rail voltage", "+5 V", 5.0),
    ("rail voltage", "+12 V", 12.0),
    ("rail voltage", "+24 V", 24.0),
    ("head condition", "", None),  # a grade
)
STAGES = ("as found", "as left")
_COLUMNS = {
    name: [column.name for column in table.c if column.name not in ("id", "key", "act_id", "version", "void")]
    for name, table in TABLES.items()
}
_ACT = ("id", "key", "at", "today", "who_id", "command", "reason", "undoes_id")
_CHANGE = ("id", "key", "act_id", "kind", "table_name", "row_id", "version", "before", "after", "rows", "digest")
_SEAL = ("id", "key", "act_id", "summary", "previous_hash", "hash")
_AT_ONCE = 2_000


def write_big_club(file: Path, units: int, seed: int = 1) -> None:
    """Write the book of a club of so many units at `file`: about twenty acts and a hundred readings for each."""
    start_book(str(file), BookSettings(), today=TODAY, now=NOW)
    names = _write_names(file)
    with sqlite3.connect(file) as book:
        for pragma in ("synchronous = OFF", "journal_mode = MEMORY", "foreign_keys = OFF", "cache_size = -400000"):
            book.execute(f"PRAGMA {pragma}")
        journal = _Journal(book)
        _Club(journal, names, random.Random(seed), units).write()
        journal.close()
    book.close()


class Names(NamedTuple):
    """The ids of what the units' rows refer to; measured: measurement, point, usual value (None: a grade)."""

    people: list[int]
    places: list[int]
    models: list[int]
    disk: int
    supply: int
    lots: list[int]
    measured: list[tuple[int, str, float | None]]
    procedures: list[int]


def _write_names(file: Path) -> Names:
    engine = open_engine(str(file))
    with open_work(engine, "import", today=TODAY, now=NOW) as work:
        made = partial(_several, work)
        supply = made("supply", 1, kind="solvent", measured_in="ml", smallest_step="1", tracked="count")[0]
        lots = made("lot", LOTS, supply_id=supply, received_on="2019-02-01")
        receive = {"supply_id": supply, "kind": "receive", "steps": 10**6, "entered": "1000 l", "used_past_date": 0}
        for lot in lots:
            work.append("movement", lot_id=lot, occurred_on="2019-02-01", **receive)
        ids = dict(fetch(work.conn, "SELECT name, id FROM measurement"))
        names = Names(
            made("person", PEOPLE, role="member", salt="5" * 32),
            made("location", PLACES),
            made(
                "model", MODELS, maker="Oro", maker_folded="oro", kind="drive", drive_type="belt", nominal_speeds="300"
            ),
            made("instrument", 1)[0],
            supply,
            lots,
            [(ids[name], point, usual) for name, point, usual in MEASURED],
            sorted(row[0] for row in fetch(work.conn, "SELECT id FROM procedure")),
        )
        work.commit("wrote the names of the club")
    engine.dispose()
    return names


def _several(work: Work, table: str, count: int, **values: Any) -> list[int]:
    return [work.insert(table, name=f"{table} {n}", name_folded=f"{table} {n}", **values) for n in range(count)]


class _Journal:
    """Writes acts as a Work does, many at a time."""

    def __init__(self, book: sqlite3.Connection) -> None:
        self.book = book
        self._last: dict[str, int] = {}
        self._keys = 0
        self._waiting: dict[str, tuple[Sequence[str], list[Sequence[Any]]]] = {}
        self._hash = book.execute("SELECT hash FROM seal ORDER BY id DESC LIMIT 1").fetchone()[0]
        self._touched: dict[tuple[str, int], int] = {}
        self._changes: list[tuple[Any, ...]] = []
        self._acts = 0

    @contextmanager
    def act(self, command: str, day: str, summary: str, undoes: int | None = None) -> Iterator[int]:
        """Write one act with all that is written meanwhile."""
        act_id, self._changes, self._moved = self.next_id("act"), [], set[tuple[str, int]]()
        self.act_id = act_id
        at = (datetime(2019, 1, 1, tzinfo=UTC) + timedelta(minutes=10 * act_id)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
        row = (act_id, self.key(), at, day, None, command, None, undoes)
        self._wait("act", _ACT, [row])
        yield act_id
        for change in self._changes:
            self._wait("change", _CHANGE, [(self.next_id("change"), self.key(), act_id, *change)])
        sealed = act_hash(self._hash, row, self._changes, summary)
        self._wait("seal", _SEAL, [(self.next_id("seal"), self.key(), act_id, summary, self._hash, sealed)])
        self._hash = sealed
        for moved in self._moved:
            self._touched[moved] = self._touched.get(moved, 0) + 1
        self._acts += 1
        if self._acts % _AT_ONCE == 0:
            self._flush()

    def insert(self, table: str, later: dict[str, Any] | None = None, **values: Any) -> int:
        """Write an editable row; `later`: what an act to come will change of it, by `changed`."""
        row_id = self.next_id(table)
        values = {"key": self.key(), **values}
        row = values | {"version": 2 if later else 1} | (later or {})
        self._wait(table, ("id", "act_id", *row), [(row_id, self.act_id, *row.values())])
        self._note("insert", table, row_id, 1, None, canonical(values))
        return row_id

    def append(self, table: str, *rows: dict[str, Any]) -> int:
        """Write append-only rows as one run; returns the id of the first."""
        columns = _COLUMNS[table]
        first = self.next_id(table, len(rows))
        full = [[self.key(), *(row.get(name) for name in columns)] for row in rows]
        self._wait(
            table,
            ("id", "act_id", "key", *columns),
            [(first + place, self.act_id, *row) for place, row in enumerate(full)],
        )
        change = ("append", table, first, None, None, canonical(["key", *columns]), len(rows), rows_digest([full]))
        self._changes.append(change)
        self._moved.add((SUBJECT_OF[table], 0))
        for subject, column in (("series", "series_id"), ("supply", "supply_id")):
            if (table, subject) in (("reading", "series"), ("movement", "supply")):
                self._moved.update((subject, row[column]) for row in rows)
        return first

    def changed(self, table: str, row_id: int, after: dict[str, Any]) -> None:
        """Note the first change of a row, whose columns were empty; the row was written with it."""
        self._note("update", table, row_id, 2, canonical(dict.fromkeys(after)), canonical(after))

    def take_back(self, act_id: int, day: str, tables: dict[str, int]) -> None:
        """Undo an act that made these editable rows and nothing but them and appended rows."""
        self._flush()
        appended = self.book.execute(
            "SELECT DISTINCT table_name FROM change WHERE act_id = ? AND kind = 'append'", (act_id,)
        ).fetchall()
        with self.act("undo", day, f"took back act {act_id}", undoes=act_id) as by_id:
            for table, row_id in tables.items():
                self.book.execute(f"UPDATE {table} SET void = 1, version = version + 1 WHERE id = ?", (row_id,))
                self._note("void", table, row_id, 2, None, None)
            self._moved.update((SUBJECT_OF[table], 0) for (table,) in appended)
            row = (self.next_id("undone"), self.key(), act_id, by_id)
            self._wait("undone", ("id", "key", "act_id", "by_id"), [row])

    def close(self) -> None:
        """Write what waits, and the counters."""
        self._flush()
        sql = (
            "INSERT INTO counter (key, subject, row_id, value) VALUES (?, ?, ?, ?)"
            " ON CONFLICT (subject, row_id) DO UPDATE SET value = counter.value + excluded.value"
        )
        self.book.executemany(sql, ((self.key(), *moved, times) for moved, times in self._touched.items()))

    def next_id(self, table: str, count: int = 1) -> int:
        """Reserve ids."""
        if table not in self._last:
            self._last[table] = self.book.execute(f"SELECT coalesce(max(id), 0) FROM {table}").fetchone()[0]
        first = self._last[table] + 1
        self._last[table] += count
        return first

    def key(self) -> str:
        """Return a key no row has."""
        self._keys += 1
        return f"{self._keys >> 16:08x}-{self._keys & 0xFFFF:04x}-7000-8000-{self._keys:012x}"

    def _note(self, kind: str, table: str, row_id: int, version: int, before: str | None, after: str | None) -> None:
        self._changes.append((kind, table, row_id, version, before, after, None, None))
        self._moved.add((SUBJECT_OF[table], 0))

    def _wait(self, table: str, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
        known, waiting = self._waiting.setdefault(table, (tuple(columns), []))
        if known != tuple(columns):
            self._flush_one(table)
            waiting = self._waiting.setdefault(table, (tuple(columns), []))[1]
        waiting.extend(rows)

    def _flush(self) -> None:
        for table in list(self._waiting):
            self._flush_one(table)

    def _flush_one(self, table: str) -> None:
        columns, rows = self._waiting.pop(table)
        marks = ", ".join("?" * len(columns))
        self.book.executemany(f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})", rows)


class _Club:
    """What happened in the club, in the order of time."""

    def __init__(self, journal: _Journal, names: Names, dice: random.Random, units: int) -> None:
        self.journal, self.names, self.dice, self.units = journal, names, dice, units
        self.loans = 0

    def write(self) -> None:
        """Write all years, and take some services back."""
        units = range(1, self.units + 1)
        for unit in units:
            self._arrives(unit)
        for number in range(ROUNDS):
            for unit in units:
                self._service(unit, number)
                if number < LOANS:
                    self._loan(unit, number)
                if number == LOANS:
                    self._moves(unit)

    def _day(self, number: int, more: int) -> str:
        day: date = TODAY - timedelta(days=200 * (ROUNDS - number) - more)
        return day.isoformat()

    def _arrives(self, unit: int) -> None:
        write, names, day = self.journal, self.names, self._day(-1, 0)
        with write.act("unit add", day, f"took in D{unit}"):
            model = names.models[unit % MODELS]
            write.insert("unit", tag=f"D{unit}", tag_folded=f"d{unit}", model_id=model, serial=str(unit),
                         serial_folded=str(unit), later={"note": "a scratch"} if unit % 10 == 0 else None)  # fmt: skip
            entry = {"unit_id": unit, "from_date": day}
            write.append(
                "unit_entry",
                entry | {"what": "owner", "person_id": self.dice.choice(names.people)},
                entry | {"what": "location", "location_id": self.dice.choice(names.places)},
                entry | {"what": "standing", "standing": "ready"},
            )
        if unit % 10 == 0:
            with write.act("unit edit", day, f"changed D{unit}"):
                write.changed("unit", unit, {"note": "a scratch"})

    def _moves(self, unit: int) -> None:
        day = self._day(LOANS, 40)
        entry = {
            "unit_id": unit,
            "what": "location",
            "from_date": day,
            "location_id": self.dice.choice(self.names.places),
        }
        with self.journal.act("unit move", day, f"moved D{unit}"):
            self.journal.append("unit_entry", entry)

    def _service(self, unit: int, number: int) -> None:
        write, names, day = self.journal, self.names, self._day(number, self.dice.randrange(30))
        with write.act("service record", day, f"serviced D{unit}") as act_id:
            made = write.insert(
                "service", name=f"S{number * self.units + unit}", unit_id=unit, opened_on=day, closed_on=day
            )
            write.append("task", *(self._task(made, day) for _ in range(2)))
            if number == 0:
                measured = ({"measurement_id": which, "point": point} for which, point, _ in names.measured)
                write.append("series", *({"unit_id": unit} | each for each in measured))
            write.append("reading", *self._readings(unit, made, day))
            used = {"supply_id": names.supply, "lot_id": names.lots[unit % LOTS], "occurred_on": day, "unit_id": unit}
            amount = {"kind": "use", "steps": -5, "entered": "5 ml", "basis": "sheet", "used_past_date": 0}
            write.append("movement", used | amount | {"service_id": made})
        if number == ROUNDS - 1 and unit % 20 == 0:
            write.take_back(act_id, day, {"service": made})

    def _task(self, service: int, day: str) -> dict[str, Any]:
        procedure = self.dice.choice(self.names.procedures)
        return {"service_id": service, "procedure_id": procedure, "procedure_revision": 1, "done_on": day}

    def _readings(self, unit: int, service: int, day: str) -> Iterator[dict[str, Any]]:
        for stage in STAGES:
            for place, (_, _, usual) in enumerate(self.names.measured):
                series = (unit - 1) * len(MEASURED) + place + 1
                taken = {"series_id": series, "taken_on": day, "instrument_id": self.names.disk, "stage": stage}
                value = None if usual is None else round(self.dice.gauss(usual, 0.01), 3)
                result = (
                    {"grade": "pass", "entered": "pass"} if value is None else {"value": value, "entered": str(value)}
                )
                yield taken | result | {"service_id": service}

    def _loan(self, unit: int, number: int) -> None:
        write, out, due = self.journal, self._day(number, 40), self._day(number, 70)
        still = number == LOANS - 1 and unit <= STILL_OUT
        back = None if still else {"back_on": due, "condition_back": "good"}
        self.loans += 1
        with write.act("loan out", out, f"lent D{unit} until {due}"):
            days: dict[str, Any] = {"person_id": self.dice.choice(self.names.people), "out_on": out, "due_on": due}
            loan = write.insert("loan", name=f"L{self.loans}", direction="out", purpose="club evening", **days)
            item = write.insert("loan_item", loan_id=loan, unit_id=unit, later=back)
        if back:
            with write.act("loan back", due, f"took back D{unit}"):
                write.changed("loan_item", item, back)
