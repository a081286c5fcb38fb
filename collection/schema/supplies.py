"""The drawer: supplies, lots, the movement ledger, suppliers, offers and orders."""

from sqlalchemy import CheckConstraint, Index

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

TRACKED = ("count", "pack", "no")
MOVEMENT_KINDS = (
    "receive", "use", "open", "discard", "return", "count", "move", "repack", "short", "reverse",
)  # fmt: skip
BASES = ("sheet", "measured", "count")
ORDER_EVENTS = ("arrived", "cancelled")

supply = editable(
    "supply",
    text("name", required=True),
    text("name_folded", required=True),
    text("kind", required=True),
    text("measured_in", required=True),
    text("smallest_step", required=True),
    text("tracked", required=True),
    text("density"),
    text("polymer"),
    text("thickener"),
    text("strength"),
    text("size"),
    text("fits"),
    whole("shelf_life_months"),
    whole("open_life_months"),
    real("wanted_chance"),
    real("guess_a_year"),
    text("written_since"),
    text("note"),
    text("source"),
    text("seed_key"),
    whole("seed_revision"),
    *lengths(
        short=["name", "kind", "measured_in", "smallest_step", "density", "polymer", "thickener", "strength", "size"],
        long=["fits", "note", "source"],
    ),
    one_of("tracked", TRACKED),
    at_least("shelf_life_months", 1),
    at_least("open_life_months", 1),
    CheckConstraint("wanted_chance > 0 AND wanted_chance < 1", name="wanted_chance_range"),
    CheckConstraint("guess_a_year BETWEEN 0 AND 100000", name="guess_a_year_range"),
    day_form("written_since"),
)
unique_name(supply, "name_folded")

supply_caution = editable(
    "supply_caution",
    text("kind", required=True),
    text("caution", required=True),
    text("source"),
    text("seed_key"),
    whole("seed_revision"),
    *lengths(short=["kind"], long=["caution", "source"]),
)

shelf_life = editable(
    "shelf_life",
    text("what", required=True),
    text("name", required=True),
    text("name_folded", required=True),
    whole("months", nullable=False),
    whole("extension_months"),
    text("source"),
    text("seed_key"),
    whole("seed_revision"),
    *lengths(short=["what", "name"], long=["source"]),
    one_of("what", ("polymer", "thickener")),
    at_least("months", 1),
    at_least("extension_months", 1),
)
unique_name(shelf_life, "what", "name_folded")

supplier = editable(
    "supplier",
    text("name", required=True),
    text("name_folded", required=True),
    whole("lead_days"),
    whole("shipping_minor"),
    text("currency"),
    text("note"),
    *lengths(short=["name"], long=["note"]),
    at_least("lead_days", 0),
    at_least("shipping_minor", 0),
)
unique_name(supplier, "name_folded")

offer = editable(
    "offer",
    reference("supplier_id", "supplier", required=True),
    reference("supply_id", "supply", required=True),
    whole("pack_steps", nullable=False),
    text("entered", required=True),
    whole("price_minor", nullable=False),
    text("currency", required=True),
    whole("from_packs", nullable=False, server_default="1"),
    whole("minimum_packs"),
    whole("lead_days"),
    *lengths(short=["entered"]),
    at_least("pack_steps", 1),
    at_least("price_minor", 0),
    at_least("from_packs", 1),
    at_least("minimum_packs", 1),
    at_least("lead_days", 0),
)
Index("ix_offer_supply_id", offer.c.supply_id)

lot = editable(
    "lot",
    reference("supply_id", "supply", required=True),
    text("name", required=True),
    text("name_folded", required=True),
    text("received_on", required=True),
    whole("price_minor"),
    text("currency"),
    reference("supplier_id", "supplier"),
    text("made"),
    text("expires_on"),
    text("note"),
    *lengths(short=["name", "made"], long=["note"]),
    day_form("received_on"),
    day_form("expires_on"),
    at_least("price_minor", 0),
)
unique_name(lot, "supply_id", "name_folded")

