"""A large invented book, written with the plain driver: ten services and a hundred readings per unit."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any, NamedTuple

from collection.acts.start import start_book
from collection.store.book import BookSettings
from tests.support.times import NOW, TODAY

MODELS, PEOPLE, PLACES, SERVICES = 40, 20, 20, 10
STAGES = ("as found", "as left")
STANDINGS = ("ready",) * 6 + ("in use", "in use", "on the bench", "away", "missing", "gone", "awaiting parts")
DRIVE_TYPES = ("belt", "direct adjustable", "direct crystal")
GRADES = ("pass",) * 8 + ("marginal", "fail")

Row = Sequence[Any]


class Kind(NamedTuple):
    """A series that every unit has: measurement, point, usual value (None: a grade)."""

    measurement: str
    point: str
    usual: float | None


KINDS = (
    Kind("spindle speed", "", 300.0),
    Kind("rail voltage", "+5 V", 5.0),
    Kind("rail voltage", "+12 V", 12.0),
    Kind("azimuth", "head 0", 0.0),
    Kind("head condition", "", None),
)


def write_big_book(file: Path, units: int, seed: int = 1) -> None:
    """Write a book of so many units at `file`, ten services, twenty tasks and a hundred readings each."""
    start_book(str(file), BookSettings(), today=TODAY, now=NOW)
    with sqlite3.connect(file) as book:
        for pragma in ("synchronous = OFF", "journal_mode = MEMORY", "foreign_keys = OFF"):
            book.execute(f"PRAGMA {pragma}")
        _Writer(book, random.Random(seed)).write(units)
    book.close()


class _Writer:
    def __init__(self, book: sqlite3.Connection, dice: random.Random) -> None:
        self.book, self.dice, self._keys = book, dice, 0

    def write(self, units: int) -> None:
        """Write everything, the readings in the order of their days as they came about."""
        self._names(units)
        services = list(self._services(units))
        self._tasks(services)
        self._entries(units)
        self._readings(units, services)

    def _insert(self, table: str, columns: str, rows: Iterable[Row]) -> None:
        marks = ", ".join("?" * (len(columns.split(",")) + 2))
        self.book.executemany(f"INSERT INTO {table} (key, act_id, {columns}) VALUES ({marks})", self._keyed(rows))

    def _keyed(self, rows: Iterable[Row]) -> Iterator[Row]:
        for row in rows:
            self._keys += 1
            yield (f"{self._keys:032x}", 1, *row)

    def _ids(self, table: str) -> dict[str, int]:
        return dict(self.book.execute(f"SELECT name, id FROM {table}"))

    def _names(self, units: int) -> None:
        self._insert(
            "person", "name, name_folded, role, salt", ((f"P{n}", f"p{n}", "member", "s") for n in range(PEOPLE))
        )
        self._insert("location", "name, name_folded", ((f"L{n}", f"l{n}") for n in range(PLACES)))
        models = (
            (f"X{n}", f"x{n}", "Oro", "oro", "drive", DRIVE_TYPES[n % 3], "300" if n % 2 else "360")
            for n in range(MODELS)
        )
        self._insert("model", "name, name_folded, maker, maker_folded, kind, drive_type, nominal_speeds", models)
        self._insert("instrument", "name, name_folded", [("disk A", "disk a")])
        used_for = sorted({self._ids("measurement")[kind.measurement] for kind in KINDS})
        self._insert(
            "instrument_use", "instrument_id, measurement_id, reference", ((self._disk(), id_, 1) for id_ in used_for)
        )
        made = ((n, f"D{n}", f"d{n}", 1 + n % MODELS, str(n), str(n)) for n in range(1, units + 1))
        self._insert("unit", "id, tag, tag_folded, model_id, serial, serial_folded", made)

    def _entries(self, units: int) -> None:
        rows = (
            entry
            for unit in range(1, units + 1)
            for day in ("2020-01-01", "2023-05-01")
            for entry in (
                (unit, "owner", day, self.dice.randint(1, PEOPLE), None, None),
                (unit, "location", day, None, self.dice.randint(1, PLACES), None),
                (unit, "standing", day, None, None, self.dice.choice(STANDINGS)),
            )
        )
        self._insert("unit_entry", "unit_id, what, from_date, person_id, location_id, standing", rows)

    def _services(self, units: int) -> Iterator[tuple[int, int, str]]:
        rows = []
        for number in range(units * SERVICES):
            unit, at = divmod(number, SERVICES)
            ago = 180 * (SERVICES - at) - 100 + self.dice.randint(0, 30)
            day = self._day(ago)
            rows.append((number + 1, f"S{number}", unit + 1, day, day))
            yield number + 1, unit + 1, day
        self._insert("service", "id, name, unit_id, opened_on, closed_on", rows)

    def _day(self, ago: int) -> str:
        day: date = TODAY - timedelta(days=ago)
        return day.isoformat()

    def _tasks(self, services: Iterable[tuple[int, int, str]]) -> None:
        procedures = sorted(self._ids("procedure").values())
        rows = (
            (service, procedure, 1, day)
            for service, _, day in services
            for procedure in self.dice.sample(procedures, 2)
        )
        self._insert("task", "service_id, procedure_id, procedure_revision, done_on", rows)

    def _disk(self) -> int:
        return self._ids("instrument")["disk A"]

    def _readings(self, units: int, services: Sequence[tuple[int, int, str]]) -> None:
        measurements, disk = self._ids("measurement"), self._disk()
        series = (
            (unit * len(KINDS) + place, unit, measurements[kind.measurement], kind.point)
            for unit in range(1, units + 1)
            for place, kind in enumerate(KINDS)
        )
        self._insert("series", "id, unit_id, measurement_id, point", series)
        rows = (
            (unit * len(KINDS) + place, day, *self._result(kind, unit), disk, stage, service)
            for service, unit, day in sorted(services, key=lambda service: service[2])
            for stage in STAGES
            for place, kind in enumerate(KINDS)
        )
        self._insert("reading", "series_id, taken_on, value, grade, entered, instrument_id, stage, service_id", rows)
        count = len(services) * len(KINDS) * len(STAGES)
        aside = ((self.dice.randint(1, count), "stray") for _ in range(count // 200))
        self._insert("reading_aside", "reading_id, reason", aside)

    def _result(self, kind: Kind, unit: int) -> Row:
        if kind.usual is None:
            grade = self.dice.choice(GRADES)
            return None, grade, grade
        usual = 360.0 if kind.usual == 300.0 and not unit % MODELS % 2 else kind.usual
        value = round(usual + self.dice.gauss(0, 0.004 * usual + 0.01), 3)
        return value, None, str(value)
