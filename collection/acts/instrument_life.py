"""What happens to an instrument: it comes, is put to a measurement, changes, is checked, repaired, retired."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Any

from sqlalchemy.engine import Engine

from collection.acts.days import past_day
from collection.acts.inspections import (
    checked,
    months_given,
    refuse_few_compared,
    refuse_retired,
    retire,
)
from collection.acts.media import Changed
from collection.acts.texts import refuse_texts
from collection.acts.work import Work, open_work
from collection.analysis.checks import compared, first_day_compared
from collection.errors import Refused, fold, typed
from collection.quantity import parse_day, parse_number
from collection.views.handover import instrument_readings, was_read_with
from collection.views.instrument_list import InstrumentRow, Use, find_instrument_row, instrument_rows
from collection.views.measuring import find_measurement
from collection.views.units import find_unit

_TEXTS = {"kind": "kind", "host": "host", "version": "made_version", "note": "note"}


@dataclass(frozen=True, slots=True)
class GivenUse:
    """What an instrument is put to: measurements, those of them it is the reference for, how finely it reads.

    from_date: since when; "" for today. resolution, uncertainty: in the measurement's unit, "" where not known.
    """

    measurements: tuple[str, ...] = ()
    reference_for: tuple[str, ...] = ()
    from_date: str = ""
    resolution: str = ""
    uncertainty: str = ""


def add_instrument(
    engine: Engine, name: str, given: Mapping[str, str], use: GivenUse, *, today: date, now: datetime
) -> InstrumentRow:
    """Add an instrument. given: kind, host, version, unit, check_every, note; "" for what was not said.

    Raises Refused for a name that is taken, no measurement at all, and what does not fit.
    """
    bare = " ".join(name.split())
    refuse_texts(name=bare)
    with open_work(engine, "instrument add", today=today, now=now) as work:
        if not bare:
            raise Refused("An instrument has a name, and none is given.", 'Type it as "bench counter 2".')
        _refuse_taken(work, bare)
        if not (use.measurements or use.reference_for):
            raise Refused(f'What "{bare}" measures is not said.', 'Add --for "spindle speed".')
        row_id = work.insert("instrument", name=bare, name_folded=fold(bare), **_columns(work, given))
        _put_to(work, row_id, (), use)
        made = find_instrument_row(work.conn, bare, today)
        work.commit(f'added the instrument "{bare}"')
    return made


def edit_instrument(
    engine: Engine,
    name: str,
    given: Mapping[str, str],
    use: GivenUse,
    *,
    reason: str = "",
    today: date,
    now: datetime,
) -> Changed:
    """Change what is written of an instrument: the keys that are told, besides those of `add_instrument` its name.

    A measurement it was not used for is added; one that it is used for becomes a reference, or gets the figures told.
    """
    with open_work(engine, "instrument edit", today=today, now=now, reason=reason or None) as work:
        row = find_instrument_row(work.conn, name, today)
        columns = _columns(work, given)
        if given.get("name") and " ".join(given["name"].split()) != row.name:
            bare = " ".join(given["name"].split())
            refuse_texts(name=bare)
            _refuse_taken(work, bare, row.id)
            columns |= {"name": bare, "name_folded": fold(bare)}
        before = {"unit_id": find_unit(work.conn, row.unit).id if row.unit else None, "name_folded": fold(row.name)}
        told = [(column, before.get(column, getattr(row, column, None)) or None, columns[column]) for column in columns]
        changes = [(column, old, new) for column, old, new in told if old != new and column != "name_folded"]
        if changes:
            work.update("instrument", row.id, row.version, **columns)
        changes += _put_to(work, row.id, row.uses, use)
        if changes:
            work.commit(f"{row.name}: changed {', '.join(str(column) for column, _, _ in changes)}")
    return Changed(str(columns.get("name", row.name)), tuple(changes))


def check_instrument(
    engine: Engine,
    name: str,
    result: str,
    *,
    on: str = "",
    by: str = "",
    note: str = "",
    today: date,
    now: datetime,
) -> InstrumentRow:
    """Note a check of an instrument: pass, marginal or fail. Readings with one that failed are marked from then on."""
    with open_work(engine, "instrument check", today=today, now=now) as work:
        find = partial(find_instrument_row, work.conn, name, today)
        return checked(work, "instrument", find, result, on=on, by=by, note=note)


def instrument_repaired(
    engine: Engine, name: str, *, on: str = "", reason: str = "", today: date, now: datetime
) -> InstrumentRow:
    """Begin a new period of an instrument: from that day its readings are those of a repaired one.

    Every measurement it is used for gets a period with the figures of the one before. Raises Refused for a day that is
    not after the beginning of the present period.
    """
    with open_work(engine, "instrument repaired", today=today, now=now, reason=reason or None) as work:
        row = find_instrument_row(work.conn, name, today)
        refuse_retired(row.name, row.retired_on, row.retired_reason)
        day = past_day(on, today, "--on")
        if row.from_date and parse_day(day).first <= parse_day(row.from_date).first:
            raise Refused(
                f'--on {day} is not after the day since which "{row.name}" is used as it is ({row.from_date}).',
                "Type the day of the repair.",
            )
        for use in row.present.values():
            work.insert(
                "instrument_use",
                instrument_id=row.id,
                measurement_id=use.measurement_id,
                reference=int(use.reference),
                from_date=day,
                resolution=use.resolution,
                uncertainty=use.uncertainty,
            )
        made = find_instrument_row(work.conn, name, today)
        work.commit(f"{row.name}: repaired on {day}")
    return made


def retire_instrument(
    engine: Engine, name: str, *, reason: str, on: str = "", anyway: str = "", today: date, now: datetime
) -> InstrumentRow:
    """Retire an instrument: it is refused for readings after that day.

    A reference goes only when, for each measurement that was read with it, three units were read with it and with one
    other reference on one day within twelve months; `anyway` gives the reason to go against that.
    """
    refuse_texts(anyway=anyway)
    with open_work(engine, "instrument retire", today=today, now=now, reason=reason or None) as work:
        row = find_instrument_row(work.conn, name, today)
        refuse_retired(row.name, row.retired_on, row.retired_reason)
        if row.readings and not anyway:
            for use in row.present.values():
                _refuse_few(work, row, use, today)
        day = retire(work, "instrument", row.id, row.version, on=on, reason=reason)
        if anyway:
            says = f"retired without three units read with both: {anyway}"
            work.doubt("instrument", row.id, "retired_on", day, says)
        made = find_instrument_row(work.conn, name, today)
        work.commit(f"{row.name}: retired")
    return made


def _refuse_few(work: Work, row: InstrumentRow, use: Use, today: date) -> None:
    if not use.reference or not was_read_with(work.conn, row.id, use.measurement_id):
        return
    since = first_day_compared(today)
    others = [
        other.name
        for other in instrument_rows(work.conn, today)
        if other.id != row.id and not other.retired_on and _is_reference(other, use.measurement)
    ]
    units = compared(instrument_readings(work.conn, use.measurement_id, since), row.name, others)
    command = f"spindlebook round --of {typed(use.measurement)} --instrument"
    refuse_few_compared("instrument", row.name, use.measurement, units, since, command)


def _is_reference(row: InstrumentRow, measurement: str) -> bool:
    use = row.present.get(measurement)
    return use is not None and use.reference


def _put_to(work: Work, row_id: int, uses: Sequence[Use], given: GivenUse) -> list[tuple[str, Any, Any]]:
    """Write what an instrument is used for; returns what differs, as (what, before, after)."""
    present = {use.measurement: use for use in uses}
    figures = {
        name: float(parse_number(text))
        for name, text in (("resolution", given.resolution), ("uncertainty", given.uncertainty))
        if text
    }
    _refuse_negative(figures)
    named = [find_measurement(work.conn, name) for name in (*given.measurements, *given.reference_for)]
    references = {find_measurement(work.conn, name).name for name in given.reference_for}
    changes: list[tuple[str, Any, Any]] = []
    for measurement in {each.name: each for each in named}.values():
        is_reference = measurement.name in references
        use = present.get(measurement.name)
        if use is None:
            work.insert(
                "instrument_use",
                instrument_id=row_id,
                measurement_id=measurement.id,
                reference=int(is_reference),
                from_date=past_day(given.from_date, work.today, "--from"),
                **figures,
            )
            changes.append((measurement.name, None, "reference" if is_reference else "used"))
        else:
            new: dict[str, Any] = {**figures, **({"reference": 1} if is_reference else {})}
            for key, value in new.items():
                shown = bool(value) if key == "reference" else value
                if getattr(use, key) != shown:
                    changes.append((f"{measurement.name} {key}", getattr(use, key), shown))
            if new:
                work.update("instrument_use", use.id, **new)
    if figures and not named:
        raise Refused("Of which measurement these figures are is not said.", 'Add --for "spindle speed".')
    return changes


def _refuse_negative(figures: Mapping[str, float]) -> None:
    for name, value in figures.items():
        if value < 0:
            raise Refused(f"--{name} {value:g} is below zero.", f"Type it as --{name} 0.1.")


def _columns(work: Work, given: Mapping[str, str]) -> dict[str, Any]:
    """Return the columns of what is told; a key that is not there stays as it is."""
    columns: dict[str, Any] = {}
    for name, column in _TEXTS.items():
        if name in given:
            refuse_texts(**{name: given[name]})
            columns[column] = given[name].strip() or None
    if "unit" in given:
        columns["unit_id"] = find_unit(work.conn, given["unit"]).id if given["unit"] else None
    if "check_every" in given:
        columns["check_every_months"] = months_given(given["check_every"])
    return columns


def _refuse_taken(work: Work, name: str, own: int | None = None) -> None:
    for row in instrument_rows(work.conn, work.today):
        if fold(row.name) == fold(name) and row.id != own:
            raise Refused(f'There is an instrument "{row.name}" already.', "Give this one another name.")
