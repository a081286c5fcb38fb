"""What a reading is of and read with, found by the names a person types."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.measures import GRADED, parse_speeds, show_speed
from collection.errors import Refused, fold, nearest
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.units import Unit


class Measurement(NamedTuple):
    """A measurement: the unit it is kept in ("graded" for pass, marginal, fail) and its usual points."""

    id: int
    name: str
    measured_in: str
    points: tuple[str, ...]

    @property
    def graded(self) -> bool:
        """Say whether its readings are grades."""
        return self.measured_in == GRADED


class Instrument(NamedTuple):
    """An instrument by name."""

    id: int
    name: str


_MEASUREMENTS_SQL = "SELECT id, name, measured_in, points FROM measurement WHERE void = 0"


def measurement_list(conn: Connection) -> list[Measurement]:
    """Return every measurement, in the order in which they were written."""
    rows = fetch(conn, f"{_MEASUREMENTS_SQL} ORDER BY id")
    return [Measurement(row[0], row[1], row[2], tuple(_listed(row[3]))) for row in rows]


def measurement_rows(conn: Connection) -> list[dict[str, Any]]:
    """Return all that is told of every measurement, by column of the folder, in the order of writing."""
    sql = "SELECT name, measured_in, ratio, points, source, note FROM measurement WHERE void = 0 ORDER BY id"
    keys = ("measurement", "measured_in", "ratio", "points", "source", "note")
    rows = [dict(zip(keys, row, strict=True)) for row in fetch(conn, sql)]
    return [row | {"ratio": None if row["ratio"] is None else bool(row["ratio"])} for row in rows]


def find_measurement(conn: Connection, name: str) -> Measurement:
    """Return the measurement of this name. Raises Refused, naming the nearest three or else all."""
    known = measurement_list(conn)
    for each in known:
        if fold(each.name) == fold(name):
            return each
    names = [each.name for each in known]
    near = nearest(name, names)
    hint = f"Nearest: {', '.join(near)}." if near else f"Type one of: {', '.join(names)}."
    raise Refused(f'There is no measurement "{name}".', hint)


def spell_point(conn: Connection, unit: Unit, measurement: Measurement, point: str) -> tuple[str, str | None]:
    """Return a point as the book spells it, and what makes it doubtful, if anything.

    Blanks and case do not matter: "+5v" is "+5 V", and "360" is a speed setting of the unit. The first setting is
    no point where the unit was read without one so far. Raises Refused where a measurement has usual points and
    none is named.
    """
    own = _points_read(conn, unit.id, measurement.id)
    settings = _settings(unit, measurement)
    usual = [*measurement.points, *own, *settings]
    if not point:
        if measurement.points and "" not in own:
            raise Refused(
                f'"{measurement.name}" is read at a point, and none is named.',
                f'Type it as "{measurement.name}[{measurement.points[0]}]" (or {", ".join(measurement.points[1:])}).',
            )
        return "", None
    for known in usual:
        if _tight(known) in (_tight(point), f"{_tight(point)}r/min"):
            first = known in settings[:1] and known not in own and "" in own
            return "" if first else known, None
    if measurement.points:
        return point, f"not a usual point of {measurement.name} ({', '.join(measurement.points)})"
    return point, None


def find_instrument(conn: Connection, name: str) -> Instrument | None:
    """Return the instrument of this name, or None."""
    sql = "SELECT id, name FROM instrument WHERE void = 0 AND name_folded = :name"
    rows = fetch(conn, sql, name=fold(name))
    return Instrument(*rows[0]) if rows else None


def instruments_for(conn: Connection, measurement: Measurement) -> list[Instrument]:
    """Return the instruments that the book says are used for a measurement, by name."""
    sql = (
        "SELECT DISTINCT i.id, i.name FROM instrument i JOIN instrument_use u ON u.instrument_id = i.id"
        " WHERE i.void = 0 AND u.void = 0 AND u.measurement_id = :measurement ORDER BY i.name"
    )
    return [Instrument(*row) for row in fetch(conn, sql, measurement=measurement.id)]


def unknown_instrument(conn: Connection, name: str) -> Refused:
    """Return the refusal of an instrument that the book does not have."""
    known = [row[0] for row in fetch(conn, "SELECT name FROM instrument WHERE void = 0 ORDER BY name")]
    near = nearest(name, known)
    hint = f"Nearest: {', '.join(near)}. " if near else ""
    return Refused(f'There is no instrument "{name}".', f"{hint}If it is new, add --new-instrument.")


def nominal_of(unit: Unit, measurement: Measurement) -> tuple[float, ...]:
    """Return the nominal speeds in r/min of a unit's model, for a measurement of speed; else nothing."""
    return parse_speeds(unit.nominal_speeds) if measurement.measured_in == "r/min" else ()


def _settings(unit: Unit, measurement: Measurement) -> list[str]:
    return [f"{show_speed(speed)} r/min" for speed in nominal_of(unit, measurement)]


def _points_read(conn: Connection, unit_id: int, measurement_id: int) -> list[str]:
    sql = (
        "SELECT s.point FROM series s WHERE s.unit_id = :unit AND s.measurement_id = :measurement"
        f" AND EXISTS (SELECT 1 FROM reading r WHERE r.series_id = s.id AND {counts('r')}) ORDER BY s.id"
    )
    return [row[0] for row in fetch(conn, sql, unit=unit_id, measurement=measurement_id)]


def _listed(points: str | None) -> Iterable[str]:
    return (part.strip() for part in (points or "").split(";") if part.strip())


def _tight(text: str) -> str:
    return fold(text).replace(" ", "")
