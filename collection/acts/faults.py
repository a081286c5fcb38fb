"""Faults: noticed, and closed with what they came from and what helped."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from sqlalchemy.engine import Engine

from collection.acts.days import day_given
from collection.acts.edit import Edited, change_row, needs_reason
from collection.acts.texts import refuse_texts
from collection.acts.work import Work, open_work
from collection.errors import Refused, fold, typed
from collection.quantity import parse_day
from collection.views.faults import Fault, fault_list
from collection.views.people import find_person
from collection.views.services import find_service, open_service_of
from collection.views.units import Found, find_unit


def add_fault(
    engine: Engine,
    tag: str,
    symptom: str,
    *,
    on: str = "",
    circumstances: str = "",
    by: str = "",
    today: date,
    now: datetime,
) -> Fault:
    """Note a fault of a unit. Raises Refused for no symptom, and for one that is open with the same words."""
    words = symptom.strip()
    if not words:
        raise Refused("A fault has a symptom: what is seen, heard or read.", 'Type it as "squeals after ten minutes".')
    refuse_texts(symptom=words, circumstances=circumstances)
    with open_work(engine, "fault add", today=today, now=now) as work:
        unit, day = find_unit(work.conn, tag), day_given(on, today)
        by_id = find_person(work.conn, by).id if by else None
        fault_id = write_fault(work, unit, words, day, circumstances=circumstances.strip() or None, by_id=by_id)
        made = _fault(work, unit.id, fault_id)
        work.commit(f"{unit.tag}: fault noticed ({words})")
    return made


def write_fault(work: Work, unit: Found, symptom: str, day: date, **columns: Any) -> int:
    """Write one open fault and return its id. Raises Refused for one that is open with the same words."""
    for fault in fault_list(work.conn, unit.id):
        if not fault.closed_on and fold(fault.symptom) == fold(symptom):
            raise Refused(
                f'{unit.tag} has the open fault "{fault.symptom}" since {fault.noticed_on} already.',
                f"See: spindlebook fault list {typed(unit.tag)}",
            )
    return work.insert(
        "fault", unit_id=unit.id, noticed_on=day.isoformat(), symptom=symptom, no_fault_found=0, **columns
    )


def close_fault(
    engine: Engine,
    tag: str,
    *,
    which: str = "",
    cause: str = "",
    cure: str = "",
    no_fault_found: bool = False,
    on: str = "",
    service: str = "",
    today: date,
    now: datetime,
) -> Fault:
    """Close the open fault of a unit, or the one that `which` names by number or by words of its symptom.

    It belongs to the service named, else to the unit's open one, if there is one. Raises Refused where nothing is
    said of cause and cure, where none or several are meant, and for a day before the fault was noticed.
    """
    if no_fault_found == bool(cause or cure):
        raise Refused(
            "What the fault came from is not said." if not no_fault_found else "No fault found, yet a cause or cure.",
            "Add --cause and --cure, or --no-fault-found.",
        )
    refuse_texts(cause=cause, cure=cure)
    with open_work(engine, "fault close", today=today, now=now) as work:
        unit, day = find_unit(work.conn, tag), day_given(on, today)
        still_open = [each for each in fault_list(work.conn, unit.id) if not each.closed_on]
        fault = _which(unit.tag, still_open, which, "close")
        if parse_day(fault.noticed_on).first > day:
            raise Refused(
                f'"{fault.symptom}" was noticed on {fault.noticed_on}, after {day.isoformat()}.',
                "Type the day on which it was closed: --on DATE.",
            )
        done_in = find_service(work.conn, unit, service) if service else open_service_of(work.conn, unit.id)
        work.update(
            "fault",
            fault.id,
            cause=cause or None,
            cure=cure or None,
            no_fault_found=int(no_fault_found),
            closed_on=day.isoformat(),
            service_id=done_in.id if done_in else None,
        )
        made = _fault(work, unit.id, fault.id)
        work.commit(f"{unit.tag}: fault closed ({fault.symptom})")
    return made


def edit_fault(
    engine: Engine,
    tag: str,
    given: Mapping[str, str],
    *,
    which: str = "",
    reason: str = "",
    today: date,
    now: datetime,
) -> Edited:
    """Correct what a fault of a unit says; `which` names it among several, open or closed.

    given: symptom, circumstances, noticed_on, cause, cure, closed_on, by; an empty text takes a value away. Raises
    Refused for a closed fault without a reason, a day closed before the day noticed, and for values none can have.
    """
    with open_work(engine, "fault edit", today=today, now=now, reason=reason or None) as work:
        unit = find_unit(work.conn, tag)
        fault = _which(unit.tag, fault_list(work.conn, unit.id), which, "edit")
        if fault.closed_on and not reason.strip():
            raise needs_reason(f'{unit.tag}: fault "{fault.symptom}" was closed on {fault.closed_on}')
        edited = change_row(work, "fault", fault.id, given, f"{unit.tag}, fault {fault.number}")
        after = _fault(work, unit.id, fault.id)
        _refuse_contradiction(fault, after)
        if edited.changes:
            work.commit(f"{unit.tag}: corrected fault {fault.number} ({', '.join(edited.names)})")
    return edited


def _refuse_contradiction(before: Fault, after: Fault) -> None:
    """Refuse days in the wrong order, an open fault that is closed by the way, and a cure of what was not found."""
    if bool(before.closed_on) != bool(after.closed_on):
        raise Refused(
            f'Fault "{after.symptom}" is {"closed" if before.closed_on else "open"}: no edit changes that.',
            "Type: spindlebook undo" if before.closed_on else f"Type: spindlebook fault close {typed(after.tag)}",
        )
    if after.closed_on and parse_day(after.closed_on).last < parse_day(after.noticed_on).first:
        raise Refused(
            f'"{after.symptom}" would be closed on {after.closed_on}, before it was noticed on {after.noticed_on}.',
            "Type days in the order in which they came.",
        )
    if after.no_fault_found and (after.cause or after.cure):
        raise Refused(f'"{after.symptom}" was closed with no fault found, so it has no cause and no cure.', "Undo.")


def _fault(work: Work, unit_id: int, fault_id: int) -> Fault:
    return next(fault for fault in fault_list(work.conn, unit_id) if fault.id == fault_id)


def _which(tag: str, faults: list[Fault], which: str, to: str) -> Fault:
    """Return the one of these faults that is meant; to: "close", of open ones, or "edit"."""
    word = "open fault" if to == "close" else "fault"
    if not faults:
        raise Refused(f"{tag} has no {word}.", f"Type: spindlebook fault list {typed(tag)} --all")
    found = [fault for fault in faults if _is_meant(fault, which)]
    if len(found) == 1:
        return found[0]
    shown = "; ".join(f'{fault.number} "{fault.symptom}" ({fault.noticed_on})' for fault in found or faults)
    if not found:
        raise Refused(f'{tag} has no {word} "{which}".', f"{'Open' if to == 'close' else 'Its faults'}: {shown}.")
    raise Refused(
        f"{tag} has {len(found)} {word}s: {shown}.",
        f"Say which by number or words: spindlebook fault {to} {typed(tag)} --which {found[0].number}",
    )


def _is_meant(fault: Fault, which: str) -> bool:
    if which.strip().isdecimal():
        return fault.number == int(which)
    return all(word in fold(fault.symptom) for word in fold(which).split())
