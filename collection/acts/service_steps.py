"""The steps that a service is made of: opened, worked on, closed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy.engine import Connection

from collection.acts.adjustments import note_turn
from collection.acts.instruments import Instruments
from collection.acts.leaving import refuse_leaving
from collection.acts.lubrication import doubt_mixed, note_lubed
from collection.acts.readings import GivenReading, held_against, record_reading
from collection.acts.service_given import GivenService
from collection.acts.service_parts import fit_part
from collection.acts.service_supplies import Occasion, booked_in, take_by_the_sheet, take_told
from collection.acts.texts import refuse_texts
from collection.acts.units import ARRIVED
from collection.acts.work import Work
from collection.analysis.readiness import READY, Obstacles, Retest, obstacles
from collection.errors import NeedsReason, Refused, fold, nearest, typed
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.exits import GONE
from collection.views.faults import open_faults_on
from collection.views.lubricants import lubricants_on
from collection.views.people import find_person
from collection.views.procedures import Procedure, find_procedures, procedure_list
from collection.views.service_readings import before_and_after, left_of, retests_of
from collection.views.services import Service, free_name, tasks_of
from collection.views.units import Unit

OUTCOMES = ("ready", "in use", "on the bench", "awaiting parts", "away", "donor", "gone")
OUT_OF_REACH = ("on loan", "missing", "gone")
MOST_MINUTES = 100_000


@dataclass(frozen=True, slots=True)
class Bench:
    """The unit that is worked on, its service, and the day of the work."""

    unit: Unit
    service_id: int
    on: date


def start_service(work: Work, unit: Unit, on: date, given: GivenService) -> Bench:
    """Open the service of a unit on a day, by whoever writes the act until somebody else is told.

    Raises Refused where one is open already, and, without a reason, for a unit that is out or lost.
    """
    refuse_out_of_reach(unit, given)
    service_id = work.insert(
        "service",
        name=free_name(work.conn, unit.tag, on),
        unit_id=unit.id,
        opened_on=on.isoformat(),
        reason=given.reason or None,
        by_id=work.who_id,
    )
    if unit.standing in OUT_OF_REACH:
        work.doubt("service", service_id, "unit", unit.tag, f"{unit.standing} on that day: {given.anyway}")
    return Bench(unit, service_id, on)


def put_on_bench(work: Work, bench: Bench) -> None:
    """Let the unit stand on the bench from this day on, as long as the service is open."""
    _stand(work, bench, "on the bench")


def note_work(work: Work, bench: Bench, given: GivenService) -> list[str]:
    """Book what was done: readings, tasks, screws, lubricants, supplies, parts. Returns what was not booked, and why.

    By the sheet without a procedure means those done so far, as far as their supplies are not booked yet.
    """
    procedures = find_procedures(work.conn, given.did) if given.did else []
    _note_tasks(work, bench, procedures)
    _note_readings(work, bench, given)
    for turn in given.turned:
        note_turn(work, bench.unit.id, turn, bench.on, bench.service_id)
    if not (given.used or given.parts or given.lubed or given.by_the_sheet):
        return []  # a reading at the bench is answered at once: nothing of the drawer is looked up for it
    done = tuple(_all_done(work.conn, bench.service_id))
    day = parse_day(bench.on.isoformat())
    booked = booked_in(work.conn, bench.service_id)
    occasion = Occasion(bench.service_id, bench.unit.id, day, done, given.past_date_anyway)
    before = lubricants_on(work.conn, bench.unit.id, day.text) if given.used or given.by_the_sheet else []
    for lube in given.lubed:
        note_lubed(work, bench.unit.id, lube, bench.on, bench.service_id)
    named, notes = take_told(work, occasion, given.used)
    fitted = [fit_part(work, occasion, bench.unit, part, given.anyway) for part in given.parts]
    if given.by_the_sheet:
        told = {*named, *fitted, *(() if procedures else booked)}
        notes += take_by_the_sheet(work, occasion, procedures or done, told)
    if before:
        doubt_mixed(work, bench.unit.id, bench.service_id, before, bench.on)
    return notes


def note_words(work: Work, bench: Bench, given: GivenService) -> None:
    """Keep what was told in words: minutes and findings are added to earlier ones, the rest takes their place."""
    sql = "SELECT minutes, findings FROM service WHERE id = :id"
    minutes, findings = fetch(work.conn, sql, id=bench.service_id)[0]
    changes: dict[str, Any] = {}
    if given.minutes is not None:
        if not 0 <= given.minutes <= MOST_MINUTES:
            raise Refused(f"{given.minutes} minutes of work is outside 0 to {MOST_MINUTES}.", "Type --minutes 45.")
        changes["minutes"] = (minutes or 0) + given.minutes
    if given.findings:
        changes["findings"] = "\n".join(filter(None, (findings, given.findings)))
        refuse_texts(findings=changes["findings"])
    if given.by:
        changes["by_id"] = find_person(work.conn, given.by).id
    if given.reason:
        changes["reason"] = given.reason
    if changes:
        work.update("service", bench.service_id, **changes)


def finish_service(work: Work, bench: Bench, given: GivenService) -> None:
    """Close the service and let the unit stand as its outcome says, or as before where none is told.

    A unit that has arrived was looked over with this, and stands on the bench unless an outcome is told.

    Raises Refused for an outcome that is none, for a unit that would be called ready while something stands against
    it and no reason is given, and as `refuse_leaving` where it would be gone.
    """
    outcome = _outcome(given.outcome)
    standing = outcome or bench.unit.standing
    if standing in READY:
        against = against_ready(work.conn, bench)
        if against and not given.anyway:
            raise _not_ready(bench.unit.tag, standing, against)
        if against:
            says = f"{standing} all the same ({given.anyway}): {'; '.join(against.sentences)}"
            work.doubt("service", bench.service_id, "outcome", standing, says)
    work.update("service", bench.service_id, closed_on=bench.on.isoformat(), outcome=outcome or None, guide=None)
    if outcome == GONE:
        refuse_leaving(work.conn, bench.unit.id, bench.on.isoformat(), work.today)
    if outcome or bench.unit.standing == ARRIVED:
        _stand(work, bench, outcome or "on the bench")


def against_ready(conn: Connection, bench: Bench) -> Obstacles:
    """Return what stands against calling the unit ready at the end of its service.

    What was out of its limit as found is wanted as left as well, whether or not a procedure asks for it.
    """
    rows = before_and_after(conn, bench.unit, bench.service_id)
    done = _all_done(conn, bench.service_id)
    retests = retests_of(conn, bench.unit, bench.service_id, done, bench.on)
    retests += [Retest(row.measurement, (row.point,)) for row in rows if row.out_as_found]
    faults = open_faults_on(conn, bench.unit.id, bench.on)
    return obstacles(retests, left_of(rows), (fault.symptom for fault in faults))


def day_in(service: Service, day: date, tag: str) -> date:
    """Return a day of an open service. Raises Refused for one before it was opened."""
    if parse_day(service.opened_on).first > day:
        raise Refused(
            f"{day.isoformat()} is before the service of {tag} was opened ({service.opened_on}).",
            "Type a day from then on.",
        )
    return day


def refuse_out_of_reach(unit: Unit, given: GivenService) -> None:
    """Refuse, without a reason, a unit that is out or lost."""
    if unit.standing not in OUT_OF_REACH or given.anyway:
        return
    if unit.loan is not None:
        raise NeedsReason(
            f"{unit.tag} is on loan since {unit.loan.out_on} and not at hand.",
            f'Type: spindlebook loan back {typed(unit.tag)}; or add --anyway "REASON".',
        )
    raise NeedsReason(f"{unit.tag} is {unit.standing} and not at hand.", 'Add --anyway "REASON" if it is.')


def _note_tasks(work: Work, bench: Bench, procedures: Iterable[Procedure]) -> None:
    for procedure in procedures:
        work.append(
            "task",
            service_id=bench.service_id,
            procedure_id=procedure.id,
            procedure_revision=procedure.revision,
            done_on=bench.on.isoformat(),
        )
        if not procedure.fits(bench.unit):
            kinds = ", ".join(sorted(procedure.rule.applies_to))
            says = f"is for {kinds}; {bench.unit.tag} is {bench.unit.drive_type or bench.unit.kind}"
            work.doubt("service", bench.service_id, "procedures", procedure.name, says)


def _note_readings(work: Work, bench: Bench, given: GivenService) -> None:
    if not (given.as_found or given.as_left):
        return
    held = held_against(work.conn, bench.unit, Instruments(given.instruments, given.new_instrument))
    staged: Sequence[tuple[str, Sequence[GivenReading]]] = (
        ("as found", given.as_found),
        ("as left", given.as_left),
    )
    for stage, readings in staged:
        for reading in readings:
            record_reading(work, held, reading, stage, bench.on, bench.service_id)


def _all_done(conn: Connection, service_id: int) -> list[Procedure]:
    done = tasks_of(conn, service_id)
    return [procedure for procedure in procedure_list(conn) if procedure.id in done]


def _outcome(text: str) -> str:
    if not text:
        return ""
    for word in OUTCOMES:
        if fold(text) == word:
            return word
    near = nearest(text, OUTCOMES)
    hint = f"Nearest: {', '.join(near)}." if near else f"Type one of: {', '.join(OUTCOMES)}."
    raise Refused(f'Outcome "{text}" is none.', hint)


def _not_ready(tag: str, standing: str, against: Obstacles) -> NeedsReason:
    hints = [f'--as-left "{name}=VALUE"' for name in against.missing]
    if against.faults:
        hints.append(f"spindlebook fault close {typed(tag)}")
    hints.append('--outcome "on the bench"')
    return NeedsReason(
        f"{tag} is not called {standing}: {'; '.join(against.sentences)}.",
        f'Type {", ".join(hints)}; or give a reason: --anyway "REASON".',
    )


def _stand(work: Work, bench: Bench, standing: str) -> None:
    work.append(
        "unit_entry",
        unit_id=bench.unit.id,
        what="standing",
        from_date=bench.on.isoformat(),
        standing=standing,
        service_id=bench.service_id,
    )
