"""Procedures, services with their tasks, faults, hour meters and what was told about the time before the book."""

from sqlalchemy import CheckConstraint, Index

from collection.schema.columns import (
    append_only,
    at_least,
    day_form,
    editable,
    lengths,
    real,
    reference,
    text,
    unique_name,
    whole,
    yes_no,
)

procedure = editable(
    "procedure",
    text("name", required=True),
    text("name_folded", required=True),
    whole("revision", nullable=False, server_default="1"),
    text("applies_to"),
    whole("every_months"),
    real("every_hours"),
    text("triggers"),
    whole("minutes"),
    text("resets"),
    text("retests"),
    text("cautions"),
    text("steps"),
    text("source"),
    text("seed_key"),
    whole("seed_revision"),
    text("lubricates"),
    *lengths(
        short=["name", "lubricates"],
        long=["applies_to", "triggers", "resets", "retests", "cautions", "steps", "source"],
    ),
    at_least("every_months", 1),
    CheckConstraint("every_hours > 0", name="every_hours_range"),
    at_least("minutes", 0),
    at_least("revision", 1),
)
unique_name(procedure, "name_folded")

amount = editable(
    "amount",
    reference("procedure_id", "procedure", required=True),
    reference("supply_id", "supply", required=True),
    whole("steps", nullable=False),
    text("entered", required=True),
    text("entered_in"),
    real("chance"),
    text("source"),
    text("seed_key"),
    whole("seed_revision"),
    *lengths(short=["entered", "entered_in"], long=["source"]),
    at_least("steps", 0),
    CheckConstraint("chance >= 0 AND chance <= 1", name="chance_range"),
)
unique_name(amount, "procedure_id", "supply_id")

service = editable(
    "service",
    text("name", required=True),
    reference("unit_id", "unit", required=True),
    text("opened_on", required=True),
    text("closed_on"),
    text("reason"),
    text("outcome"),
    whole("minutes"),
    reference("by_id", "person"),
    text("findings"),
    text("guide"),
    *lengths(short=["name", "outcome", "guide"], long=["reason", "findings"]),
    day_form("opened_on"),
    day_form("closed_on"),
    at_least("minutes", 0),
)
Index("ix_service_unit_id", service.c.unit_id, service.c.opened_on)

task = append_only(
    "task",
    reference("service_id", "service", required=True),
    reference("procedure_id", "procedure", required=True),
    whole("procedure_revision", nullable=False),
    text("done_on", required=True),
    day_form("done_on"),
)
Index("ix_task_service_id", task.c.service_id)

baseline = append_only(
    "baseline",
    reference("unit_id", "unit", required=True),
    reference("procedure_id", "procedure", required=True),
    text("last_done"),
    text("first_due"),
    day_form("last_done"),
    day_form("first_due"),
    CheckConstraint("(last_done IS NULL) <> (first_due IS NULL)", name="one_day"),
)
Index("ix_baseline_unit_id", baseline.c.unit_id)

fault = editable(
    "fault",
    reference("unit_id", "unit", required=True),
    text("noticed_on", required=True),
    text("symptom", required=True),
    text("circumstances"),
    text("cause"),
    text("cure"),
    whole("no_fault_found", nullable=False, server_default="0"),
    text("closed_on"),
    reference("service_id", "service"),
    reference("by_id", "person"),
    reference("loan_id", "loan"),
    *lengths(long=["symptom", "circumstances", "cause", "cure"]),
    day_form("noticed_on"),
    day_form("closed_on"),
    yes_no("no_fault_found"),
)
Index("ix_fault_unit_id", fault.c.unit_id)

hour_reading = append_only(
    "hour_reading",
    reference("unit_id", "unit", required=True),
    text("read_on", required=True),
    real("hours", nullable=False),
    whole("reset", nullable=False),
    day_form("read_on"),
    at_least("hours", 0),
    yes_no("reset"),
)
Index("ix_hour_reading_unit_id", hour_reading.c.unit_id)

lubrication = append_only(
    "lubrication",
    reference("unit_id", "unit", required=True),
    reference("service_id", "service"),
    text("put_on", required=True),
    text("point", required=True),
    reference("supply_id", "supply", required=True),
    reference("lot_id", "lot"),
    whole("cleaned_first", nullable=False),
    text("note"),
    *lengths(short=["point"], long=["note"]),
    day_form("put_on"),
    yes_no("cleaned_first"),
)
Index("ix_lubrication_unit_id", lubrication.c.unit_id)

TABLES = (procedure, amount, service, task, baseline, fault, hour_reading, lubrication)
