"""The nominal value that a new reading is compared with, whether its limit is in the book or comes with the folder."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from collection.acts.bring_in.state import State
from collection.analysis.limits import Limit, Scope, classes_of, nearest_limit
from collection.analysis.measures import nominal_speed, parse_speeds
from collection.errors import fold
from collection.store.engine import fetch

_LIMITS_SQL = """
SELECT unit_id, model_id, class_name, measurement_id, point, nominal, from_date FROM limit_range WHERE void = 0
"""
_MODELS_SQL = "SELECT id, kind, drive_type, nominal_speeds FROM model WHERE void = 0"


class Nominals:
    """Nominal values of series, as of today; limits and models of the folder go before the book's."""

    def __init__(self, state: State) -> None:
        self._today = state.today
        self._limits: defaultdict[tuple[Any, int], list[Limit]] = defaultdict(list)
        for row in (*fetch(state.conn, _LIMITS_SQL), *state.shared.get("limits", ())):
            self._add(*row)
        self._models = {
            ref: (kind, drive_type or "", parse_speeds(speeds or ""))
            for ref, kind, drive_type, speeds in (
                *fetch(state.conn, _MODELS_SQL),
                *state.shared.get("model_facts", ()),
            )
        }
        self._unit_model = dict(fetch(state.conn, "SELECT id, model_id FROM unit WHERE void = 0"))
        self._unit_model |= state.shared.get("unit_model", {})
        rows = fetch(state.conn, "SELECT id, measured_in FROM measurement WHERE void = 0")
        self._measured_in = dict(rows) | state.shared.get("measured_in", {})
        self._shared: dict[tuple[Any, int, str], float | None] = {}

    def _add(
        self,
        unit: int | None,
        model: int | None,
        class_name: str | None,
        measurement: int,
        point: str | None,
        nominal: float | None,
        from_date: str | None,
    ) -> None:
        whose: Any = ("unit", unit) if unit is not None else ("model", model)
        if unit is None and model is None:
            whose = ("class", fold(class_name or ""))
        scope: Scope = whose[0]
        limit = Limit(nominal, None, None, "", from_date or "", scope, 0, point or "")
        self._limits[whose, measurement].append(limit)

    def of(self, unit: int, measurement: int, point: str) -> float | None:
        """Return the nominal of the limit that counts for a series, else the model's nominal speed, or None."""
        model = self._unit_model.get(unit)
        own = self._limits.get((("unit", unit), measurement))
        key = (unit if own else ("model", model), measurement, point)
        if key not in self._shared:
            self._shared[key] = self._find(unit, model, measurement, point)
        return self._shared[key]

    def _find(self, unit: int, model: int | None, measurement: int, point: str) -> float | None:
        facts = self._models.get(model or 0, ("", "", ()))
        scopes: list[tuple[int, Any]] = [(0, ("unit", unit)), (0, ("model", model))]
        scopes += [(rank, ("class", fold(name))) for rank, name in enumerate(classes_of(*facts, point))]
        wanted = ("", fold(point))
        found = [
            Limit(limit.nominal, None, None, "", limit.from_date, limit.scope, rank, limit.point)
            for rank, whose in scopes
            for limit in self._limits.get((whose, measurement), ())
            if fold(limit.point) in wanted
        ]
        limit = nearest_limit(found, self._today)
        if limit is not None and limit.nominal is not None:
            return limit.nominal
        if self._measured_in.get(measurement) == "r/min":
            return nominal_speed(facts[2], point)
        return None