movement = append_only(
    "movement",
    reference("supply_id", "supply", required=True),
    reference("lot_id", "lot"),
    text("kind", required=True),
    whole("steps", nullable=False),
    text("entered", required=True),
    text("entered_in"),
    text("occurred_on", required=True),
    text("basis"),
    whole("planned"),
    reference("service_id", "service"),
    reference("procedure_id", "procedure"),
    reference("unit_id", "unit"),
    reference("order_line_id", "order_line"),
    reference("location_id", "location"),
    text("reason"),
    reference("reverses_id", "movement"),
    text("group_key"),
    whole("used_past_date", nullable=False, server_default="0"),
    *lengths(short=["entered", "entered_in"], long=["reason"]),
    one_of("kind", MOVEMENT_KINDS),
    one_of("basis", BASES),
    day_form("occurred_on"),
    yes_no("planned"),
    yes_no("used_past_date"),
    CheckConstraint(
        "(kind IN ('receive', 'count') AND steps >= 0)"
        " OR (kind IN ('use', 'discard', 'return') AND steps <= 0)"
        " OR kind IN ('move', 'repack', 'reverse')"
        " OR (kind = 'open' AND steps = 0) OR (kind = 'short' AND steps >= 0)",
        name="sign",
    ),
    CheckConstraint("kind <> 'discard' OR reason IS NOT NULL", name="discard_reason"),
    CheckConstraint("(kind = 'reverse') = (reverses_id IS NOT NULL)", name="reverses"),
)
Index("ix_movement_supply_id", movement.c.supply_id, movement.c.occurred_on)
Index("ix_movement_service_id", movement.c.service_id)
Index("ix_movement_reverses_id", movement.c.reverses_id)

purchase_order = append_only(
    "purchase_order",
    text("name", required=True),
    text("name_folded", required=True),
    reference("supplier_id", "supplier", required=True),
    text("ordered_on", required=True),
    *lengths(short=["name"]),
    day_form("ordered_on"),
)
Index("ix_purchase_order_name_folded", purchase_order.c.name_folded)

order_line = append_only(
    "order_line",
    reference("order_id", "purchase_order", required=True),
    reference("supply_id", "supply", required=True),
    whole("packs", nullable=False),
    whole("pack_steps"),
    whole("price_minor"),
    text("currency"),
    at_least("packs", 1),
    at_least("pack_steps", 1),
    at_least("price_minor", 0),
    CheckConstraint("length(currency) = 3", name="currency_code"),
)
Index("ix_order_line_order_id", order_line.c.order_id)

order_event = append_only(
    "order_event",
    reference("line_id", "order_line", required=True),
    text("kind", required=True),
    text("happened_on", required=True),
    whole("packs"),
    one_of("kind", ORDER_EVENTS),
    day_form("happened_on"),
    at_least("packs", 0),
)
Index("ix_order_event_line_id", order_event.c.line_id)

order_promise = append_only(
    "order_promise",
    reference("order_id", "purchase_order", required=True),
    text("told_on", required=True),
    text("expected_on", required=True),
    day_form("told_on"),
    day_form("expected_on"),
)
Index("ix_order_promise_order_id", order_promise.c.order_id)

lot_inspection = append_only(
    "lot_inspection",
    reference("lot_id", "lot", required=True),
    text("inspected_on", required=True),
    text("result", required=True),
    text("good_through"),
    text("note"),
    *lengths(long=["note"]),
    one_of("result", ("pass", "fail")),
    day_form("inspected_on"),
    day_form("good_through", full=True),
    CheckConstraint("result = 'pass' OR good_through IS NULL", name="good_through_passed"),
)
Index("ix_lot_inspection_lot_id", lot_inspection.c.lot_id)

TABLES = (
    supply, supply_caution, shelf_life, supplier, offer, lot, movement, purchase_order, order_line, order_event,
    order_promise, lot_inspection,
)  # fmt: skip
