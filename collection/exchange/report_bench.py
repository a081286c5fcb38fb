"""What the page of a bench sheet is given: the words of each unit's sheet, none of them missing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from collection.errors import typed
from collection.exchange.report_page import foot
from collection.quantity import show_day
from collection.views.bench_sheet import BenchSheet, Job, ToRead
from collection.views.findings import show_range
from collection.views.procedures import caution_texts
from collection.views.service_guide_work import PartAsked, SupplyAsked

OUTCOMES = ("ready", "awaiting parts", "on the bench", "donor")
_CAUTION = "caution:"
_GRADES = "pass / marginal / fail"


def bench_places(sheets: Sequence[BenchSheet], form: str) -> dict[str, Any]:
    """Return what the template of the bench sheet may name. form: how the book writes days."""
    title = f"Bench sheet {', '.join(sheet.unit.tag for sheet in sheets)}"
    return {"title": title, "sheets": [_sheet(sheet, form) for sheet in sheets], "outcomes": OUTCOMES}


def bench_feet(sheets: Sequence[BenchSheet], day: str) -> str:
    """Return the CSS that names the unit at the foot of its pages: on a bench they come apart."""
    return "\n".join(foot(f"{sheet.unit.tag}, bench sheet, {day}", f"sheet-{at}") for at, sheet in enumerate(sheets, 1))


def _sheet(sheet: BenchSheet, form: str) -> dict[str, Any]:
    unit = sheet.unit
    since = f" since {show_day(unit.standing_from, form)}" if unit.standing_from else ""
    facts = (
        ("serial", unit.serial or "not known"),
        ("owner", unit.owner or "not known"),
        ("location", unit.location or "not known"),
        ("standing", f"{unit.standing}{since}" if unit.standing else "not known"),
        ("speed", f"{unit.nominal_speeds} r/min" if unit.nominal_speeds else ""),
        ("on loan", _loan(sheet, form)),
        *((f"on {on.point}", f"{on.put.supply} since {show_day(on.since, form)}") for on in sheet.points),
        ("wanted", ", ".join(row.part for row in sheet.wanted)),
        ("service", f"open since {show_day(sheet.open_since, form)}" if sheet.open_since else ""),
    )
    minutes = [job.sheet.minutes for job in sheet.jobs if job.sheet.minutes is not None]
    return {
        "tag": unit.tag,
        "model": f"{unit.maker} {unit.model}".strip(),
        "kind": f"{unit.kind}, {unit.drive_type}" if unit.drive_type else unit.kind,
        "facts": [(name, text) for name, text in facts if text],
        "faults": [_fault(fault.symptom, fault.noticed_on, fault.circumstances, form) for fault in sheet.faults],
        "look_at": [item.why for item in sheet.look_at],
        "minutes": str(sum(minutes)) if minutes else "",
        "cautions": caution_texts(sheet.cautions),
        "readings": [_reading(each, form) for each in sheet.readings],
        "retested": any(each.retested for each in sheet.readings),
        "jobs": [_job(job, form) for job in sheet.jobs],
        "supplies": [_supply(each) for each in sheet.supplies],
        "parts": [_part(each, form) for each in sheet.parts],
        "command": f"spindlebook service {_way(sheet)} {typed(unit.tag)}",
    }


def _way(sheet: BenchSheet) -> str:
    return "resume" if sheet.guided else "close" if sheet.open_since else "record"


def _loan(sheet: BenchSheet, form: str) -> str:
    loan = sheet.unit.loan
    return f"to {loan.person} until {show_day(loan.due_on, form)}" if loan else ""


def _fault(symptom: str, noticed_on: str, circumstances: str, form: str) -> str:
    return f"{symptom}{f' ({circumstances})' if circumstances else ''}, noticed {show_day(noticed_on, form)}"


def _reading(each: ToRead, form: str) -> dict[str, Any]:
    asked = each.asked
    graded, limit = asked.measurement.graded, show_range(asked.limit)
    return {
        "name": f"{asked.measurement.name} {asked.point}".rstrip(),
        "limit": f"{limit} {asked.measurement.measured_in}" if limit else "" if graded else "no limit",
        "unit": "" if graded else asked.measurement.measured_in,
        "grades": _GRADES if graded else "",
        "last": asked.last,
        "last_on": show_day(asked.last_on, form) if asked.last_on else "",
        "instrument": asked.instrument,
        "retested": each.retested,
    }


def _job(job: Job, form: str) -> dict[str, Any]:
    sheet = job.sheet
    why = [reason.removeprefix(f"{sheet.procedure}: ") for reason in job.due.reasons] if job.due else ["asked for"]
    return {
        "procedure": sheet.procedure,
        "revision": str(sheet.revision),
        "minutes": "" if sheet.minutes is None else str(sheet.minutes),
        "why": why,
        "due": show_day(job.due.due.isoformat(), form) if job.due else "",
        "steps": [step_of(line) for line in (sheet.steps or "").splitlines() if line.strip()],
    }


def step_of(line: str) -> dict[str, Any]:
    """Return a line of a procedure: a caution, which stands before its step, or a step with its number apart."""
    text = line.strip()
    if text.casefold().startswith(_CAUTION):
        return {"caution": True, "number": "", "text": text[len(_CAUTION) :].strip()}
    number, dot, rest = text.partition(". ")
    if dot and number.isdecimal():
        return {"caution": False, "number": f"{number}.", "text": rest.strip()}
    return {"caution": False, "number": "", "text": text}


def _supply(each: SupplyAsked) -> dict[str, str]:
    short = each.held < each.steps
    held = f"{each.lot}, holds {each.supply.show(each.held)}" if each.lot else "none in the drawer"
    return {
        "name": each.supply.name,
        "amount": each.supply.show(each.steps),
        "sometimes": "now and then" if each.sometimes else "",
        "lot": held,
        "short": "not enough in that lot" if short and each.lot else "",
        "measured_in": each.supply.measured_in,
    }


def _part(each: PartAsked, form: str) -> dict[str, str]:
    since = f" since {show_day(each.since, form)}" if each.since else ""
    return {
        "part": each.part,
        "supply": each.supply or "none in the drawer",
        "fitted": f"{each.fitted}{since}" if each.fitted or since else "not known",
    }
