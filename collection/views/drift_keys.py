"""The names by which a row of drift is told to programs, whatever form it takes: JSON, CSV, a DataFrame."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from collection.views.drift_rows import DriftRow

KEYS = (
    "tag", "measurement", "point", "level", "slope_per_year", "slope_low", "slope_high", "by_date", "by_low",
    "by_high", "chance_outside", "recheck_by", "readings", "sentence", "measured_in", "class", "standing", "level_low",
    "level_high", "chance_12_months", "recheck_rule", "segments", "instruments", "first_read", "last_read", "nominal",
    "lower", "upper", "corrected", "stray", "rests_on", "missing",
)  # fmt: skip
_FIELDS = [each.name for each in fields(DriftRow)]


def row_object(row: DriftRow) -> dict[str, Any]:
    """Return a row by its keys; None for a text that is empty."""
    made = {name: None if (value := getattr(row, name)) == "" else value for name in _FIELDS}
    made |= {"class": row.class_name, "instruments": list(row.instruments)}
    return {key: made[key] for key in KEYS}
