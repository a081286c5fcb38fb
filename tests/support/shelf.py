"""A shelf for tests: units, their history and their readings, written row by row."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

from sqlalchemy.engine import Engine

from collection.acts.work import Work, open_work
from collection.errors import fold
from collection.store.engine import fetch
from tests.support.times import NOW, TODAY

T = TypeVar("T")


@contextmanager
def shelf(engine: Engine, command: str = "test") -> Iterator[Shelf]:
    """Yield a shelf to write on; what is written is one act."""
    with open_work(engine, command, today=TODAY, now=NOW) as work:
        yield Shelf(work)
        work.commit("wrote test data")


class Shelf:
    """Writes rows by the names that tests use. Where a name is not there yet, its row is made."""

    def __init__(self, work: Work) -> None:
        self.work = work

    def id_of(self, table: str, name: str, make: Callable[[], int]) -> int:
        """Return the row of this folded name, or make it."""
        sql = f"SELECT id FROM {table} WHERE name_folded = :name AND void = 0"
        rows = fetch(self.work.conn, sql, name=fold(name))
        return int(rows[0][0]) if rows else make()

    def named(self, table: str, name: str, **values: Any) -> int:
        """Return the row of a table that has a name, made with `values` if it is not there."""
        return self.id_of(table, name, lambda: self.work.insert(table, name=name, name_folded=fold(name), **values))

    def model(self, name: str = "VX-5", **values: Any) -> int:
        """Return a model, a belt drive of 300 r/min unless told otherwise."""
        usual = {"maker": "Varnhall", "kind": "drive", "drive_type": "belt", "nominal_speeds": "300"}
        made = usual | values
        return self.named("model", name, **made, maker_folded=fold(made["maker"]))

    def unit(self, tag: str, model: str = "VX-5", *, standing: str = "ready", **values: Any) -> int:
        """Add a unit that stands so since 2020."""
        made = self.work.insert("unit", tag=tag, tag_folded=fold(tag), model_id=self.model(model), **values)
        self.standing(made, standing, "2020-01-01")
        return made

    def standing(self, unit: int, standing: str, day: str) -> int:
        """Enter a standing."""
        return self.work.append("unit_entry", unit_id=unit, what="standing", standing=standing, from_date=day)

    def owner(self, unit: int, name: str, day: str = "2020-01-01") -> int:
        """Enter an owner."""
        return self.work.append("unit_entry", unit_id=unit, what="owner", person_id=self.person(name), from_date=day)

    def location(self, unit: int, name: str, day: str = "2020-01-01") -> int:
        """Enter a location."""
        place = self.named("location", name)
        return self.work.append("unit_entry", unit_id=unit, what="location", location_id=place, from_date=day)

    def person(self, name: str) -> int:
        """Return a person."""
        return self.named("person", name, role="member", salt="salt")

    def service(self, unit: int, day: str, *procedures: str, closed_on: str | None = None, **values: Any) -> int:
        """Add a service, closed on the day it was opened, with the procedures done."""
        made = self.work.insert(
            "service",
            name=f"S{self.work.next_id('service')}",
            unit_id=unit,
            opened_on=day,
            closed_on=closed_on or day,
            **values,
        )
        for name in procedures:
            self.task(made, name, day)
        return made

    def task(self, service: int, procedure: str, day: str) -> int:
        """Note a procedure as done in a service."""
        return self.work.append(
            "task",
            service_id=service,
            procedure_id=self.procedure(procedure),
            procedure_revision=1,
            done_on=day,
        )

    def procedure(self, name: str, **values: Any) -> int:
        """Return a procedure, of the reference data or made."""
        return self.named("procedure", name, **values)

    def no_procedures(self) -> None:
        """Take the procedures of the reference data away, so that a test depends on its own alone."""
        rows = fetch(self.work.conn, "SELECT id FROM procedure WHERE void = 0")
        self.work.set_void("procedure", [row[0] for row in rows], void=True)

    def few_procedures(self) -> None:
        """Leave six procedures, with triggers of every common sort."""
        self.no_procedures()
        self.procedure("dust out", every_months=12)
        self.procedure("clean head", every_months=12, triggers="symptom read errors", retests="head condition")
        self.procedure("re-lube rails", every_months=12)
        self.procedure("replace belt", every_months=60, triggers="symptom squeal", applies_to="belt")
        self.procedure("check spindle speed", every_months=12, triggers="symptom read errors; unused 12 months")
        self.procedure("set spindle speed", resets="spindle speed: level", retests="spindle speed")

    def series(self, unit: int, measurement: str = "spindle speed", point: str = "") -> int:
        """Return the series of a unit, made if it is not there."""
        what = self.named("measurement", measurement, measured_in="r/min")
        sql = "SELECT id FROM series WHERE unit_id = :unit AND measurement_id = :what AND point = :point"
        rows = fetch(self.work.conn, sql, unit=unit, what=what, point=point)
        if rows:
            return int(rows[0][0])
        return self.work.append("series", unit_id=unit, measurement_id=what, point=point)

    def reading(
        self,
        series: int,
        day: str,
        result: float | str,
        stage: str = "between",
        service: int | None = None,
    ) -> int:
        """Add a reading: a value or a grade."""
        graded = isinstance(result, str)
        return self.work.append(
            "reading",
            series_id=series,
            taken_on=day,
            value=None if graded else result,
            grade=result if graded else None,
            instrument_id=self.named("instrument", "disk A"),
            stage=stage,
            service_id=service,
            entered=str(result),
        )

    def set_aside(self, reading: int, reason: str = "belt slipped") -> int:
        """Set a reading aside."""
        return self.work.append("reading_aside", reading_id=reading, reason=reason)

    def lend(self, unit: int, out_on: str, due_on: str, back_on: str | None = None, direction: str = "out") -> int:
        """Lend a unit to Ilva, or borrow it from her."""
        loan = self.work.insert(
            "loan",
            name=f"L{self.work.next_id('loan')}",
            direction=direction,
            person_id=self.person("Ilva"),
            out_on=out_on,
            due_on=due_on,
        )
        return self.work.insert("loan_item", loan_id=loan, unit_id=unit, back_on=back_on)
