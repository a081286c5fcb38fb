"""Services as acts: recorded in one go, or opened, added to and closed over days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.days import day_given
from collection.acts.leaving import refuse_gone_since
from collection.acts.service_given import GivenService
from collection.acts.service_steps import (
    Bench,
    day_in,
    finish_service,
    note_words,
    note_work,
    put_on_bench,
    start_service,
)
from collection.acts.texts import refuse_texts_of
from collection.acts.work import Work, open_work
from collection.errors import Refused, typed
from collection.views.services import Service, open_service_of
from collection.views.units import Unit, find_unit, unit_on


@dataclass(frozen=True, slots=True)
class ServiceDone:
    """The service that an act wrote to, by what a report asks for it; notes: what was not booked, and why."""

    unit_id: int
    service_id: int
    act_id: int
    on: date
    notes: tuple[str, ...]


def record_service(engine: Engine, tag: str, given: GivenService, *, today: date, now: datetime) -> ServiceDone:
    """Book a whole service of one day: opened, done, closed. Raises Refused; then nothing is written."""
    refuse_texts_of(given)
    with open_work(engine, "service record", today=today, now=now, reason=given.anyway or None) as work:
        on = day_given(given.on, today)
        unit = unit_on(work.conn, find_unit(work.conn, tag).id, on)
        _refuse_open(work, unit)
        bench = start_service(work, unit, on, given)
        note_words(work, bench, given)
        notes = note_work(work, bench, given)
        finish_service(work, bench, given)
        return _commit(work, bench, "service recorded", given, notes)


def open_service(
    engine: Engine, tag: str, given: GivenService, *, today: date, now: datetime, guide: str | None = None
) -> ServiceDone:
    """Open a service; the unit stands on the bench until it is closed. What was told is booked at once.

    guide: the question with which a guided service goes on, None for a service that is not guided.
    """
    refuse_texts_of(given)
    with open_work(engine, "service open", today=today, now=now, reason=given.anyway or None) as work:
        on = day_given(given.on, today)
        unit = unit_on(work.conn, find_unit(work.conn, tag).id, on)
        _refuse_open(work, unit)
        over = f"If it was over by {{since}}: spindlebook service record {typed(unit.tag)} --on DATE"
        refuse_gone_since(work.conn, unit, today, "so no service of it is open now", over)
        bench = start_service(work, unit, on, given)
        put_on_bench(work, bench)
        note_words(work, bench, given)
        notes = note_work(work, bench, given)
        _note_guide(work, bench, guide)
        return _commit(work, bench, "service opened", given, notes)


def add_to_service(
    engine: Engine, tag: str, given: GivenService, *, today: date, now: datetime, guide: str | None = None
) -> ServiceDone:
    """Book what was done in the open service of a unit; guide as of `open_service`."""
    refuse_texts_of(given)
    with open_work(engine, "service add", today=today, now=now, reason=given.anyway or None) as work:
        bench = _open_bench(work, tag, day_given(given.on, today))
        note_words(work, bench, given)
        notes = note_work(work, bench, given)
        _note_guide(work, bench, guide)
        return _commit(work, bench, "service added to", given, notes)


def close_service(engine: Engine, tag: str, given: GivenService, *, today: date, now: datetime) -> ServiceDone:
    """Book the last of the work and close the open service of a unit; the outcome must be told."""
    refuse_texts_of(given)
    with open_work(engine, "service close", today=today, now=now, reason=given.anyway or None) as work:
        bench = _open_bench(work, tag, day_given(given.on, today))
        if not given.outcome:
            raise Refused(
                f"How {bench.unit.tag} is left is not said.", "Add --outcome ready (or: awaiting parts, donor)."
            )
        note_words(work, bench, given)
        notes = note_work(work, bench, given)
        finish_service(work, bench, given)
        return _commit(work, bench, "service closed", given, notes)


def _note_guide(work: Work, bench: Bench, guide: str | None) -> None:
    if guide is not None:
        work.update("service", bench.service_id, guide=guide)


def _refuse_open(work: Work, unit: Unit) -> None:
    service = open_service_of(work.conn, unit.id)
    if service is not None:
        raise Refused(
            f"{unit.tag} has a service open since {service.opened_on}.",
            f"Type: spindlebook service add {typed(unit.tag)}, or spindlebook service close {typed(unit.tag)}",
        )


def _open_bench(work: Work, tag: str, on: date) -> Bench:
    unit = unit_on(work.conn, find_unit(work.conn, tag).id, on)
    service: Service | None = open_service_of(work.conn, unit.id)
    if service is None:
        raise Refused(
            f"{unit.tag} has no service open.",
            f"Type: spindlebook service open {typed(unit.tag)},"
            f" or all at once: spindlebook service record {typed(unit.tag)}",
        )
    return Bench(unit, service.id, day_in(service, on, unit.tag))


def _commit(work: Work, bench: Bench, what: str, given: GivenService, notes: list[str]) -> ServiceDone:
    done = ", ".join(given.did)
    work.commit(f"{bench.unit.tag}: {what}" + (f" ({done})" if done else ""))
    return ServiceDone(bench.unit.id, bench.service_id, work.act_id, bench.on, tuple(notes))
