"""Faults: noticed, and closed with what they came from and what helped."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.days import day_given
from collection.acts.texts import refuse_texts
from collection.acts.work import open_work
from collection.errors import Refused, fold
from collection.quantity import parse_day
from collection.views.faults import Fault, fault_list
from collection.views.people import find_person
from collection.views.services import open_service_of
from collection.views.units import find_unit


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
        for fault in fault_list(work.conn, unit.id):
            if not fault.closed_on and fold(fault.symptom) == fold(words):
                raise Refused(
                    f'{unit.tag} has the open fault "{fault.symptom}" since {fault.noticed_on} already.',
                    f"See: spindlebook fault list {unit.tag}",
                )
        fault_id = work.insert(
            "fault",
            unit_id=unit.id,
            noticed_on=day.isoformat(),
            symptom=words,
            circumstances=circumstances.strip() or None,
            no_fault_found=0,
            by_id=find_person(work.conn, by).id if by else None,
        )
        made = next(fault for fault in fault_list(work.conn, unit.id) if fault.id == fault_id)
        work.commit(f"{unit.tag}: fault noticed ({words})")
    return made


def close_fault(
    engine: Engine,
    tag: str,
    *,
    which: str = "",
    cause: str = "",
    cure: str = "",
    no_fault_found: bool = False,
    on: str = "",
    today: date,
    now: datetime,
) -> Fault:
    """Close the open fault of a unit, or the one that `which` names by number or by words of its symptom.

    It belongs to the unit's open service, if there is one. Raises Refused where nothing is said of cause and
    cure, where none or several are meant, and for a day before the fault was noticed.
    """
    if no_fault_found == bool(cause or cure):
        raise Refused(
            "What the fault came from is not said." if not no_fault_found else "No fault found, yet a cause or cure.",
            "Add --cause and --cure, or --no-fault-found.",
        )
    refuse_texts(cause=cause, cure=cure)
    with open_work(engine, "fault close", today=today, now=now) as work:
        unit, day = find_unit(work.conn, tag), day_given(on, today)
        fault = _which(unit.tag, fault_list(work.conn, unit.id), which)
        if parse_day(fault.noticed_on).first > day:
            raise Refused(
                f'"{fault.symptom}" was noticed on {fault.noticed_on}, after {day.isoformat()}.',
                "Type the day on which it was closed: --on DATE.",
            )
        service = open_service_of(work.conn, unit.id)
        work.update(
            "fault",
            fault.id,
            cause=cause or None,
            cure=cure or None,
            no_fault_found=int(no_fault_found),
            closed_on=day.isoformat(),
            service_id=service.id if service else None,
        )
        made = next(each for each in fault_list(work.conn, unit.id) if each.id == fault.id)
        work.commit(f"{unit.tag}: fault closed ({fault.symptom})")
    return made


def _which(tag: str, faults: list[Fault], which: str) -> Fault:
    """Return the one open fault that is meant."""
    unclosed = [fault for fault in faults if not fault.closed_on]
    if not unclosed:
        raise Refused(f"{tag} has no open fault.", f"Type: spindlebook fault list {tag} --all")
    found = [fault for fault in unclosed if _is_meant(fault, which)]
    if len(found) == 1:
        return found[0]
    shown = "; ".join(f'{fault.number} "{fault.symptom}" ({fault.noticed_on})' for fault in found or unclosed)
    if not found:
        raise Refused(f'{tag} has no open fault "{which}".', f"Open: {shown}.")
    raise Refused(
        f"{tag} has {len(found)} open faults: {shown}.",
        f"Say which by number or words: spindlebook fault close {tag} --which {found[0].number}",
    )


def _is_meant(fault: Fault, which: str) -> bool:
    if which.strip().isdecimal():
        return fault.number == int(which)
    return all(word in fold(fault.symptom) for word in fold(which).split())
