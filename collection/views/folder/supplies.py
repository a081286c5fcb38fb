"""Rows of supplies, suppliers, offers, lots, orders, uses and counts."""

from __future__ import annotations

from collection.views.counts import counts
from collection.views.folder.equipment import SERVICE_NAMES
from collection.views.folder.select import (
    Select,
    both,
    drop_last,
    money,
    quantity,
    rename,
    show_real,
    show_yes,
)

_STANDS = counts("t")
_TAKEN_BACK = f"SELECT r.reverses_id FROM movement r WHERE r.kind = 'reverse' AND {counts('r')}"
_NOT_TAKEN_BACK = f"t.id NOT IN ({_TAKEN_BACK})"
# A use that was split over several lots is one row again, and names a lot only when all of it came from that one.
_ONE_LOT = "CASE WHEN count(DISTINCT coalesce(t.lot_id, 0)) = 1 THEN min(l.name) END"
_STANDING_STEPS = f"sum(CASE WHEN {_NOT_TAKEN_BACK} THEN t.steps END)"
_BY_GROUP = " GROUP BY coalesce(t.group_key, t.key)"
_SOME_STANDING = f" HAVING {_STANDING_STEPS} IS NOT NULL"

# The steps that leave a lot by repacking have no row of their own kind in the form; the new lot brings them back.
_USES = (
    f"SELECT min(t.id), min(t.key), min(s.name), {_ONE_LOT}, abs(coalesce({_STANDING_STEPS}, sum(t.steps))),"
    " min(t.occurred_on), min(v.name), min(u.tag), min(p.name), min(t.basis), min(t.planned),"
    " min(CASE t.kind WHEN 'repack' THEN 'discard' ELSE t.kind END),"
    " min(CASE t.kind WHEN 'repack' THEN coalesce(t.reason, 'repacked') ELSE t.reason END),"
    " min(t.service_id), min(s.smallest_step) FROM movement t JOIN supply s ON s.id = t.supply_id"
    " LEFT JOIN lot l ON l.id = t.lot_id LEFT JOIN service v ON v.id = t.service_id AND v.void = 0"
    " LEFT JOIN unit u ON u.id = t.unit_id LEFT JOIN procedure p ON p.id = t.procedure_id"
    f" WHERE (t.kind IN ('use', 'discard', 'return', 'short') OR (t.kind = 'repack' AND t.steps < 0)) AND {_STANDS}"
)
_USES_FINISH = both(rename(6, 13, SERVICE_NAMES), both(quantity(4), drop_last(1)))
_COUNTS = (
    f"SELECT min(t.id), min(t.key), min(s.name), {_ONE_LOT}, min(t.occurred_on),"
    f" coalesce({_STANDING_STEPS}, sum(t.steps)), min(s.smallest_step) FROM movement t"
    " JOIN supply s ON s.id = t.supply_id LEFT JOIN lot l ON l.id = t.lot_id"
    f" WHERE t.kind = 'count' AND {_STANDS}"
)


def _uses(having: str) -> Select:
    return Select(_USES, show=((10, show_yes),), finish=_USES_FINISH, group=_BY_GROUP + having, order="1")


def _counts(having: str) -> Select:
    return Select(_COUNTS, finish=quantity(5), group=_BY_GROUP + having, order="1")


def _sum_per_lot(what: str, condition: str) -> str:
    """Return a derived table: per lot, an aggregate over its movements that stand."""
    return (
        f"(SELECT t.lot_id, {what} AS found FROM movement t WHERE {condition} AND {_STANDS} AND {_NOT_TAKEN_BACK}"
        " GROUP BY t.lot_id)"
    )


_RECEIVED = _sum_per_lot("sum(t.steps)", "(t.kind = 'receive' OR (t.kind = 'repack' AND t.steps > 0))")
_OPENED = _sum_per_lot("min(t.occurred_on)", "t.kind = 'open'")
_EVENTS = f"FROM order_event e WHERE e.line_id = t.id AND {counts('e')} AND e.kind"

SELECTS = {
    "supplies.csv": Select(
        "SELECT t.id, t.key, t.name, t.kind, t.measured_in, t.smallest_step, t.tracked, t.density, t.polymer,"
        " t.thickener, t.strength, t.size, t.fits, t.shelf_life_months, t.open_life_months, t.wanted_chance, t.note"
        " FROM supply t WHERE t.void = 0",
        show=((13, str), (14, str), (15, show_real)),
    ),
    "suppliers.csv": Select(
        "SELECT t.id, t.key, t.name, t.lead_days, t.shipping_minor, t.currency, t.note FROM supplier t"
        " WHERE t.void = 0",
        show=((3, str),),
        finish=money(4, 5),
    ),
    "offers.csv": Select(
        "SELECT t.id, t.key, p.name, s.name, t.pack_steps, t.price_minor, t.currency, t.from_packs, t.minimum_packs,"
        " t.lead_days, s.smallest_step FROM offer t JOIN supplier p ON p.id = t.supplier_id AND p.void = 0"
        " JOIN supply s ON s.id = t.supply_id AND s.void = 0 WHERE t.void = 0",
        show=((7, str), (8, str), (9, str)),
        finish=both(money(5, 6), quantity(4)),
    ),
    "lots.csv": Select(
        "SELECT t.id, t.key, s.name, t.name, t.received_on, coalesce(r.found, 0), t.price_minor, t.currency, p.name,"
        " t.made, t.expires_on, o.found, s.smallest_step FROM lot t JOIN supply s ON s.id = t.supply_id AND s.void = 0"
        f" LEFT JOIN supplier p ON p.id = t.supplier_id LEFT JOIN {_RECEIVED} r ON r.lot_id = t.id"
        f" LEFT JOIN {_OPENED} o ON o.lot_id = t.id WHERE t.void = 0",
        finish=both(money(6, 7), quantity(5)),
    ),
    "orders.csv": Select(
        "SELECT t.id, t.key, o.name, p.name, o.ordered_on, s.name, t.packs,"
        f" (SELECT max(e.happened_on) {_EVENTS} = 'arrived'),"
        f" (SELECT sum(coalesce(e.packs, t.packs)) {_EVENTS} = 'arrived'),"
        f" (SELECT max(e.happened_on) {_EVENTS} = 'cancelled') FROM order_line t"
        " JOIN purchase_order o ON o.id = t.order_id JOIN supplier p ON p.id = o.supplier_id"
        f" JOIN supply s ON s.id = t.supply_id WHERE {_STANDS} AND {counts('o')}",
        show=((6, str), (8, str)),
    ),
    "uses.csv": _uses(_SOME_STANDING),
    "counts.csv": _counts(_SOME_STANDING),
}
# For telling what is new, what was taken back is in the book as well: it was brought in once and set right since.
WITH_TAKEN_BACK = {"uses.csv": _uses(""), "counts.csv": _counts("")}
