"""Rows of measurements, instruments, limits and readings."""

from __future__ import annotations

from collection.views.counts import counts
from collection.views.folder.equipment import SERVICE_NAMES
from collection.views.folder.select import Select, both, drop_last, rename, show_real, show_yes

_ASIDE = f"""
SELECT a.reading_id, a.reason FROM reading_aside a
WHERE {counts("a")} AND a.id = (SELECT max(b.id) FROM reading_aside b WHERE b.reading_id = a.reading_id
  AND {counts("b")})
"""

SELECTS = {
    "measurements.csv": Select(
        "SELECT t.id, t.key, t.name, t.measured_in, t.ratio, t.points, t.source, t.note FROM measurement t"
        " WHERE t.void = 0",
        show=((4, show_yes),),
    ),
    "instruments.csv": Select(
        "SELECT t.id, t.key, i.name, m.name, t.reference, t.from_date, t.resolution, t.uncertainty, i.kind, u.tag,"
        " i.host, i.made_version, i.note FROM instrument_use t"
        " JOIN instrument i ON i.id = t.instrument_id AND i.void = 0"
        " JOIN measurement m ON m.id = t.measurement_id LEFT JOIN unit u ON u.id = i.unit_id WHERE t.void = 0",
        show=((4, show_yes), (6, show_real), (7, show_real)),
    ),
    "limits.csv": Select(
        "SELECT t.id, t.key, u.tag, d.name, t.class_name, d.maker, m.name, t.point, t.nominal, t.lower, t.upper,"
        " t.source, t.from_date FROM limit_range t JOIN measurement m ON m.id = t.measurement_id"
        " LEFT JOIN unit u ON u.id = t.unit_id LEFT JOIN model d ON d.id = t.model_id WHERE t.void = 0",
        show=((8, show_real), (9, show_real), (10, show_real)),
    ),
    "readings.csv": Select(
        "SELECT t.id, t.key, u.tag, m.name, s.point, t.taken_on, i.name, t.entered, t.stage, v.name, t.entered_in,"
        " t.disk, p.tag, t.warm_up_minutes, t.load, a.reason, t.note, t.service_id FROM reading t"
        " JOIN series s ON s.id = t.series_id JOIN unit u ON u.id = s.unit_id AND u.void = 0"
        " JOIN measurement m ON m.id = s.measurement_id JOIN instrument i ON i.id = t.instrument_id"
        " LEFT JOIN service v ON v.id = t.service_id LEFT JOIN unit p ON p.id = t.supply_unit_id"
        f" LEFT JOIN ({_ASIDE}) a ON a.reading_id = t.id WHERE {counts('t')}",
        unit="s.unit_id",
        show=((13, show_real),),
        finish=both(rename(9, 17, SERVICE_NAMES), drop_last(1)),
    ),
}
