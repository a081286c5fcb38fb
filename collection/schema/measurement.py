"""Measurements, series, limits, instruments, the media they measure with, and readings."""

from sqlalchemy import CheckConstraint, Index
from sqlalchemy import text as words

from collection.schema.columns import (
    append_only,
    at_least,
    day_form,
    editable,
    lengths,
    one_of,
    real,
    reference,
    text,
    unique_name,
    whole,
    yes_no,
)

GRADES = ("pass", "marginal", "fail")
STAGES = ("as found", "as left", "between")
MEDIUM_ROLES = ("reference", "scratch", "cleaning", "known good")

measurement = editable(
    "measurement",
    text("name", required=True),
    text("name_folded", required=True),
    text("measured_in", required=True),
    whole("ratio"),
    text("points"),
    text("source"),
    text("note"),
    text("seed_key"),
    whole("seed_revision"),
    *lengths(short=["name", "measured_in"], long=["points", "source", "note"]),
    yes_no("ratio"),
)
unique_name(measurement, "name_folded")

limit = editable(
    "limit_range",
    reference("unit_id", "unit"),
    reference("model_id", "model"),
    text("class_name"),
    reference("measurement_id", "measurement", required=True),
    text("point", required=True),
    real("nominal"),
    real("lower"),
    real("upper"),
    text("source"),
    text("from_date"),
    text("seed_key"),
    whole("seed_revision"),
    *lengths(short=["class_name", "point"], long=["source"]),
    day_form("from_date"),
    CheckConstraint(
        "(CASE WHEN unit_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN model_id IS NULL THEN 0 ELSE 1 END)"
        " + (CASE WHEN class_name IS NULL THEN 0 ELSE 1 END) = 1",
        name="one_scope",
    ),
    CheckConstraint("lower IS NULL OR upper IS NULL OR lower <= upper", name="order"),
)
Index("ix_limit_range_measurement_id", limit.c.measurement_id)

instrument = editable(
    "instrument",
    text("name", required=True),
    text("name_folded", required=True),
    text("kind"),
    reference("unit_id", "unit"),
    text("host"),
    text("made_version"),
    text("note"),
    whole("check_every_months"),
    text("retired_on"),
    text("retired_reason"),
    *lengths(short=["name", "kind", "host", "made_version"], long=["note", "retired_reason"]),
    at_least("check_every_months", 1),
    day_form("retired_on"),
)
unique_name(instrument, "name_folded")

instrument_use = editable(
    "instrument_use",
    reference("instrument_id", "instrument", required=True),
    reference("measurement_id", "measurement", required=True),
    whole("reference"),
    text("from_date"),
    real("resolution"),
    real("uncertainty"),
    yes_no("reference"),
    at_least("resolution", 0),
    at_least("uncertainty", 0),
    day_form("from_date"),
)
Index("ix_instrument_use_instrument_id", instrument_use.c.instrument_id)

series = append_only(
    "series",
    reference("unit_id", "unit", required=True),
    reference("measurement_id", "measurement", required=True),
    text("point", required=True),
    *lengths(short=["point"]),
)
Index("ux_series_unit_id", series.c.unit_id, series.c.measurement_id, series.c.point, unique=True)

reading = append_only(
    "reading",
    reference("series_id", "series", required=True),
    text("taken_on", required=True),
    real("value"),
    text("grade"),
    reference("instrument_id", "instrument", required=True),
    text("stage", required=True),
    reference("service_id", "service"),
    text("entered", required=True),
    text("entered_in"),
    text("disk"),
    reference("supply_unit_id", "unit"),
    real("warm_up_minutes"),
    text("load"),
    text("note"),
    reference("check_id", "condition_check"),
    *lengths(short=["entered", "entered_in", "disk", "load"], long=["note"]),
    day_form("taken_on"),
    one_of("grade", GRADES),
    one_of("stage", STAGES),
    CheckConstraint("(value IS NULL) <> (grade IS NULL)", name="value_or_grade"),
    CheckConstraint("stage = 'between' OR service_id IS NOT NULL", name="stage_in_service"),
    at_least("warm_up_minutes", 0),
)
Index("ix_reading_series_id", reading.c.series_id, reading.c.taken_on)
Index("ix_reading_service_id", reading.c.service_id)
_CHECKED = words("check_id IS NOT NULL")
Index("ix_reading_check_id", reading.c.check_id, sqlite_where=_CHECKED, postgresql_where=_CHECKED)

reading_aside = append_only(
    "reading_aside",
    reference("reading_id", "reading", required=True),
    text("reason", required=True),
    *lengths(long=["reason"]),
)
Index("ix_reading_aside_reading_id", reading_aside.c.reading_id)

medium = editable(
    "medium",
    text("name", required=True),
    text("name_folded", required=True),
    text("role", required=True),
    text("size"),
    reference("unit_id", "unit"),
    text("condition"),
    text("from_date"),
    whole("most_uses"),
    whole("check_every_months"),
    text("retired_on"),
    text("retired_reason"),
    text("note"),
    *lengths(short=["name", "size", "condition"], long=["retired_reason", "note"]),
    one_of("role", MEDIUM_ROLES),
    at_least("most_uses", 1),
    at_least("check_every_months", 1),
    day_form("from_date"),
    day_form("retired_on"),
)
unique_name(medium, "name_folded")

medium_use = append_only(
    "medium_use",
    reference("medium_id", "medium", required=True),
    text("used_on", required=True),
    whole("times", nullable=False),
    reference("unit_id", "unit"),
    reference("service_id", "service"),
    text("note"),
    *lengths(long=["note"]),
    at_least("times", 1),
    day_form("used_on"),
)
Index("ix_medium_use_medium_id", medium_use.c.medium_id)

inspection = append_only(
    "inspection",
    reference("instrument_id", "instrument"),
    reference("medium_id", "medium"),
    text("checked_on", required=True),
    text("result", required=True),
    reference("by_id", "person"),
    text("note"),
    *lengths(long=["note"]),
    one_of("result", GRADES),
    day_form("checked_on"),
    CheckConstraint("(instrument_id IS NULL) <> (medium_id IS NULL)", name="one_thing"),
)
Index("ix_inspection_instrument_id", inspection.c.instrument_id)
Index("ix_inspection_medium_id", inspection.c.medium_id)

TABLES = (
    measurement, limit, instrument, instrument_use, series, reading, reading_aside, medium, medium_use, inspection,
)  # fmt: skip
