"""Readings: what was read, in which unit, on which series, in which service. Made for a million of them.

Whole columns are worked on at once and every different combination of cells is worked out once; a row of its own
costs a few look-ups.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from collection.acts.bring_in.match import (
    Rule,
    add_fresh,
    conclude_events,
    fields_of,
    match_events,
    pick,
)
from collection.acts.bring_in.nominal import Nominals
from collection.acts.bring_in.parse import sentence
from collection.acts.bring_in.prepare import book_sheet, concerned, joint
from collection.acts.bring_in.services import services
from collection.acts.bring_in.sheet import CHANGED, NEW, REFUSED, SAME, Sheet
from collection.acts.bring_in.state import Mark, State
from collection.analysis.measures import GRADED, plausible, to_measured
from collection.errors import Refused, fold
from collection.quantity import unit_of
from collection.store.engine import fetch

_ADDED = Rule(
    "reading",
    (
        *fields_of("taken_on", "instrument:instrument_id", "stage", "measured_in:entered_in", "disk"),
        *fields_of("supply_unit:supply_unit_id", "warm_up_minutes", "load", "note"),
    ),
)
_COMPARED = Rule(
    "reading",
    (*_ADDED.fields, *fields_of("tag", "measurement", "point", "value")),
    corrected="set it aside and enter it anew",
)
_CONTENT = tuple(each.column for each in _COMPARED.fields)
_SPEED = re.compile(r"([0-9]+(?:\.[0-9]+)?) ?(?:r/min)?", re.ASCII)
_SERIES = ("unit_id", "measurement_id", "point")


def plan_readings(state: State, sheet: Sheet) -> None:
    """Readings as whole rows; a reason for setting one aside may come later."""
    stored = book_sheet(state, "readings.csv", concerned(sheet))
    measured_in = _measured_in(state)
    for each in (sheet, stored):
        _prepare(state, each, measured_in)
    _check(sheet, measured_in)
    match_events(sheet, stored, (*_CONTENT, "set_aside"), ("set_aside",), if_empty=False)
    fresh = conclude_events(state, sheet, stored, _COMPARED)
    in_service = _services(state, sheet, fresh)
    if REFUSED in sheet.kinds:  # nothing will be written; what remains is looked at all the same
        fresh = [row for row in fresh if sheet.kinds[row] == NEW]
        in_service = in_service[: len(fresh)]
    values = _values(state, sheet, fresh, measured_in)
    _doubt_points(state, sheet, fresh)
    _add(state, sheet, fresh, in_service, values)
    _set_aside(state, sheet, stored, fresh)
    _mark_doubts(state, sheet)


def _measured_in(state: State) -> defaultdict[int, str]:
    """Return the unit of every measurement, or "graded", new ones included."""
    rows: list[Any] = fetch(state.conn, "SELECT id, measured_in FROM measurement WHERE void = 0")
    told: dict[int, str] = state.shared.get("measured_in", {})
    return defaultdict(str, dict(rows) | told)  # a refused row of measurements.csv is unknown, and nothing is written


def _prepare(state: State, sheet: Sheet, measured_in: dict[int, str]) -> None:
    """Spell points as the measurement does, and take the measurement's own unit as nothing said."""
    values = sheet.values
    if any(values["point"]):
        spelt = _spelt(_points(state))

        def as_spelt(measurement: int, point: str) -> str:
            speed = _SPEED.fullmatch(point) if measured_in.get(measurement) == "r/min" else None
            return f"{speed[1]} r/min" if speed else spelt.get((measurement, _tight(point)), point)

        values["point"] = joint(sheet, ("measurement", "point"), "point", as_spelt)
    values["point"] = ["" if point is None else point for point in values["point"]]
    if any(values["measured_in"]):
        own = {key: _symbol(unit) for key, unit in measured_in.items()}
        values["measured_in"] = joint(
            sheet, ("measurement", "measured_in"), "measured_in", lambda m, u: None if own.get(m) == u else u
        )


