"""Readings and what resets them as columns of numbers: one statement a table, and no object for each reading.

Days come as whole numbers (20240305, 202403, 2024) and are counted in half days, so that the middle of a partial day
is a whole number too.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa
from sqlalchemy.engine import Connection

from collection.analysis.procedures import parse_procedure
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.mechanisms import listed

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

FOUND, BETWEEN, LEFT = 0, 1, 2
STAGES = ("as found", "between", "as left")
BELT = 0  # in the place of a procedure: a belt that was fitted with none that says so
HALF_DAYS_A_YEAR = 730.5

_DAY = "CAST(replace({}, '-', '') AS INTEGER)"
_READINGS_SQL = f"""
SELECT r.id, r.series_id, {_DAY.format("r.taken_on")}, r.value, r.instrument_id,
       CASE r.stage WHEN 'as found' THEN 0 WHEN 'as left' THEN 2 ELSE 1 END, coalesce(r.service_id, 0),
       coalesce(r.warm_up_minutes, -1), r.act_id
FROM reading r WHERE r.value IS NOT NULL AND {counts("r")}
  AND (r.service_id IS NULL OR r.service_id NOT IN (SELECT id FROM service WHERE void = 1)){{only}}
"""
_ONLY = " AND r.series_id IN (SELECT id FROM series{where})"
_ASIDE_SQL = f"SELECT a.reading_id FROM reading_aside a WHERE {counts('a')}"
_TASKS_SQL = f"""
SELECT s.unit_id, t.service_id, {_DAY.format("t.done_on")}, t.procedure_id, t.act_id
FROM task t JOIN service s ON s.id = t.service_id
WHERE s.void = 0 AND {counts("t")} AND t.procedure_id IN ({{procedures}}){{only}}
"""
_BELTS_SQL = f"""
SELECT f.unit_id, coalesce(f.service_id, 0), {_DAY.format("f.fitted_on")}, f.act_id
FROM fitted_part f WHERE length(f.part) = 4 AND lower(f.part) = 'belt' AND f.void = 0{{only}}
"""


class Taken(NamedTuple):
    """Readings with a number that count, those set aside included; one element each, in the order of entry.

    day: as a whole number; half: its middle in half days since 1970. stage: FOUND, BETWEEN or LEFT. service: 0
    outside any. warm_up: minutes, below 0 where not known. aside: it was set aside.
    """

    id: Ints
    series: Ints
    day: Ints
    value: Floats
    instrument: Ints
    stage: Ints
    service: Ints
    warm_up: Floats
    act: Ints
    half: Ints
    aside: Bools

    def some(self, at: Ints) -> Taken:
        """Return the readings at these places."""
        return Taken(*(column[at] for column in self))  # type: ignore[arg-type]  # a column keeps its kind


class Resets(NamedTuple):
    """What began the level of a measurement anew, one element each; slope: its drift as well. See Taken."""

    unit: Ints
    service: Ints
    day: Ints
    half: Ints
    procedure: Ints
    act: Ints
    slope: Bools


class Done(NamedTuple):
    """The work of the whole book that resets anything: tasks, fitted belts, and what each procedure resets.

    resets: per folded name of a measurement the procedures that reset it, with whether they reset its slope.
    """

    tasks: Ints
    belts: Ints
    resets: dict[str, dict[int, bool]]
    names: dict[int, str]


def columns(conn: Connection, sql: str, count: int) -> Floats:
    """Return the rows of a statement whose `count` columns are all numbers, as an array (rows, count)."""
    result = conn.execute(sa.text(sql))
    cursor: Iterable[tuple[Any, ...]] = result.cursor  # type: ignore[assignment]  # both drivers' cursors yield rows
    flat = np.fromiter(chain.from_iterable(cursor), dtype=np.float64)
    result.close()
    return flat.reshape(-1, count)


def taken(conn: Connection, where: str = "") -> Taken:
    """Return the readings of the whole book, or of the series that an SQL condition names (" WHERE ...")."""
    only = _ONLY.format(where=where) if where else ""
    rows = columns(conn, _READINGS_SQL.format(only=only), 9)
    if (np.diff(rows[:, 0]) < 0).any():
        rows = rows[np.argsort(rows[:, 0], kind="stable")]
    id_, series, day, value, instrument, stage, service, warm_up, act = rows.T.copy()
    aside = columns(conn, _ASIDE_SQL, 1)[:, 0].astype(np.int64)
    half = half_days(day.astype(np.int64))
    return Taken(
        id=id_.astype(np.int64),
        series=series.astype(np.int64),
        day=day.astype(np.int64),
        value=value,
        instrument=instrument.astype(np.int64),
        stage=stage.astype(np.int64),
        service=service.astype(np.int64),
        warm_up=warm_up,
        act=act.astype(np.int64),
        half=half,
        aside=np.isin(id_.astype(np.int64), aside),
    )


def work_done(conn: Connection, of_units: Iterable[int] | None = None) -> Done:
    """Return the work that resets anything, of all units or of some.

    A procedure counts as it reads at present, in whatever revision done.
    """
    resets: dict[str, dict[int, bool]] = {}
    names = {BELT: "belt fitted"}
    for id_, name, text in fetch(conn, "SELECT id, name, resets FROM procedure WHERE resets IS NOT NULL ORDER BY id"):
        names[id_] = name
        for reset in parse_procedure(id_, name, resets=text).resets:
            of = resets.setdefault(reset.measurement, {})
            of[id_] = of.get(id_, False) or reset.slope
    procedures = {id_ for of in resets.values() for id_ in of}
    of_tasks, of_belts = ("", "") if of_units is None else (f" AND {t}.unit_id IN ({listed(of_units)})" for t in "sf")
    tasks = columns(conn, _TASKS_SQL.format(procedures=listed(procedures), only=of_tasks), 5).astype(np.int64)
    belts = columns(conn, _BELTS_SQL.format(only=of_belts), 4).astype(np.int64)
    return Done(tasks, belts, resets, names)


def resets_of(done: Done, measurement: str, *, belts: bool) -> Resets:
    """Return what reset a measurement (folded name); belts: a fitted belt begins a new slope, said or not."""
    of = done.resets.get(measurement, {})
    unit, service, day, procedure, act = done.tasks[np.isin(done.tasks[:, 3], list(of))].T
    slope = np.isin(procedure, [id_ for id_, whole in of.items() if whole])
    if belts and len(done.belts):
        said = {(u, s) for u, s in zip(unit[slope].tolist(), service[slope].tolist(), strict=True)}
        on_day = {(u, d) for u, d in zip(unit[slope].tolist(), day[slope].tolist(), strict=True)}
        rows = [row for row in done.belts.tolist() if (row[0], row[1]) not in said and (row[0], row[2]) not in on_day]
        more = np.array(rows, dtype=np.int64).reshape(-1, 4)
        unit, service, day = (np.concatenate(pair) for pair in zip((unit, service, day), more.T[:3], strict=True))
        procedure = np.concatenate((procedure, np.full(len(more), BELT)))
        act = np.concatenate((act, more[:, 3]))
        slope = np.concatenate((slope, np.ones(len(more), dtype=bool)))
    return Resets(unit, service, day, half_days(day), procedure, act, slope)


def half_days(day: Ints) -> Ints:
    """Return the middles of (partial) days given as whole numbers, in half days since 1970-01-01."""
    year = np.where(day > 999999, day // 10000, np.where(day > 9999, day // 100, day))
    month = np.where(day > 999999, day // 100 % 100, np.where(day > 9999, day % 100, 1))
    of_month = np.where(day > 999999, day % 100, 1)
    from_month = (year - 1970) * 12 + month - 1
    first = _first_of(from_month)
    length = np.where(day > 999999, 1, _first_of(from_month + np.where(day > 9999, 1, 12)) - first)
    return 2 * (first + of_month - 1) + length - 1


def _first_of(month: Ints) -> Ints:
    """Return the first days of months counted from January 1970, in days since then."""
    return month.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)


def day_text(day: int) -> str:
    """Return a (partial) day given as a whole number as the ISO text it was."""
    text = f"{day:04d}"
    return "-".join(part for part in (text[:4], text[4:6], text[6:8]) if part)


def number_of_day(text: str) -> int:
    """Return the whole number that stands for a (partial) ISO day."""
    return int(text.replace("-", ""))
