"""Which limits the book has for a series, and which counts on a day, for many units at once."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.limits import Limit, classes_of, nearest_limit
from collection.analysis.measures import parse_speeds
from collection.errors import fold
from collection.store.engine import fetch

LIMITS_SQL = """
SELECT unit_id, model_id, class_name, measurement_id, point, nominal, lower, upper, source, from_date
FROM limit_range WHERE void = 0 ORDER BY id DESC
"""
_MODELS_SQL = "SELECT id, kind, drive_type, nominal_speeds FROM model WHERE void = 0"


class ModelClasses(NamedTuple):
    """What decides a model's classes; nominal speeds in r/min."""

    kind: str
    drive_type: str
    nominal_speeds: tuple[float, ...]


class Limits:
    """All limits of a book, ready to be asked for one series after the other."""

    def __init__(self, conn: Connection) -> None:
        self._of: dict[tuple[str, Any, int], list[Limit]] = defaultdict(list)
        for row in fetch(conn, LIMITS_SQL):
            scope, whose = _scope(*row[:3])
            self._of[scope, whose, row[3]].append(_limit(scope, row))
        self.models = {
            row[0]: ModelClasses(row[1], row[2] or "", parse_speeds(row[3] or "")) for row in fetch(conn, _MODELS_SQL)
        }
        self._shared: dict[tuple[int, int, str], Callable[[str], Limit | None]] = {}

    def candidates(self, unit_id: int, model_id: int, measurement_id: int, point: str) -> list[Limit]:
        """Return every limit of any day that may count for a series of a unit, of one scope the last entered first."""
        wanted = ("", fold(point))
        found = [*self._of.get(("unit", unit_id, measurement_id), ())]
        found += self._of.get(("model", model_id, measurement_id), ())
        names = classes_of(*self.models[model_id], point) if model_id in self.models else ()
        for rank, name in enumerate(names):
            ranked = self._of.get(("class", fold(name), measurement_id), ())
            found += [_at_rank(limit, rank) for limit in ranked]
        return [limit for limit in found if fold(limit.point) in wanted]

    def on(self, day: str, unit_id: int, model_id: int, measurement_id: int, point: str) -> Limit | None:
        """Return the limit that counts on a (partial) day for a series of a unit, or None."""
        if ("unit", unit_id, measurement_id) in self._of:
            return nearest_limit(self.candidates(unit_id, model_id, measurement_id, point), day)
        shared = self._shared.get((model_id, measurement_id, point))
        if shared is None:
            candidates = self.candidates(unit_id, model_id, measurement_id, point)
            shared = self._shared[model_id, measurement_id, point] = _chooser(candidates)
        return shared(day)


def _chooser(candidates: Sequence[Limit]) -> Callable[[str], Limit | None]:
    """Return what chooses among limits on a day: the day matters only where one of them has a date."""
    if any(limit.from_date for limit in candidates):
        return lambda day: nearest_limit(candidates, day)
    always = nearest_limit(candidates, "9999-12-31")
    return lambda _day: always


def _scope(unit_id: int | None, model_id: int | None, class_name: str | None) -> tuple[Any, Any]:
    if unit_id is not None:
        return "unit", unit_id
    return ("model", model_id) if model_id is not None else ("class", fold(class_name or ""))


def _limit(scope: Any, row: Sequence[Any]) -> Limit:
    point, nominal, lower, upper, source, from_date = row[4:]
    return Limit(nominal, lower, upper, source or "", from_date or "", scope, 0, point)


def _at_rank(limit: Limit, rank: int) -> Limit:
    return Limit(limit.nominal, limit.lower, limit.upper, limit.source, limit.from_date, "class", rank, limit.point)