def _points(state: State) -> dict[int, list[str]]:
    """Return the usual points of measurements that list them."""
    listed: list[Any] = fetch(state.conn, "SELECT id, points FROM measurement WHERE points IS NOT NULL AND void = 0")
    points = dict(listed) | state.shared.get("points", {})
    return {
        measurement: [point.strip() for point in several.split(";") if point.strip()]
        for measurement, several in points.items()
    }


def _spelt(points: dict[int, list[str]]) -> dict[tuple[int, str], str]:
    return {(measurement, _tight(point)): point for measurement, listed in points.items() for point in listed}


def _tight(point: str) -> str:
    return fold(point).replace(" ", "")


def _doubt_points(state: State, sheet: Sheet, fresh: list[int]) -> None:
    """Mark points that their measurement does not list."""
    points = _points(state)
    if not points:
        return
    told = {
        (measurement, point): f"not a usual point of it ({', '.join(points[measurement])})"
        for measurement, point in set(zip(sheet.values["measurement"], sheet.values["point"], strict=True))
        if measurement in points and point not in points[measurement]
    }
    measurements, named = sheet.values["measurement"], sheet.values["point"]
    for row in fresh if told else ():
        rule = told.get((measurements[row], named[row]))
        if rule:
            sheet.doubt(row, "point", rule)


def _symbol(unit: str) -> str:
    return unit if unit == GRADED else unit_of(unit).symbol


def _check(sheet: Sheet, measured_in: dict[int, str]) -> None:
    """Refuse numbers of graded measurements, grades of others, and services of readings between them."""
    graded = {key for key, unit in measured_in.items() if unit == GRADED}
    measurements, results = sheet.values["measurement"], sheet.values["value"]
    for measurement, kind in set(zip(measurements, map(type, results), strict=True)):
        if measurement is None or kind is type(None) or (kind is str) == (measurement in graded):
            continue
        rule = "is graded: write pass, marginal or fail" if measurement in graded else "takes a number"
        for row in sheet.open_rows():
            if measurements[row] == measurement and type(results[row]) is kind:
                name = sheet.table.cell("measurement", row)
                sheet.refuse(row, "value", f"{name} {rule}")
    if any(sheet.values["service"]):
        for row, (stage, service) in enumerate(zip(sheet.values["stage"], sheet.values["service"], strict=True)):
            if service is not None and stage == "between":
                told = "readings between services have none: leave it empty, or say as found or as left"
                sheet.refuse(row, "service", told)


def _services(state: State, sheet: Sheet, fresh: list[int]) -> list[int | None]:
    """Return the service of each new reading: the one named, else that of its unit on its day."""
    known = services(state)
    tied = known.ties(sheet, fresh)
    stages, units, days = (sheet.values[name] for name in ("stage", "tag", "taken_on"))
    for place, row in enumerate(fresh):
        if tied[place] is None and stages[row] != "between" and sheet.kinds[row] == NEW:
            tied[place] = known.on_day(units[row], days[row])
            if tied[place] is None:
                sheet.refuse(
                    row,
                    "stage",
                    "the unit has no service on this day; name the service, add it to services.csv, or write between",
                )
    return tied


def _values(state: State, sheet: Sheet, fresh: list[int], measured_in: dict[int, str]) -> list[Any]:
    """Return number or grade of each new reading in the measurement's unit, and mark what is doubtful."""
    nominals = Nominals(state)
    results = pick(sheet.values["value"], fresh)
    keys = list(zip(*(pick(sheet.values[name], fresh) for name in ("tag", "measurement", "point")), strict=True))
    of_series = {key: nominals.of(*key) for key in set(keys)}
    nominal = [of_series[key] for key in keys]
    if any(sheet.values["measured_in"]):
        results = _converted(state, sheet, fresh, results, nominal, measured_in)
    doubtful: dict[Any, str | None] = {}
    units = [measured_in[key[1]] for key in keys]
    triples = list(zip(units, results, nominal, strict=True))
    for key in set(triples):
        unit, value, expected = key
        doubtful[key] = plausible(unit, value, expected) if isinstance(value, float) else None
    if any(doubtful.values()):
        for row, key in zip(fresh, triples, strict=True):
            rule = doubtful[key]
            if rule:
                sheet.doubt(row, "value", rule)
    return results


