"""How many days past orders took to come, by supplier."""

from __future__ import annotations

from collections import defaultdict

from sqlalchemy.engine import Connection

from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.counts import counts

# The first arrival of each line; what is known only to its month or year tells no number of days.
_FIRST_SQL = f"""
SELECT o.supplier_id, o.id, o.ordered_on, min(e.happened_on)
FROM order_event e JOIN order_line l ON l.id = e.line_id JOIN purchase_order o ON o.id = l.order_id
WHERE e.kind = 'arrived' AND length(o.ordered_on) = 10 AND length(e.happened_on) = 10
AND {counts("e")} AND {counts("l")} AND {counts("o")}
GROUP BY o.supplier_id, o.id, o.ordered_on, l.id ORDER BY o.ordered_on, o.id, l.id"""


def lead_times(conn: Connection) -> dict[int, tuple[int, ...]]:
    """Return the days from placing to arrival of past orders by supplier, oldest order first.

    A line that came in parts counts by the first of them; lines of one order that came on one day were one parcel and
    count once. A supplier of whom nothing has come yet is left out.
    """
    parcels: dict[tuple[int, int, int], None] = {}
    for supplier, order, ordered, arrived in fetch(conn, _FIRST_SQL):
        parcels[supplier, order, (parse_day(arrived).first - parse_day(ordered).first).days] = None
    days: defaultdict[int, list[int]] = defaultdict(list)
    for supplier, _, took in parcels:
        days[supplier].append(took)
    return {supplier: tuple(taken) for supplier, taken in days.items()}
