"""No unit is out on two loans at a time, or kept for two people on one day, whichever act is taken back."""

from __future__ import annotations

from sqlalchemy.engine import Connection

from collection.errors import Moved, typed
from collection.store.engine import fetch

_TOUCHED = "(SELECT row_id FROM change WHERE act_id = :act AND table_name = '{table}')"
# A unit may go out again on the day on which it came back.
_LOANS = f"""
SELECT u.tag, b.name FROM loan_item i JOIN loan a ON a.id = i.loan_id JOIN unit u ON u.id = i.unit_id
JOIN loan_item j ON j.unit_id = i.unit_id AND j.id <> i.id JOIN loan b ON b.id = j.loan_id
WHERE i.void = 0 AND a.void = 0 AND j.void = 0 AND b.void = 0 AND a.direction = b.direction
  AND a.out_on < coalesce(j.back_on, '9999') AND b.out_on < coalesce(i.back_on, '9999')
  AND i.id IN {_TOUCHED.format(table="loan_item")} ORDER BY i.id, j.id LIMIT 1
"""
_RESERVATIONS = f"""
SELECT u.tag, s.from_date FROM reservation r JOIN unit u ON u.id = r.unit_id
JOIN reservation s ON s.unit_id = r.unit_id AND s.id <> r.id
WHERE r.void = 0 AND s.void = 0 AND r.closed_on IS NULL AND s.closed_on IS NULL
  AND r.from_date <= s.to_date AND s.from_date <= r.to_date
  AND r.id IN {_TOUCHED.format(table="reservation")} ORDER BY r.id, s.id LIMIT 1
"""


def refuse_held_twice(conn: Connection, act_id: int, tables: set[str]) -> None:
    """Refuse to leave a unit that an act touched on two loans of one direction, or reserved twice for one day.

    act_id: that act; tables: those in which it wrote. Raises Moved.
    """
    for tag, loan in fetch(conn, _LOANS, act=act_id) if "loan_item" in tables else ():
        raise Moved(
            f"{tag} would be on two loans at a time: it is on loan {loan} meanwhile.",
            "See: spindlebook history, then undo that first.",
        )
    for tag, day in fetch(conn, _RESERVATIONS, act=act_id) if "reservation" in tables else ():
        raise Moved(
            f"{tag} would be reserved twice: it is reserved from {day} meanwhile.",
            f"Give that up first: spindlebook loan unreserve {typed(tag)} --from {day}",
        )
