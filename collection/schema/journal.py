"""The book's own settings, and the journal: who did what when, sealed in a hash chain.

``act`` is written when work begins, ``change`` while it goes on, ``seal`` when it is committed; none is ever updated.
``undone`` (which acts count for nothing now), ``counter`` (how often a subject or a series has moved) and ``book``
follow from the rest; ``verify`` derives them anew and compares.
"""

from sqlalchemy import CheckConstraint, Index

from collection.schema.columns import (
    LONG,
    append_only,
    at_least,
    editable,
    kept_by_program,
    lengths,
    one_of,
    real,
    reference,
    text,
    whole,
)

DATE_FORMS = ("iso", "dmy", "mdy")
CHANGE_KINDS = ("insert", "update", "void", "restore", "append")

book = editable(
    "book",
    text("name"),
    text("time_zone", required=True),
    text("currency", required=True),
    text("date_form", required=True),
    whole("mains_hertz", nullable=False),
    whole("mains_volts", nullable=False),
    text("made_by", required=True),
    text("reference_revision"),
    real("accepted_risk"),
    text("bench_weekdays"),
    whole("bench_minutes"),
    whole("order_cost_minor"),
    real("holding_rate"),
    whole("backup_days"),
    whole("safety_months"),
    *lengths(short=["name", "time_zone", "made_by", "bench_weekdays"]),
    one_of("date_form", DATE_FORMS),
    one_of("made_by", ("start", "demo")),
    CheckConstraint("length(currency) = 3", name="currency_code"),
    CheckConstraint("mains_hertz IN (50, 60)", name="mains_hertz_range"),
    CheckConstraint("mains_volts BETWEEN 90 AND 260", name="mains_volts_range"),
    CheckConstraint("accepted_risk BETWEEN 0.001 AND 0.5", name="accepted_risk_range"),
    CheckConstraint("bench_minutes BETWEEN 1 AND 1440", name="bench_minutes_range"),
    at_least("order_cost_minor", 0),
    CheckConstraint("holding_rate BETWEEN 0 AND 1", name="holding_rate_range"),
    CheckConstraint("backup_days BETWEEN 0 AND 3650", name="backup_days_range"),
    CheckConstraint("safety_months BETWEEN 1 AND 1200", name="safety_months_range"),
)

act = kept_by_program(
    "act",
    text("at", required=True),
    text("today", required=True),
    reference("who_id", "person", circular=True),
    text("command", required=True),
    text("reason"),
    reference("undoes_id", "act"),
    *lengths(short=["command"], long=["reason"]),
    append=True,
)
Index("ix_act_undoes_id", act.c.undoes_id)

change = kept_by_program(
    "change",
    reference("act_id", "act", required=True),
    text("kind", required=True),
    text("table_name", required=True),
    whole("row_id", nullable=False),
    whole("version"),
    text("before"),
    text("after"),
    whole("rows"),
    text("digest"),
    one_of("kind", CHANGE_KINDS),
    # An append is a run of rows with consecutive ids from row_id on: counted and digested, not repeated.
    CheckConstraint("(kind = 'append') = (digest IS NOT NULL)", name="append_digest"),
    CheckConstraint("(kind = 'append') = (rows IS NOT NULL)", name="append_rows"),
    append=True,
)
Index("ix_change_act_id", change.c.act_id)
Index("ix_change_row_id", change.c.row_id, change.c.table_name)

seal = kept_by_program(
    "seal",
    reference("act_id", "act", required=True),
    text("summary"),
    text("previous_hash", required=True),
    text("hash", required=True),
    CheckConstraint(f"length(summary) <= {LONG}", name="summary_length"),
    CheckConstraint("length(hash) = 64", name="hash_length"),
    append=True,
)
Index("ux_seal_act_id", seal.c.act_id, unique=True)

undone = kept_by_program(
    "undone",
    reference("act_id", "act", required=True),
    reference("by_id", "act", required=True),
)
Index("ux_undone_act_id", undone.c.act_id, unique=True)

counter = kept_by_program(
    "counter",
    text("subject", required=True),
    whole("row_id", nullable=False),
    whole("value", nullable=False),
)
Index("ux_counter_subject", counter.c.subject, counter.c.row_id, unique=True)

doubt = append_only(
    "doubt",
    text("table_name", required=True),
    whole("row_id", nullable=False),
    text("field"),
    text("value"),
    text("rule", required=True),
    *lengths(long=["value", "rule"]),
)
Index("ix_doubt_row_id", doubt.c.row_id, doubt.c.table_name)

TABLES = (book, act, change, seal, undone, counter, doubt)
