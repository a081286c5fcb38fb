"""Last readings held against the limits of their day."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.limits import OUT, Limit, Verdict, crossed, verdict
from collection.analysis.reasons import Finding
from collection.quantity import show_number
from collection.store.engine import fetch
from collection.views.limits import Limits
from collection.views.readings import Last


class Measurement(NamedTuple):
    """A measurement by name and the unit it is kept in ("graded" for pass, marginal, fail)."""

    name: str
    measured_in: str


class Judged(NamedTuple):
    """A last reading with what it is of, the limit of its day (None if there is none), and what it says."""

    last: Last
    measurement: Measurement
    limit: Limit | None
    verdict: Verdict


def measurements(conn: Connection) -> dict[int, Measurement]:
    """Return every measurement by its id."""
    rows = fetch(conn, "SELECT id, name, measured_in FROM measurement WHERE void = 0")
    return {row[0]: Measurement(row[1], row[2]) for row in rows}


def judge(
    readings: Iterable[Last], limits: Limits, known: Mapping[int, Measurement], model_of: Mapping[int, int]
) -> list[Judged]:
    """Return what each last reading says. model_of: of each unit; readings of other units are left out."""
    judged = []
    for last in readings:
        model_id, measurement = model_of.get(last.unit_id), known.get(last.measurement_id)
        if model_id is None or measurement is None:
            continue
        if last.value is None:
            said, limit = verdict(last.grade or "", None, last.previous_grade), None
        else:
            limit = limits.on(last.taken_on, last.unit_id, model_id, last.measurement_id, last.point)
            said = verdict(last.value, limit)
        judged.append(Judged(last, measurement, limit, said))
    return judged


def findings(judged: Iterable[Judged]) -> dict[int, list[Finding]]:
    """Return, by unit, the last readings that are out, as the due list words them, by measurement and point."""
    found: dict[int, list[Finding]] = defaultdict(list)
    for one in judged:
        if one.verdict in OUT:
            last = one.last
            value, limit = show_result(one), show_bound(one)
            since = last.here_since or last.taken_on
            found[last.unit_id].append(Finding(one.measurement.name, last.point, since, value, limit))
    for listed in found.values():
        listed.sort(key=lambda finding: (finding.measurement, finding.point))
    return found


def show_result(one: Judged) -> str:
    """Return a result as a person reads it: "304.9 r/min", "fail", "marginal twice in a row"."""
    return in_words(one.last.value, one.last.grade, one.measurement.measured_in, one.limit, one.verdict)


def in_words(value: float | None, grade: str | None, measured_in: str, limit: Limit | None, says: Verdict) -> str:
    """Return a value with as many digits as tell it from its limit, or a grade."""
    if value is None:
        return "marginal twice in a row" if (grade, says) == ("marginal", "fail") else str(grade)
    return f"{show_value(value, () if limit is None else (limit.lower, limit.upper))} {measured_in}"


def show_bound(one: Judged) -> str:
    """Return the bound that a value lies outside of ("304.5"), or nothing."""
    bound = None if one.limit is None or one.last.value is None else crossed(one.last.value, one.limit)
    return "" if bound is None else show_value(bound)


def show_range(limit: Limit | None) -> str:
    """Return a limit as a person reads it: "295.5 to 304.5", "at most 100", "at least 4.75", or nothing."""
    if limit is None or (limit.lower is None and limit.upper is None):
        return ""
    if limit.lower is None:
        return f"at most {show_value(limit.upper or 0.0)}"
    if limit.upper is None:
        return f"at least {show_value(limit.lower)}"
    return f"{show_value(limit.lower)} to {show_value(limit.upper)}"


def show_value(value: float, beside: Sequence[float | None] = ()) -> str:
    """Return a value with three decimals at most, or as many as tell it from the values it stands beside.

    304.5004 beside a limit of 304.5 stays 304.5004: rounded, it would look as if it were within.
    """
    digits = 3
    while digits < 9 and any(round(value, digits) == other != value for other in beside):
        digits += 1
    return show_number(Decimal(str(round(value, digits))))
