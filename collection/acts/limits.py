"""Adding, changing and dropping limits: of a unit, of a model, or of a class."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy.engine import Connection, Engine

from collection.acts.edit import Edited, Given, change_row, make_row, needs_reason
from collection.acts.edit_fields import FIELDS
from collection.acts.work import Work, open_work
from collection.errors import Refused, fold, typed
from collection.views.limit_list import LimitRow, limit_list
from collection.views.measuring import Measurement, find_measurement
from collection.views.models import find_model
from collection.views.units import find_unit


@dataclass(frozen=True, slots=True)
class Whose:
    """Which limit is meant: its measurement and point, and one of unit, model and class; "" for what is not told.

    from_date: since when it counts, where there are several.
    """

    measurement: str
    point: str = ""
    unit: str = ""
    model: str = ""
    class_name: str = ""
    from_date: str | None = None


def add_limit(engine: Engine, whose: Whose, given: Given, *, today: date, now: datetime) -> LimitRow:
    """Add a limit; given: nominal, lower, upper, source, from_date, in the unit of the measurement.

    Raises Refused for unknown names, no number, a lower bound above the upper one, a graded measurement, and a limit
    for the same that counts from the same day.
    """
    with open_work(engine, "limit add", today=today, now=now) as work:
        scope, measurement = _scope(work.conn, whose)
        _refuse_graded(measurement)
        _refuse_order(work, given, None, None)
        told = {"point": whose.point, **given}
        row_id = make_row(work, "limit_range", told, "A limit", measurement_id=measurement.id, **_point(whose), **scope)
        made = _checked(work, row_id)
        work.commit(f"{made.whose}: limit of {made.series} {made.shown}")
    return made


def edit_limit(
    engine: Engine, whose: Whose, given: Given, *, reason: str = "", today: date, now: datetime
) -> tuple[LimitRow, Edited]:
    """Change a limit; what readings were judged by changes with it, so it needs a reason.

    Raises Refused as `add_limit` does, and where none or several limits are meant.
    """
    with open_work(engine, "limit edit", today=today, now=now, reason=reason or None) as work:
        row = _one(work.conn, whose)
        if not reason.strip():
            raise needs_reason(f"{row.whose}: readings are judged by the limit of {row.series}")
        _refuse_order(work, given, row.lower, row.upper)
        edited = change_row(work, "limit_range", row.id, given, f"{row.whose}, {row.series}")
        made = _checked(work, row.id)
        if edited.changes:
            work.commit(f"{made.whose}: changed the limit of {made.series} ({', '.join(edited.names)})")
    return made, edited


def drop_limit(engine: Engine, whose: Whose, *, reason: str, today: date, now: datetime) -> LimitRow:
    """Take a limit out of the book. Raises Refused without a reason, and where none or several are meant."""
    with open_work(engine, "limit drop", today=today, now=now, reason=reason or None) as work:
        row = _one(work.conn, whose)
        if not reason.strip():
            raise needs_reason(f"{row.whose}: readings are judged by the limit of {row.series}")
        work.set_void("limit_range", [row.id], void=True)
        work.commit(f"{row.whose}: dropped the limit of {row.series}, {row.shown}")
    return row


def _scope(conn: Connection, whose: Whose) -> tuple[dict[str, Any], Measurement]:
    """Return the column that says whose the limit is, and its measurement."""
    told = [text for text in (whose.unit, whose.model, whose.class_name) if text]
    if len(told) != 1:
        raise Refused(
            f"A limit is of one unit, model or class, and {'several are' if told else 'none is'} named.",
            "Add one of --unit TAG, --model NAME, --class NAME.",
        )
    measurement = find_measurement(conn, whose.measurement)
    if whose.unit:
        return {"unit_id": find_unit(conn, whose.unit).id}, measurement
    if whose.model:
        return {"model_id": find_model(conn, whose.model).id}, measurement
    return {"class_name": " ".join(whose.class_name.split())}, measurement


def _point(whose: Whose) -> dict[str, str]:
    return {} if whose.point.strip() else {"point": ""}


def _meant(conn: Connection, whose: Whose) -> list[LimitRow]:
    """Return the limits of the same thing and series, of whatever day."""
    _, measurement = _scope(conn, whose)
    return limit_list(
        conn,
        unit=whose.unit,
        model=whose.model,
        class_name=whose.class_name,
        measurement=measurement.name,
        point=whose.point,
    )


def _one(conn: Connection, whose: Whose) -> LimitRow:
    rows = _meant(conn, whose)
    found = [row for row in rows if whose.from_date in (None, row.from_date)]
    if len(found) == 1:
        return found[0]
    days = ", ".join(row.from_date or "the beginning" for row in rows)
    series = f"{whose.measurement}[{whose.point}]" if whose.point else whose.measurement
    name = whose.unit or whose.model or whose.class_name
    if not found:
        raise Refused(
            f"{name} has no limit of {series}" + (f" from then: there are some from {days}." if rows else "."),
            f"See: spindlebook limit list --measurement {typed(whose.measurement)}",
        )
    raise Refused(f"{name} has {len(found)} limits of {series}, from {days}.", 'Say which: --of DATE, or --of "".')


def _refuse_graded(measurement: Measurement) -> None:
    if measurement.graded:
        raise Refused(f'"{measurement.name}" is graded pass, marginal or fail.', "It takes no limit in numbers.")


def _refuse_order(work: Work, given: Given, lower: float | None, upper: float | None) -> None:
    """Refuse bounds in the wrong order before the database would; lower, upper: what stands now."""
    bounds = {"lower": lower, "upper": upper}
    for name in bounds.keys() & given.keys():
        bounds[name] = _number(work, name, given[name])
    least, most = bounds["lower"], bounds["upper"]
    if least is not None and most is not None and least > most:
        raise Refused(f"Lower {least:g} is above upper {most:g}.", "Type --lower and --upper in their order.")


def _number(work: Work, name: str, text: str) -> float | None:
    """Return a bound, None for none and for what is refused where it is written."""
    try:
        return float(FIELDS["limit_range"][name].read(work, text)[name]) if text.strip() else None
    except Refused:
        return None


def _checked(work: Work, row_id: int) -> LimitRow:
    """Return the row as written. Raises Refused where it says nothing, or counts from the same day as another."""
    listed = limit_list(work.conn)
    row = next(each for each in listed if each.id == row_id)
    if any(each.id != row_id and _same(each) == _same(row) for each in listed):
        raise Refused(
            f"{row.whose} has a limit of {row.series} from {row.from_date or 'the beginning'} already.",
            "Change it with limit edit, or name another day with --from DATE.",
        )
    if row.nominal is None and row.lower is None and row.upper is None:
        raise Refused(f"A limit of {row.series} needs a number.", "Add --lower, --upper or --nominal.")
    return row


def _same(row: LimitRow) -> tuple[object, ...]:
    """Return what no two limits share: whose they are, of which series, and since when."""
    return row.unit_id, row.model_id, fold(row.class_name), row.measurement, fold(row.point), row.from_date
