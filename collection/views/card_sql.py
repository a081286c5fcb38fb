"""The statements behind the card of a unit."""

from collection.views.counts import counts
from collection.views.readings import reading_counts

DETAIL_NAMES = (
    "serial_state",
    "acquired_from",
    "condition",
    "marks",
    "drive_number",
    "jumpers",
    "rom",
    "modifications",
    "accessories",
    "box",
    "note",
    "acquired_how",
    "title_evidence",
    "rescue_rank",
    "rescue_note",
)
DETAILS = """
SELECT u.serial_state, p.name, u.condition, u.marks, u.drive_number, u.jumpers, u.rom, u.modifications, u.accessories,
       u.box, u.note, u.acquired_how, u.title_evidence, u.rescue_rank, u.rescue_note, u.price_minor, u.currency
FROM unit u LEFT JOIN person p ON p.id = u.acquired_from_id WHERE u.id = :unit
"""
ALIASES = "SELECT alias FROM unit_alias WHERE unit_id = :unit AND void = 0 ORDER BY id"
WORTH = f"""
SELECT v.amount_minor, v.currency, v.basis, v.valued_on, p.name
FROM valuation v LEFT JOIN person p ON p.id = v.by_id
WHERE v.unit_id = :unit AND v.valued_on <= :day AND {counts("v")} ORDER BY v.valued_on DESC, v.id DESC LIMIT 1
"""
REPLACEMENT = """
SELECT m.replacement_minor, m.currency FROM model m JOIN unit u ON u.model_id = m.id
WHERE u.id = :unit AND m.replacement_minor IS NOT NULL
"""
PAIRED = """
SELECT u.tag FROM pairing p JOIN unit u ON u.id IN (p.drive_id, p.supply_unit_id) AND u.id <> :unit
WHERE p.void = 0 AND u.void = 0 AND :unit IN (p.drive_id, p.supply_unit_id)
  AND p.from_date <= :day AND (p.to_date IS NULL OR p.to_date > :day)
ORDER BY p.from_date, p.id
"""
PARTS = """
SELECT f.id, f.part, f.fitted_on, s.name, l.name, coalesce(d.tag, o.tag)
FROM fitted_part f LEFT JOIN supply s ON s.id = f.supply_id LEFT JOIN lot l ON l.id = f.lot_id
LEFT JOIN unit d ON d.id = f.donor_id LEFT JOIN unit o ON o.id = f.part_unit_id
WHERE f.unit_id = :unit AND f.void = 0 AND f.fitted_on <= :day
  AND (f.removed_on IS NULL OR f.removed_on > :day)
ORDER BY f.fitted_on, f.id
"""
# Uses that were not reversed, of the unit or of a service of the unit, the latest last.
USES = f"""
SELECT s.name, s.kind, m.occurred_on, m.steps, s.smallest_step, s.measured_in
FROM movement m JOIN supply s ON s.id = m.supply_id LEFT JOIN service v ON v.id = m.service_id
WHERE m.kind = 'use' AND :unit IN (m.unit_id, v.unit_id) AND {counts("m")}
  AND NOT EXISTS (SELECT 1 FROM movement r WHERE r.reverses_id = m.id AND {counts("r")})
ORDER BY m.occurred_on, m.id
"""
FAULTS = """
SELECT noticed_on, symptom, cause, cure, closed_on, no_fault_found FROM fault
WHERE unit_id = :unit AND void = 0 ORDER BY noticed_on DESC, id DESC
"""
SERVICES = """
SELECT id, name, opened_on, closed_on, outcome, minutes, findings, guide FROM service
WHERE unit_id = :unit AND void = 0 ORDER BY opened_on DESC, id DESC
"""
TASKS = f"""
SELECT t.service_id, p.name FROM task t JOIN service s ON s.id = t.service_id
JOIN procedure p ON p.id = t.procedure_id
WHERE s.unit_id = :unit AND s.void = 0 AND {counts("t")} ORDER BY t.id
"""
_STANDS = "r.void = 0"
_STILL_SO = f"{_STANDS} AND (d.field <> 'serial' OR d.value = r.serial)"  # a corrected serial is no doubt
# A lubricant over another is no doubt any more once the point was cleaned, as was told or by a procedure.
_NOT_CLEANED_SINCE = f"""{counts("r")} AND NOT EXISTS (
    SELECT 1 FROM lubrication c WHERE c.unit_id = r.unit_id AND c.point = r.point AND c.cleaned_first = 1
    AND c.id > r.id AND c.put_on >= r.put_on AND {counts("c")}) AND NOT EXISTS (
    SELECT 1 FROM task t JOIN service v ON v.id = t.service_id JOIN procedure p ON p.id = t.procedure_id
    WHERE v.unit_id = r.unit_id AND v.void = 0 AND p.lubricates = r.point || ', cleaned off first'
    AND t.done_on > r.put_on AND {counts("t")})"""
# Table, the word for its records, the column with their day, and when a row stands.
_DOUBTABLE = (
    ("unit_entry", "entry", "r.from_date", counts("r")),
    ("fitted_part", "part", "r.fitted_on", _STANDS),
    ("service", "service", "r.opened_on", _STANDS),
    ("fault", "fault", "r.noticed_on", _STANDS),
    ("hour_reading", "hours", "r.read_on", counts("r")),
    ("arrival", "arrival", "r.arrived_on", f"{_STANDS} AND d.value = r.mains_setting"),
    ("lubrication", "lubricant", "r.put_on", _NOT_CLEANED_SINCE),
    ("valuation", "valuation", "r.valued_on", counts("r")),
    ("movement", "use", "r.occurred_on", counts("r")),
)
# What the word alone does not tell: of which supply, of which series.
_OF_WHAT = {
    "movement": "(SELECT ' ' || p.name FROM supply p WHERE p.id = r.supply_id)",
    "reading": "(SELECT rtrim(' ' || m.name || ' ' || s.point) FROM series s JOIN measurement m"
    " ON m.id = s.measurement_id WHERE s.id = r.series_id)",
}


def _marks(table: str, record: str, day: str, stands: str, unit: str = "r.unit_id") -> str:
    what = _OF_WHAT.get(table, "''")
    return (
        f"SELECT '{record}' || {what} AS record, {day} AS day, d.field, d.value, d.rule, d.id FROM doubt d"
        f" JOIN {table} r ON r.id = d.row_id"
        f" WHERE d.table_name = '{table}' AND {unit} = :unit AND {stands} AND {counts('d')}"
    )


_IN_SERIES = "(SELECT s.unit_id FROM series s WHERE s.id = r.series_id)"
_ALL_MARKS = " UNION ALL ".join(
    [
        _marks("unit", "unit", "NULL", _STILL_SO, "r.id"),
        _marks("reading", "reading", "r.taken_on", reading_counts("r"), _IN_SERIES),
        *(_marks(*form) for form in _DOUBTABLE),
    ]
)
DOUBTS = f"SELECT record, day, field, value, rule FROM ({_ALL_MARKS}) marks ORDER BY id"
