"""All readings of a unit, with what each says and whether it counts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy.engine import Connection

from collection.analysis.limits import Limit, Verdict, verdict
from collection.store.engine import fetch
from collection.views.counts import counts
from collection.views.findings import in_words
from collection.views.limits import Limits
from collection.views.units import Unit

_SQL = f"""
SELECT r.id, m.name, m.measured_in, s.point, r.taken_on, r.value, r.grade, r.entered, r.entered_in, r.stage,
       i.name, v.name, r.disk, p.tag, r.warm_up_minutes, r.load, r.note, s.measurement_id
FROM reading r JOIN series s ON s.id = r.series_id JOIN measurement m ON m.id = s.measurement_id
JOIN instrument i ON i.id = r.instrument_id LEFT JOIN service v ON v.id = r.service_id
LEFT JOIN unit p ON p.id = r.supply_unit_id
WHERE s.unit_id = :unit AND {counts("r")} ORDER BY r.id
"""
_ASIDE_SQL = f"""
SELECT a.reading_id, a.reason FROM reading_aside a JOIN reading r ON r.id = a.reading_id
JOIN series s ON s.id = r.series_id WHERE s.unit_id = :unit AND {counts("a")} ORDER BY a.id
"""
_DOUBTS_SQL = f"""
SELECT d.row_id, d.rule FROM doubt d JOIN reading r ON r.id = d.row_id JOIN series s ON s.id = r.series_id
WHERE d.table_name = 'reading' AND s.unit_id = :unit AND {counts("d")} ORDER BY d.id
"""


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading.

    number: its place in the order of entry of the unit's readings, by which a person names it.
    value and grade: one of them, in the measurement's unit. says: against the limit of its day, a grade by
    itself. set_aside: the reason, "" for a reading that counts. doubts: what makes it doubtful. mechanism: which one
    was read, told only where one was swapped.
    """

    id: int
    tag: str
    number: int
    measurement: str
    measured_in: str
    point: str
    taken_on: str
    value: float | None
    grade: str | None
    entered: str
    entered_in: str
    stage: str
    instrument: str
    service: str
    disk: str
    supply_unit: str
    warm_up_minutes: float | None
    load: str
    note: str
    says: Verdict
    set_aside: str
    doubts: tuple[str, ...]
    limit: Limit | None
    mechanism: str = ""

    @property
    def shown(self) -> str:
        """The result as a person reads it, with as many digits as tell it from its limit: "304.9 r/min", "pass"."""
        return in_words(self.value, self.grade, self.measured_in, self.limit, self.says)


def readings_of(conn: Connection, unit: Unit) -> list[ReadingRow]:
    """Return every reading of a unit in the order of entry, those set aside included."""
    limits = Limits(conn)
    aside = dict(fetch(conn, _ASIDE_SQL, unit=unit.id))
    doubts: dict[int, list[str]] = {}
    for row_id, rule in fetch(conn, _DOUBTS_SQL, unit=unit.id):
        doubts.setdefault(row_id, []).append(rule)
    made = []
    for number, row in enumerate(fetch(conn, _SQL, unit=unit.id), start=1):
        reading_id, measurement_id = row[0], row[17]
        limit = limits.on(row[4], unit.id, unit.model_id, measurement_id, row[3])
        says = verdict(row[6] or row[5], limit)
        marks = tuple(doubts.get(reading_id, ()))
        made.append(_row(unit.tag, number, row, limit, says, aside.get(reading_id, ""), marks))
    return made


def _row(
    tag: str,
    number: int,
    row: tuple[Any, ...],
    limit: Limit | None,
    says: Verdict,
    aside: str,
    doubts: tuple[str, ...],
) -> ReadingRow:
    texts = ["" if value is None else value for value in row]
    return ReadingRow(
        id=row[0],
        tag=tag,
        number=number,
        measurement=row[1],
        measured_in=row[2],
        point=row[3],
        taken_on=row[4],
        value=row[5],
        grade=row[6],
        entered=row[7],
        entered_in=texts[8],
        stage=row[9],
        instrument=row[10],
        service=texts[11],
        disk=texts[12],
        supply_unit=texts[13],
        warm_up_minutes=row[14],
        load=texts[15],
        note=texts[16],
        says=says,
        set_aside=aside,
        doubts=doubts,
        limit=limit,
    )
