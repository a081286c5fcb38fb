"""What a service is shown as: the cautions before the work, then what it changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from collection.analysis.lubricants import CLEANED
from collection.cli.due import day_columns, item_rows, one_a_line
from collection.cli.show import Column, emit, say, say_pairs
from collection.errors import typed
from collection.quantity import show_day
from collection.views.adjustments import Adjustment
from collection.views.findings import show_range
from collection.views.lubricants import OnPoint
from collection.views.procedures import Caution, caution_texts
from collection.views.service_readings import BeforeAfter, Result
from collection.views.service_report import Part, ServiceReport, Used


def show_cautions(cautions: Sequence[Caution]) -> None:
    """Print what stands before the work."""
    if cautions:
        say("Before the work", bold=True)
        say_pairs([("!", text) for text in caution_texts(cautions)])
        say("")


def show_report(report: ServiceReport, form: str, today: date) -> None:
    """Print what a service changed."""

    def day(text: str) -> str:
        return show_day(text, form) if text else ""

    say(_title(report, day), bold=True)
    say_pairs(_words(report, day))
    _section("before and after", [_reading(row) for row in report.readings], _READINGS)
    _section("used and left", [_used(row) for row in report.used], _USED)
    _section("fitted", [_part(row) for row in report.parts], _PARTS)
    _section("turned", [_turned(row) for row in report.turned], _TURNED)
    _section("lubricated", [lubed_row(row) for row in report.lubed], _LUBED)
    due = list(one_a_line(item_rows(report.due, today)))
    if report.unit.standing == "awaiting parts":
        say("", f'Wanted parts go on the shopping list: spindlebook wanted add {typed(report.unit.tag)} "PART"')
    _section("due next", due, [Column("procedure"), *day_columns(form), Column("why")])


def report_object(report: ServiceReport, today: date) -> dict[str, Any]:
    """Return the same as one JSON object; what is empty is null or an empty list."""
    return {
        "tag": report.unit.tag,
        "service": report.service,
        "opened_on": report.opened_on,
        "closed_on": report.closed_on or None,
        "reason": report.reason or None,
        "procedures": report.procedures,
        "outcome": report.outcome or None,
        "standing": report.unit.standing or None,
        "minutes": report.minutes,
        "by": report.by or None,
        "findings": report.findings or None,
        "readings": [_reading_object(row) for row in report.readings],
        "uses": [_used_object(row) for row in report.used],
        "parts": [{key: value or None for key, value in part._asdict().items()} for part in report.parts],
        "turned": [turned_object(row) for row in report.turned],
        "lubed": [lubed_object(row) for row in report.lubed],
        "due": item_rows(report.due, today),
    }


def _section(title: str, rows: Sequence[dict[str, Any]], columns: Sequence[Column]) -> None:
    if rows:
        say("")
        say(title.capitalize(), bold=True)
        emit(rows, columns)


def _title(report: ServiceReport, day: Callable[[str], str]) -> str:
    days = day(report.opened_on)
    if not report.closed_on:
        return f"{report.unit.tag}: service open since {days}"
    if report.closed_on != report.opened_on:
        days += f" to {day(report.closed_on)}"
    return f"{report.unit.tag}: service of {days}"


def _words(report: ServiceReport, day: Callable[[str], str]) -> list[tuple[str, str]]:
    unit = report.unit
    return [
        ("done", ", ".join(report.procedures)),
        ("reason", report.reason),
        ("findings", report.findings),
        ("minutes", "" if report.minutes is None else str(report.minutes)),
        ("by", report.by),
        ("standing", f"{unit.standing} since {day(unit.standing_from)}" if unit.standing else ""),
    ]


def _reading(row: BeforeAfter) -> dict[str, Any]:
    result = row.left or row.found
    return {
        "measurement": row.measurement,
        "point": row.point,
        "as_found": _result(row.found),
        "as_left": _result(row.left),
        "limit": show_range(row.limit),
        "instrument": result.instrument if result else "",
    }


def _result(result: Result | None) -> str:
    """Write a result with what is wrong about it: "306.1 r/min, high"."""
    if result is None:
        return ""
    said = result.says in ("low", "high") or (result.says == "fail" and result.grade == "marginal")
    return f"{result.shown}, {result.says}" if said else result.shown


def _used(row: Used) -> dict[str, Any]:
    return {
        "supply": row.supply.name,
        "lot": row.lot,
        "used": f"{row.supply.show(row.steps)} short" if row.short else row.supply.show(row.steps),
        "basis": f"{row.basis}, past its date" if row.past_date else row.basis,
        "left_in_lot": row.supply.show(row.left_in_lot) if row.lot else "",
        "left": row.supply.show(row.left),
    }


def _part(row: Part) -> dict[str, Any]:
    lot = row.lot and f"lot {row.lot}"
    donor = row.donor and f"unit {row.donor}"
    unit = row.unit and f"unit {row.unit}"
    return {"part": row.part, "from": ", ".join(filter(None, (row.supply, lot, donor, unit)))}


def _turned(row: Adjustment) -> dict[str, Any]:
    return {"screw": row.screw, "turned": f"{row.entered} {row.direction}", "for": row.measurement, "note": row.note}


def lubed_row(row: OnPoint) -> dict[str, Any]:
    """Return a lubricant on a point as a person reads it."""
    return {"point": row.point, "lubricant": row.put.supply, "old": CLEANED if row.cleaned_first else ""}


def lubed_object(row: OnPoint) -> dict[str, Any]:
    """Return a lubricant on a point as a program reads it."""
    return {
        "point": row.point,
        "supply": row.put.supply,
        "cleaned_first": row.cleaned_first,
        "put_on": row.since,
    }


def turned_object(row: Adjustment) -> dict[str, Any]:
    """Return a turn of a screw as a program reads it; the amount as it was typed."""
    return {
        "screw": row.screw,
        "direction": row.direction,
        "amount": row.entered,
        "measurement": row.measurement or None,
        "done_on": row.done_on,
    }


def _reading_object(row: BeforeAfter) -> dict[str, Any]:
    made: dict[str, Any] = {"measurement": row.measurement, "point": row.point or None}
    for stage, result in (("as_found", row.found), ("as_left", row.left)):
        value = None if result is None else result.grade or result.value
        made |= {stage: value, f"{stage}_says": result and result.says}
        made |= {f"{stage}_instrument": result and result.instrument}
    measured_in = (row.left or row.found) and (row.left or row.found).measured_in  # type: ignore[union-attr]
    limit = row.limit
    return made | {
        "measured_in": measured_in,
        "lower": limit and limit.lower,
        "upper": limit and limit.upper,
        "limit_source": limit and limit.source,
    }


def _used_object(row: Used) -> dict[str, Any]:
    step = row.supply.step
    return {
        "supply": row.supply.name,
        "lot": row.lot or None,
        "what": "short" if row.short else "use",
        "quantity": row.steps * step,
        "measured_in": row.supply.measured_in,
        "basis": row.basis or None,
        "past_date": row.past_date,
        "left_in_lot": row.left_in_lot * step if row.lot else None,
        "left": row.left * step,
    }


_READINGS = (
    Column("measurement"),
    Column("point"),
    Column("as_found"),
    Column("as_left"),
    Column("limit"),
    Column("instrument"),
)
_USED = (
    Column("supply"),
    Column("lot"),
    Column("used"),
    Column("basis", "by"),
    Column("left_in_lot", "left in lot"),
    Column("left", "left in drawer"),
)
_PARTS = (Column("part"), Column("from"))
_LUBED = (Column("point"), Column("lubricant"), Column("old", "old one"))
_TURNED = (Column("screw"), Column("turned"), Column("for"), Column("note"))
