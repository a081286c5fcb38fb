"""What a collection answers for: what was seen where, in what condition, what was damaged or lost, and what left."""

from sqlalchemy import CheckConstraint, Index

from collection.schema.columns import (
    append_only,
    at_least,
    day_form,
    editable,
    lengths,
    one_of,
    reference,
    text,
    unique_name,
    whole,
    yes_no,
)
from collection.schema.measurement import GRADES

OCCASIONS = ("loan out", "loan back", "entry", "exit", "move", "inventory", "damage", "other")
DAMAGE_KINDS = ("damage", "loss")
WAYS_OUT = ("sold", "given", "exchanged", "given back", "transferred", "scrapped", "lost")

condition_check = append_only(
    "condition_check",
    reference("unit_id", "unit", required=True),
    text("checked_on", required=True),
    text("occasion", required=True),
    text("condition", required=True),
    text("grade"),
    reference("by_id", "person"),
    reference("loan_item_id", "loan_item"),
    *lengths(long=["condition"]),
    day_form("checked_on"),
    one_of("occasion", OCCASIONS),
    one_of("grade", GRADES),
)
Index("ix_condition_check_unit_id", condition_check.c.unit_id, condition_check.c.checked_on)
Index("ix_condition_check_loan_item_id", condition_check.c.loan_item_id)

# A unit that is fed from the mains, looked at by a competent person; by which rule, and until when it is good, is said
# by that person under the rules of the place.
safety_check = append_only(
    "safety_check",
    reference("unit_id", "unit", required=True),
    text("checked_on", required=True),
    text("result", required=True),
    reference("by_id", "person", required=True),
    text("rule"),
    text("good_through"),
    text("note"),
    *lengths(short=["rule"], long=["note"]),
    day_form("checked_on"),
    one_of("result", ("pass", "fail")),
    day_form("good_through", full=True),
    CheckConstraint("result = 'pass' OR good_through IS NULL", name="good_through_passed"),
)
Index("ix_safety_check_unit_id", safety_check.c.unit_id, safety_check.c.checked_on)

shelf_check = append_only(
    "shelf_check",
    reference("location_id", "location", required=True),
    text("checked_on", required=True),
    whole("inside", nullable=False),
    reference("by_id", "person"),
    text("unknown"),
    text("note"),
    *lengths(long=["unknown", "note"]),
    day_form("checked_on"),
    yes_no("inside"),
)
Index("ix_shelf_check_location_id", shelf_check.c.location_id)

# A unit was seen at a place, or was looked for there and not found.
sighting = append_only(
    "sighting",
    reference("unit_id", "unit", required=True),
    text("seen_on", required=True),
    whole("seen", nullable=False),
    reference("location_id", "location"),
    reference("shelf_check_id", "shelf_check"),
    reference("by_id", "person"),
    text("note"),
    *lengths(long=["note"]),
    day_form("seen_on"),
    yes_no("seen"),
)
Index("ix_sighting_unit_id", sighting.c.unit_id, sighting.c.seen_on)
Index("ix_sighting_shelf_check_id", sighting.c.shelf_check_id)

damage = editable(
    "damage",
    text("name", required=True),
    text("name_folded", required=True),
    reference("unit_id", "unit", required=True),
    text("kind", required=True),
    text("found_on", required=True),
    text("what", required=True),
    text("circumstances"),
    text("reported_on"),
    reference("reported_by_id", "person"),
    reference("by_id", "person"),
    reference("loan_item_id", "loan_item"),
    reference("check_id", "condition_check"),
    whole("estimate_minor"),
    text("currency"),
    text("owner_told_on"),
    text("insurer_told_on"),
    reference("policy_id", "policy"),
    text("claim"),
    text("actions"),
    text("settled_on"),
    whole("settled_minor"),
    text("closed_on"),
    text("closed_how"),
    *lengths(short=["name", "claim"], long=["what", "circumstances", "actions", "closed_how"]),
    one_of("kind", DAMAGE_KINDS),
    *(day_form(name) for name in ("found_on", "reported_on", "owner_told_on", "insurer_told_on")),
    day_form("settled_on"),
    day_form("closed_on"),
    at_least("estimate_minor", 0),
    at_least("settled_minor", 0),
    CheckConstraint("length(currency) = 3", name="currency_code"),
)
unique_name(damage, "name_folded")
Index("ix_damage_unit_id", damage.c.unit_id)

unit_exit = editable(
    "unit_exit",
    reference("unit_id", "unit", required=True),
    text("left_on", required=True),
    text("how", required=True),
    text("reason", required=True),
    reference("to_id", "person"),
    reference("authority_id", "person"),
    whole("price_minor"),
    text("currency"),
    text("receipt_on"),
    text("note"),
    *lengths(long=["reason", "note"]),
    day_form("left_on"),
    one_of("how", WAYS_OUT),
    at_least("price_minor", 0),
    CheckConstraint("length(currency) = 3", name="currency_code"),
    day_form("receipt_on"),
)
Index("ix_unit_exit_unit_id", unit_exit.c.unit_id)

reservation = editable(
    "reservation",
    reference("unit_id", "unit", required=True),
    reference("person_id", "person", required=True),
    text("from_date", required=True),
    text("to_date", required=True),
    text("purpose"),
    text("closed_on"),
    text("closed_reason"),
    reference("loan_id", "loan"),
    *lengths(long=["purpose", "closed_reason"]),
    day_form("from_date", full=True),
    day_form("to_date", full=True),
    day_form("closed_on"),
    CheckConstraint("to_date >= from_date", name="to_after_from"),
)
Index("ix_reservation_unit_id", reservation.c.unit_id)
Index("ix_reservation_person_id", reservation.c.person_id)

TABLES = (condition_check, safety_check, shelf_check, sighting, damage, unit_exit, reservation)