def _converted(
    state: State,
    sheet: Sheet,
    fresh: list[int],
    results: list[Any],
    nominal: list[float | None],
    measured_in: dict[int, str],
) -> list[Any]:
    """Return the results with those entered in another unit converted."""
    mains = state.settings.mains_hertz
    converted = list(results)
    for place, row in enumerate(fresh):
        unit, own = sheet.values["measured_in"][row], measured_in[sheet.values["measurement"][row]]
        if unit is None or not own or isinstance(results[place], str):
            continue
        exact = Decimal(repr(results[place]))
        try:
            converted[place] = to_measured(exact, unit, own, nominal[place], mains)
        except Refused as refusal:
            sheet.refuse(row, "measured_in", sentence(refusal))
    return converted


def _add(state: State, sheet: Sheet, fresh: list[int], in_service: Sequence[int | None], values: list[Any]) -> None:
    entered = pick(sheet.table.column("value") or [], fresh)
    typed = {text: _as_typed(text) for text in set(entered)}
    add_fresh(
        state,
        sheet,
        fresh,
        _ADDED,
        series_id=_series(state, sheet, fresh),
        service_id=list(in_service),
        value=[value if isinstance(value, float) else None for value in values],
        grade=[None if isinstance(value, float) else value for value in values],
        entered=[typed[text] for text in entered],
    )


def _as_typed(text: str) -> str:
    """Return a result as typed, grades in their own letters and numbers with a point."""
    return text.strip().casefold().replace(",", ".")


def _series(state: State, sheet: Sheet, fresh: list[int]) -> list[int]:
    """Return the series of each new reading; a series that was ever there is taken up again."""
    rows = fetch(state.conn, "SELECT unit_id, measurement_id, point, id FROM series") if fresh else []
    known: dict[tuple[Any, ...], int] = {row[:3]: row[3] for row in rows}
    keys = list(zip(*(pick(sheet.values[name], fresh) for name in ("tag", "measurement", "point")), strict=True))
    new = [key for key in dict.fromkeys(keys) if key not in known]
    known.update(zip(new, state.append("series", _SERIES, new), strict=True))
    return [known[key] for key in keys]


def _set_aside(state: State, sheet: Sheet, stored: Sheet, fresh: list[int]) -> None:
    """Set aside what the file gives a reason for, and the book does not have aside for that reason."""
    reasons = sheet.values["set_aside"]
    if not any(reasons):
        return
    aside = [row for row in fresh if reasons[row] is not None]
    for row, match in enumerate(sheet.match):
        if match is not None and reasons[row] is not None and sheet.kinds[row] == SAME:
            before = stored.values["set_aside"][match]
            if before != reasons[row]:
                sheet.refs[row] = stored.ids[match]
                sheet.changed(row, ["set_aside"], [before or ""])
                aside.append(row)
    state.append("reading_aside", ("reading_id", "reason"), [(sheet.refs[row], reasons[row]) for row in aside])


def _mark_doubts(state: State, sheet: Sheet) -> None:
    """Hand the marks of new readings on to be written."""
    for row, remarks in sheet.remarks.items():
        if sheet.kinds[row] not in (NEW, CHANGED):
            continue
        for remark in remarks:
            if remark.kind == "doubtful" and remark.record is None and sheet.refs[row] is not None:
                mark = Mark("reading", sheet.refs[row], remark.column, remark.value, remark.rule)  # type: ignore[arg-type]
                state.marks.append(mark)
