"""Drift of the fleet, worst first, and of one unit in full."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date

import numpy as np
import numpy.typing as npt
from sqlalchemy.engine import Connection

from collection.analysis.months import add_months
from collection.analysis.procedures import ProcedureRule
from collection.analysis.recheck import RULES, USUAL_RISK, check_risk
from collection.analysis.schedule import LEFT_OUT, tag_order
from collection.errors import Refused, fold
from collection.store.engine import fetch
from collection.views.drift_assemble import Assembler
from collection.views.drift_fit import Fitted, fit, fitted
from collection.views.drift_forecast import forecast_of
from collection.views.drift_readings import gather
from collection.views.drift_rows import DriftRow, SeriesDrift
from collection.views.measuring import find_measurement
from collection.views.mechanisms import mechanisms
from collection.views.procedure_rules import procedure_rules
from collection.views.recheck import rechecks_of

_MONTHS_AHEAD = 12
_MEASUREMENTS_SQL = "SELECT DISTINCT s.measurement_id FROM series s WHERE s.unit_id IN ({units})"


def fleet_drift(
    conn: Connection,
    today: date,
    by: date | None = None,
    measurement: str | None = None,
    risk: float = USUAL_RISK,
) -> list[DriftRow]:
    """Return every series of the fleet, or those of one measurement, the worst first.

    by: the day for which the range of the true value is asked; twelve months from today unless given. risk: the
    accepted chance of being outside limits, by which rechecks are set. Worst is the greatest chance to be outside in
    twelve months, then the earliest recheck, then the tag; what is missing, gone or a donor stands last. Raises
    Refused for an unknown or graded measurement and for a risk that cannot be kept.
    """
    check_risk(risk)
    only = None if measurement is None else [with_unit(conn, measurement)]
    rules = procedure_rules(conn)
    rows = [row for one in fitted(conn, today, only) for row in rows_of(one, rules, today, by, risk)]
    return sorted(rows, key=worst_first)


def unit_drift(
    conn: Connection,
    unit_id: int,
    today: date,
    by: date | None = None,
    risk: float = USUAL_RISK,
    measurement: str | None = None,
) -> list[SeriesDrift]:
    """Return every series of what is in a unit now in full, or those of one measurement, by measurement and point.

    The whole fleet is fitted. Raises Refused as `fleet_drift` does.
    """
    from collection.views.drift_unit import crossing_of, path_of, ranks_of, readings_of, segments_of

    check_risk(risk)
    wanted = None if measurement is None else with_unit(conn, measurement)
    sat_in = {span.unit_id for span in mechanisms(conn).history_of(unit_id)} | {unit_id}
    units = ", ".join(map(str, sorted(sat_in)))
    only = [row[0] for row in fetch(conn, _MEASUREMENTS_SQL.format(units=units)) if wanted in (None, row[0])]
    rules = procedure_rules(conn)
    found = []
    for gathered in gather(conn, today, only):
        home = next(place for place, unit in enumerate(gathered.units) if unit.id == unit_id)
        histories = np.flatnonzero(gathered.sets.unit == home).tolist()
        if histories:
            one, fit_found = fit(gathered)
            rows = rows_of(one, rules, today, by, risk, histories)
            until = by or _in_a_year(today)
            for row, history in zip(rows, histories, strict=True):
                readings = readings_of(gathered, fit_found, history)
                found.append(
                    SeriesDrift(
                        row,
                        readings,
                        segments_of(gathered, history),
                        path_of(gathered, fit_found, one, history, today, until),
                        crossing_of(one, history, today),
                        ranks_of(readings, row.measured_in),
                    )
                )
    return found


def rows_of(
    one: Fitted,
    rules: Sequence[ProcedureRule],
    today: date,
    by: date | None,
    risk: float,
    histories: Collection[int] | None = None,
) -> list[DriftRow]:
    """Return a row for each history that is in a unit now, or for these.

    No recheck is asked for of a unit that is missing, gone or a donor.
    """
    asked = by or _in_a_year(today)
    told = forecast_of(one, today, asked)
    due = rechecks_of(one, rules, today, risk)
    out = np.array([unit.standing in LEFT_OUT for unit in one.units])[one.sets.unit]
    day = [None if text == "NaT" or left else text for text, left in zip(_texts(due.day), out, strict=True)]
    rule = ["" if place < 0 or left else RULES[place] for place, left in zip(due.rule.tolist(), out, strict=True)]
    assembler = Assembler(one, told)
    chosen = np.flatnonzero(one.sets.unit >= 0).tolist() if histories is None else histories
    return [assembler.row(history, asked.isoformat(), day[history], rule[history]) for history in chosen]


def _texts(days: npt.NDArray[np.datetime64]) -> list[str]:
    texts: list[str] = np.datetime_as_string(days).tolist()
    return texts


def with_unit(conn: Connection, name: str) -> int:
    """Return the measurement of this name; Refused for a graded one."""
    found = find_measurement(conn, name)
    if found.graded:
        raise Refused(
            f'"{found.name}" is graded: judged by its own rule, two marginal in a row are a fail.',
            "Drift needs a unit of measure; see: spindlebook measurement list",
        )
    return found.id


def _in_a_year(today: date) -> date:
    return add_months(today, _MONTHS_AHEAD) if today.year < date.max.year else date.max


def worst_first(row: DriftRow) -> tuple[bool, float, str, tuple[tuple[int, int, str], ...], str, str]:
    """Return what rows are sorted by; the last three name the series."""
    chance = 1.0 if row.chance_12_months is None else -row.chance_12_months
    return (
        row.standing in LEFT_OUT,
        chance,
        row.recheck_by or "~",
        tag_order(row.tag),
        fold(row.measurement),
        fold(row.point),
    )
