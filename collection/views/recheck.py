"""When each unit's measurements are to be read again, by the fit of the fleet; for the due list and for drift alike."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import fields, replace
from datetime import date
from math import isnan
from typing import TYPE_CHECKING, Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.reasons import RecheckDue
from collection.analysis.recheck import LIMIT, RULES, because, recheck_all
from collection.analysis.schedule import Plan, plan_of
from collection.store.engine import fetch
from collection.views.findings import show_value
from collection.views.procedure_rules import procedure_rules

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from collection.analysis.drift.found import Paths
    from collection.analysis.drift.given import Bools, Floats, Ints
    from collection.analysis.procedures import ProcedureRule
    from collection.analysis.recheck import Chance, Days
    from collection.views.drift_fit import Fitted
    from collection.views.due import Rechecks

_ANY_NUMBER_SQL = "SELECT id FROM reading WHERE value IS NOT NULL LIMIT 1"
_LIMITED_SQL = "SELECT DISTINCT measurement_id FROM limit_range WHERE void = 0"
_NO_RULE = -1
_CHANCE_DIGITS = 3
_DAYS_A_YEAR = 365.25


class FleetRechecks(NamedTuple):
    """One element for each history of a measurement, in the order of its `Sets`.

    day: NaT where none is asked for. rule: its place in RULES, -1 for none. months: of the procedure that reads it
    again without setting it, 0 for none. level: at the last reading on the scale, NaN where none is known. cleared:
    the last reading is outside as it was read, and inside less what its instrument reads off, and so is the level.
    chance: of being outside on that day, NaN where none is known.
    """

    day: Days
    rule: Ints
    months: Ints
    level: Floats
    cleared: Bools
    chance: Floats


def is_fitted(conn: Connection) -> bool:
    """Say whether a book has numbers and limits, so that rechecks ask for a fit."""
    return bool(_limited(conn)) and bool(fetch(conn, _ANY_NUMBER_SQL))


def _limited(conn: Connection) -> list[int]:
    return [row[0] for row in fetch(conn, _LIMITED_SQL)]


def recheck_dates(conn: Connection, today: date, risk: float) -> Rechecks:
    """Return by unit what is to be read again, and when; only what has numbers and limits is fitted.

    risk: the accepted chance of being outside the limits.
    """
    if not is_fitted(conn):
        return {}
    from collection.views.drift_fit import fitted

    rules = procedure_rules(conn)
    asked: dict[int, list[RecheckDue]] = defaultdict(list)
    for one in fitted(conn, today, _limited(conn)):
        for unit_id, recheck in _named(one, rechecks_of(one, rules, today, risk), risk):
            asked[unit_id].append(recheck)
    return asked


def plain(rechecks: Rechecks) -> dict[str, list[list[str | bool | float | None]]]:
    """Return rechecks in JSON's own values, so that they can be kept; `from_plain` brings them back."""
    return {str(unit): [[*one[:2], one.day.isoformat(), *one[3:]] for one in asked] for unit, asked in rechecks.items()}


def from_plain(kept: Mapping[str, Sequence[Sequence[Any]]]) -> Rechecks:
    """Return the rechecks that `plain` wrote."""
    return {
        int(unit): [RecheckDue(name, point, date.fromisoformat(day), *rest) for name, point, day, *rest in asked]
        for unit, asked in kept.items()
    }


