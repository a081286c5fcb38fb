"""Every limit of the book, with whose it is and what it is of."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.readiness import series_name
from collection.analysis.schedule import tag_order
from collection.errors import fold
from collection.store.engine import fetch
from collection.views.measuring import find_measurement
from collection.views.models import find_model
from collection.views.units import find_unit

_SQL = """
SELECT l.id, l.unit_id, l.model_id, u.tag, m.maker, m.name, l.class_name, q.name, q.measured_in, l.point, l.nominal,
       l.lower, l.upper, l.source, l.from_date
FROM limit_range l JOIN measurement q ON q.id = l.measurement_id
LEFT JOIN unit u ON u.id = l.unit_id LEFT JOIN model m ON m.id = l.model_id
WHERE l.void = 0 ORDER BY q.name_folded, l.point, l.id
"""


class LimitRow(NamedTuple):
    """A limit: of one unit, model or class; numbers in `measured_in`; from_date "" for ever, point "" for any."""

    id: int
    unit_id: int | None
    model_id: int | None
    tag: str
    maker: str
    model: str
    class_name: str
    measurement: str
    measured_in: str
    point: str
    nominal: float | None
    lower: float | None
    upper: float | None
    source: str
    from_date: str

    @property
    def whose(self) -> str:
        """The unit, the model or the class."""
        return self.tag or f"{self.maker} {self.model}".strip() or self.class_name

    @property
    def series(self) -> str:
        """What it is of: "rail voltage[+5 V]"."""
        return series_name(self.measurement, self.point)

    @property
    def shown(self) -> str:
        """Its bounds in words: "4.75 to 5.25 V"."""
        if self.lower is not None and self.upper is not None:
            said = f"{self.lower:g} to {self.upper:g}"
        elif self.lower is not None:
            said = f"at least {self.lower:g}"
        elif self.upper is not None:
            said = f"at most {self.upper:g}"
        else:
            said = f"nominal {self.nominal:g}" if self.nominal is not None else ""
        return f"{said} {self.measured_in}".strip()


def limit_list(
    conn: Connection,
    *,
    unit: str = "",
    model: str = "",
    class_name: str = "",
    measurement: str = "",
    point: str | None = None,
) -> list[LimitRow]:
    """Return the limits by measurement and point, those of classes first, then of models, then of units.

    What is told narrows the list; point "" means those of any point. Raises Refused for unknown names.
    """
    unit_id = find_unit(conn, unit).id if unit else None
    model_id = find_model(conn, model).id if model else None
    named = find_measurement(conn, measurement).name if measurement else ""
    rows = [_row(row) for row in fetch(conn, _SQL)]
    chosen = [
        row
        for row in rows
        if unit_id in (None, row.unit_id)
        and model_id in (None, row.model_id)
        and (not class_name or fold(class_name) == fold(row.class_name))
        and named in ("", row.measurement)
        and (point is None or fold(point) == fold(row.point))
    ]
    return sorted(
        chosen,
        key=lambda row: (
            fold(row.measurement),
            fold(row.point),
            row.unit_id is not None,
            row.model_id is not None,
            tag_order(row.whose),
        ),
    )


def _row(row: tuple[object, ...]) -> LimitRow:
    numbers = (0, 1, 2, 10, 11, 12)
    return LimitRow._make(value if at in numbers or value is not None else "" for at, value in enumerate(row))
