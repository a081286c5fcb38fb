"""Models, units and what is dated about them: owner, location, standing, fitted parts, pairings, attachments."""

from sqlalchemy import CheckConstraint, Column, Index

from collection.schema.columns import (
    Bytes,
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

DRIVE_TYPES = ("belt", "direct adjustable", "direct crystal", "AC motor", "unknown")
STANDINGS = (
    "arrived", "on the bench", "ready", "in use", "on loan", "awaiting parts", "away", "donor", "missing", "gone",
)  # fmt: skip
SERIAL_STATES = ("known", "lost", "illegible")
ENTRY_KINDS = ("owner", "location", "standing")
DIRECTIONS_OF_TURN = ("clockwise", "counter-clockwise")

model = editable(
    "model",
    text("maker", required=True),
    text("maker_folded", required=True),
    text("name", required=True),
    text("name_folded", required=True),
    text("kind", required=True),
    text("drive_type"),
    text("nominal_speeds"),
    whole("speed_adjustable"),
    text("media"),
    whole("supply_inside"),
    whole("replacement_minor"),
    text("currency"),
    text("note"),
    text("seed_key"),
    whole("seed_revision"),
    *lengths(short=["maker", "name", "kind", "nominal_speeds", "media"], long=["note"]),
    one_of("drive_type", DRIVE_TYPES),
    yes_no("speed_adjustable"),
    yes_no("supply_inside"),
    at_least("replacement_minor", 0),
)
unique_name(model, "maker_folded", "name_folded")

location = editable(
    "location",
    text("name", required=True),
    text("name_folded", required=True),
    reference("inside_id", "location"),
    text("note"),
    *lengths(short=["name"], long=["note"]),
)
unique_name(location, "name_folded")

unit = editable(
    "unit",
    text("tag", required=True),
    text("tag_folded", required=True),
    reference("model_id", "model", required=True),
    text("serial"),
    text("serial_folded"),
    text("serial_state"),
    text("acquired_on"),
    reference("acquired_from_id", "person"),
    whole("price_minor"),
    text("currency"),
    text("condition"),
    text("marks"),
    text("jumpers"),
    text("rom"),
    text("modifications"),
    text("accessories"),
    text("note"),
    text("drive_number"),
    text("box"),
    text("acquired_how"),
    text("title_evidence"),
    whole("rescue_rank"),
    text("rescue_note"),
    *lengths(
        short=["tag", "serial", "rom", "drive_number", "acquired_how"],
        long=[
            "condition",
            "marks",
            "jumpers",
            "modifications",
            "accessories",
            "note",
            "box",
            "title_evidence",
            "rescue_note",
        ],
    ),
    at_least("rescue_rank", 1),
    one_of("serial_state", SERIAL_STATES),
    day_form("acquired_on"),
    at_least("price_minor", 0),
)
unique_name(unit, "tag_folded")
Index("ix_unit_model_id", unit.c.model_id)
Index("ix_unit_serial_folded", unit.c.serial_folded)

unit_alias = editable(
    "unit_alias",
    reference("unit_id", "unit", required=True),
    text("alias", required=True),
    text("alias_folded", required=True),
    *lengths(short=["alias"]),
)
unique_name(unit_alias, "alias_folded")

unit_entry = append_only(
    "unit_entry",
    reference("unit_id", "unit", required=True),
    text("what", required=True),
    text("from_date", required=True),
    reference("person_id", "person"),
    reference("location_id", "location"),
    text("standing"),
    reference("service_id", "service"),
    reference("loan_id", "loan"),
    text("note"),
    reference("by_id", "person"),
    *lengths(long=["note"]),
    one_of("what", ENTRY_KINDS),
    one_of("standing", STANDINGS),
    day_form("from_date"),
    CheckConstraint(
        "(what = 'owner' AND location_id IS NULL AND standing IS NULL)"
        " OR (what = 'location' AND location_id IS NOT NULL AND person_id IS NULL AND standing IS NULL)"
        " OR (what = 'standing' AND standing IS NOT NULL AND person_id IS NULL AND location_id IS NULL)",
        name="one_value",
    ),
)
Index("ix_unit_entry_unit_id", unit_entry.c.unit_id, unit_entry.c.what, unit_entry.c.from_date)

fitted_part = editable(
    "fitted_part",
    reference("unit_id", "unit", required=True),
    text("part", required=True),
    text("fitted_on", required=True),
    text("removed_on"),
    reference("supply_id", "supply"),
    reference("lot_id", "lot"),
    reference("donor_id", "unit"),
    reference("part_unit_id", "unit"),
    reference("service_id", "service"),
    text("note"),
    *lengths(short=["part"], long=["note"]),
    day_form("fitted_on"),
    day_form("removed_on"),
)
Index("ix_fitted_part_unit_id", fitted_part.c.unit_id)
Index("ix_fitted_part_donor_id", fitted_part.c.donor_id)

pairing = editable(
    "pairing",
    reference("drive_id", "unit", required=True),
    reference("supply_unit_id", "unit", required=True),
    text("from_date", required=True),
    text("to_date"),
    day_form("from_date"),
    day_form("to_date"),
)
Index("ix_pairing_drive_id", pairing.c.drive_id)
Index("ix_pairing_supply_unit_id", pairing.c.supply_unit_id)

attachment_content = append_only(
    "attachment_content",
    text("sha256", required=True),
    whole("size", nullable=False),
    Column("content", Bytes, nullable=False),
    CheckConstraint("length(sha256) = 64", name="sha256_length"),
)

attachment = editable(
    "attachment",
    reference("content_id", "attachment_content", required=True),
    reference("unit_id", "unit"),
    reference("service_id", "service"),
    text("title", required=True),
    text("media_type", required=True),
    text("taken_on"),
    text("note"),
    reference("check_id", "condition_check"),
    reference("damage_id", "damage"),
    *lengths(short=["title", "media_type"], long=["note"]),
    day_form("taken_on"),
)
Index("ix_attachment_unit_id", attachment.c.unit_id)

arrival = editable(
    "arrival",
    reference("unit_id", "unit", required=True),
    text("arrived_on", required=True),
    reference("from_id", "person"),
    text("contents"),
    text("damage"),
    text("mains_setting"),
    text("fuse"),
    text("cord"),
    text("note"),
    text("entry_number"),
    text("reason"),
    text("return_by"),
    text("receipt_on"),
    *lengths(short=["mains_setting", "fuse", "cord", "entry_number"], long=["contents", "damage", "note", "reason"]),
    day_form("arrived_on"),
    day_form("return_by"),
    day_form("receipt_on"),
)
Index("ix_arrival_unit_id", arrival.c.unit_id)

adjustment = append_only(
    "adjustment",
    reference("unit_id", "unit", required=True),
    reference("service_id", "service"),
    text("done_on", required=True),
    text("screw", required=True),
    text("direction", required=True),
    real("turns", nullable=False),
    text("entered", required=True),
    reference("measurement_id", "measurement"),
    text("note"),
    *lengths(short=["screw", "entered"], long=["note"]),
    day_form("done_on"),
    one_of("direction", DIRECTIONS_OF_TURN),
    CheckConstraint("turns > 0", name="turns_range"),
)
Index("ix_adjustment_unit_id", adjustment.c.unit_id)

wanted_part = editable(
    "wanted_part",
    reference("unit_id", "unit", required=True),
    text("part", required=True),
    reference("supply_id", "supply"),
    whole("pieces", nullable=False, server_default="1"),
    text("wanted_on", required=True),
    text("got_on"),
    text("dropped_on"),
    text("reason"),
    text("note"),
    *lengths(short=["part"], long=["reason", "note"]),
    at_least("pieces", 1),
    day_form("wanted_on"),
    day_form("got_on"),
    day_form("dropped_on"),
    CheckConstraint("got_on IS NULL OR dropped_on IS NULL", name="one_end"),
)
Index("ix_wanted_part_unit_id", wanted_part.c.unit_id)
Index("ix_wanted_part_supply_id", wanted_part.c.supply_id)

TABLES = (
    model, location, unit, unit_alias, unit_entry, fitted_part, pairing, attachment_content, attachment,
    arrival, adjustment, wanted_part,
)  # fmt: skip