def rechecks_of(one: Fitted, rules: Sequence[ProcedureRule], today: date, risk: float) -> FleetRechecks:
    """Return when each history of a measurement is to be read again.

    Asked for is what is in a unit now, was read in numbers, and has a limit today. Of a level that was reset since
    nothing is known: it is read again after the shortest interval.
    """
    import numpy as np

    sets, held = one.sets, one.held
    months = _months(one, rules)
    asked = (sets.place >= 0) & (sets.unit >= 0) & ~(np.isnan(held.lower) & np.isnan(held.upper))
    day = np.full(len(asked), np.datetime64("NaT", "D"))
    rule = np.full(len(asked), _NO_RULE)
    at = np.flatnonzero(asked)
    level, breached, chance = _state(one, at)
    cleared = np.zeros(len(asked), dtype=bool)
    cleared[at] = ~breached & ~sets.level_lost[at] & _is_out(one, sets.value)[at]
    last = (sets.ended[at] // 2).astype("datetime64[D]")
    first = np.where(sets.level_lost[at], last, (sets.began[at] // 2).astype("datetime64[D]"))
    day[at], rule[at] = recheck_all(first, last, months[at], breached, chance, today, risk)
    everywhere, chances = np.full(len(asked), np.nan), np.full(len(asked), np.nan)
    everywhere[at] = level
    ahead = np.maximum((day[at] - last).astype(np.float64), 0.0)
    chances[at] = chance(np.arange(len(at)), ahead)
    return FleetRechecks(day, rule, months, everywhere, cleared, chances)


def _months(one: Fitted, rules: Sequence[ProcedureRule]) -> Ints:
    """Return for each history the months of the procedure that reads it again, 0 for none."""
    import numpy as np

    plans: dict[tuple[str, ...], Plan] = {}
    months = np.zeros(len(one.sets.unit), dtype=np.int64)
    for place, unit in enumerate(one.sets.unit.tolist()):
        if unit >= 0:
            of = one.units[unit]
            model = (of.kind, of.drive_type, of.maker, of.model)
            plan = plans.get(model) or plans.setdefault(model, plan_of(rules, *model))
            months[place] = plan.recheck_months(one.measured.name) or 0
    return months


def _state(one: Fitted, at: Ints) -> tuple[Floats, Bools, Chance]:
    """Return of some histories the level at the last reading, whether that is outside, and the chance of being so."""
    import numpy as np

    from collection.analysis.drift.forecast import chance_outside

    place, known = one.sets.place[at], ~one.sets.level_lost[at]
    low, high = (bound[at] for bound in one.held.bounds(one.held.nominal, ratio=one.measured.ratio))
    apart = np.where(one.tied[place], one.apart[at] ** 2, 0.0)
    paths = _some(one.paths, place)
    level = np.where(known, (paths.weight * paths.level).sum(axis=1), np.nan)

    def chance(some: Ints, days: Floats) -> Floats:
        years = paths.start[some] + days / _DAYS_A_YEAR
        outside = chance_outside(_some(paths, some), years, low[some], high[some], apart[some])
        return np.where(known[some], outside, np.nan)

    read_out = known & _is_out(one, _last_values(one))[at]
    return level, (level < low) | (level > high) | read_out, chance


def _last_values(one: Fitted) -> Floats:
    """Return the last used reading of each history, less what its instrument reads off where that is known."""
    import numpy as np

    from collection.analysis.drift.scale import from_scale, to_scale

    value, instrument = one.sets.value, one.sets.instrument
    if not len(one.periods):
        return value
    off = np.where(one.offsets.to_reference, one.offsets.offset, 0.0)[np.maximum(instrument, 0)]
    off = np.where(instrument >= 0, off, 0.0)
    nominal, ratio = one.held.nominal, one.measured.ratio
    with np.errstate(all="ignore"):
        corrected = from_scale(to_scale(value, nominal, ratio) - off, nominal, ratio)
    # A reading of an instrument that is not off stays as it was read, to the last digit.
    return np.where(off == 0, value, corrected)


def _is_out(one: Fitted, value: Floats) -> Bools:
    return (value < one.held.lower) | (value > one.held.upper)


def _some(paths: Paths, at: Ints) -> Paths:
    """Return the paths of the series at some places."""
    return replace(paths, **{each.name: getattr(paths, each.name)[at] for each in fields(paths)})


def _named(one: Fitted, found: FleetRechecks, risk: float) -> list[tuple[int, RecheckDue]]:
    """Return what is asked for by unit, in words."""
    import numpy as np

    from collection.analysis.drift.scale import from_scale

    held, measured = one.held, one.measured
    level, last = from_scale(found.level, held.nominal, measured.ratio), _last_values(one)
    made = []
    for place in np.flatnonzero(found.rule >= 0).tolist():
        rule = RULES[found.rule[place]]
        outside = _outside(float(held.lower[place]), float(held.upper[place]), measured.measured_in)
        breached = ""
        if rule == LIMIT:
            breached = _breached(one, place, float(level[place]), float(last[place]))
        why = because(rule, int(found.months[place]) or None, outside, breached, risk)
        day: date = found.day[place].item()
        unit_id = one.units[one.sets.unit[place]].id
        cleared, chance = bool(found.cleared[place]), float(found.chance[place])
        known = None if isnan(chance) else round(chance, _CHANCE_DIGITS)
        made.append((unit_id, RecheckDue(measured.name, one.sets.point[place], day, rule, why, cleared, known)))
    return made


def _outside(lower: float, upper: float, measured_in: str) -> str:
    """Return what it is to break limits (NaN for none): "outside 295.5 to 304.5 r/min", "above 100 mVpp"."""
    if isnan(lower):
        return f"above {show_value(upper)} {measured_in}"
    if isnan(upper):
        return f"below {show_value(lower)} {measured_in}"
    return f"outside {show_value(lower)} to {show_value(upper)} {measured_in}"


def _breached(one: Fitted, place: int, level: float, last: float) -> str:
    """Return what of a history is outside its limits: its level ("corrected level 304.9 r/min"), else its reading."""
    lower, upper = float(one.held.lower[place]), float(one.held.upper[place])
    what = "corrected level" if one.tied[one.sets.place[place]] else "level"
    if not (level < lower or level > upper):
        what, level = "last reading" if last == one.sets.value[place] else "corrected last reading", last
    digits = 1
    while digits < 9 and not (round(level, digits) < lower or round(level, digits) > upper):
        digits += 1
    return f"{what} {show_value(round(level, digits))} {one.measured.measured_in}"
