"""Taking one movement back: its exact opposite is booked, and from then on neither counts."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.booking import Booked, seal, shelf_named
from collection.acts.texts import refuse_texts
from collection.acts.work import Work, open_work
from collection.analysis.ledger import WITHOUT_EFFECT
from collection.analysis.shelf import Shelf
from collection.errors import Refused, typed
from collection.views.movements import HistoryRow, history_of
from collection.views.shelves import SupplyShelf, movements_of


def reverse_movement(engine: Engine, name: str, number: int, *, reason: str = "", today: date, now: datetime) -> Booked:
    """Book the opposite of the movement with this number, and of the rows that were booked as one with it.

    Raises Refused for a number that is not there, a reverse, a row taken back already, a count on which a later row
    rests, and where a lot would be left with less than nothing.
    """
    refuse_texts(reason=reason)
    with open_work(engine, "supply reverse", today=today, now=now, reason=reason or None) as work:
        shelf = shelf_named(work.conn, name)
        history = history_of(work.conn, shelf.supply)
        target = _chosen(shelf, history, number)
        rows = _booked_as_one(history, target)
        for row in rows:
            _refuse_count_resting(history, row, rows)
            _refuse_lot_in_use(history, row, rows)
        for row in rows:
            _write_opposite(work, row, reason)
        shelf.shelf = Shelf(movements_of(work.conn, shelf.supply.id))
        _refuse_hole(shelf, history, rows)
        numbers = ", ".join(str(row.number) for row in rows)
        movement = target.movement
        did = f'took back {movement.kind} of "{shelf.supply.name}" of {movement.occurred_on} (number {numbers})'
        return seal(work, shelf, did, _order_note(shelf, rows))


def _chosen(shelf: SupplyShelf, history: Sequence[HistoryRow], number: int) -> HistoryRow:
    listing = f"spindlebook supply history {typed(shelf.supply.name)}"
    row = next((row for row in history if row.number == number), None)
    if row is None:
        raise Refused(f'"{shelf.supply.name}" has no movement {number}.', f"See the numbers: {listing}")
    if row.movement.kind == "reverse":
        raise Refused(
            f"Movement {number} is itself a reverse; it stays.",
            f"To bring movement {row.reverses} back, book it again, or undo act {row.act_id}.",
        )
    if row.reversed_by is not None:
        raise Refused(f"Movement {number} was taken back already, by movement {row.reversed_by}.", f"See: {listing}")
    return row


def _booked_as_one(history: Sequence[HistoryRow], target: HistoryRow) -> list[HistoryRow]:
    """Return the rows of the same use, count, move or repack that still stand."""
    movement = target.movement
    if movement.group is None or movement.kind == "return":  # a return shares its group with other returns
        return [target]
    return [
        row
        for row in history
        if row.movement.group == movement.group and row.movement.kind == movement.kind and row.reversed_by is None
    ]


def _refuse_count_resting(history: Sequence[HistoryRow], target: HistoryRow, together: Sequence[HistoryRow]) -> None:
    """Refuse to take back a count once a later row of its lot and place rests on it."""
    count = target.movement
    if count.kind != "count":
        return
    for row in history:
        other = row.movement
        later = (other.occurred_on, other.id) > (count.occurred_on, count.id)
        stands = other.kind not in WITHOUT_EFFECT and row.reversed_by is None and row not in together
        if other[1:4] == count[1:4] and later and stands:
            raise Refused(
                f"Count {target.number} cannot be taken back: movement {row.number} came after it and rests on it.",
                "Count again; the later count stands.",
            )


def _refuse_lot_in_use(history: Sequence[HistoryRow], target: HistoryRow, together: Sequence[HistoryRow]) -> None:
    """Refuse to take back what opened a lot while anything else is booked on the lot."""
    movement = target.movement
    if movement.kind not in ("receive", "repack") or movement.steps <= 0:
        return
    for row in history:
        other = row.movement
        stands = other.kind not in WITHOUT_EFFECT and row.reversed_by is None and row not in together
        if other.lot == movement.lot and stands:
            raise Refused(
                f'Movement {target.number} opened lot "{target.lot}", and movement {row.number} is booked on it.',
                "Take the later movements back first.",
            )


def _write_opposite(work: Work, row: HistoryRow, reason: str) -> None:
    """Write the reverse: same lot, place and day, so that it stands where the row stood."""
    movement = row.movement
    work.append(
        "movement",
        supply_id=movement.supply,
        lot_id=movement.lot,
        location_id=movement.place,
        kind="reverse",
        steps=-movement.steps,
        entered=row.entered,
        entered_in=row.entered_in or None,
        occurred_on=movement.occurred_on,
        reverses_id=movement.id,
        reason=reason or None,
        used_past_date=0,
    )


def _refuse_hole(shelf: SupplyShelf, history: Sequence[HistoryRow], rows: Sequence[HistoryRow]) -> None:
    """Refuse to take back a move once some of what was moved is gone again."""
    before = Shelf([row.movement for row in history]).stock()
    after = shelf.shelf.stock()
    for row in rows:
        spot = (row.movement.lot, row.movement.place)
        if row.movement.kind == "move" and after.get(spot, 0) < min(0, before[spot]):
            raise Refused(
                f'Movement {row.number} cannot be taken back: some of lot "{row.lot}" has left that place since.',
                "Move it back instead: spindlebook supply move",
            )


def _order_note(shelf: SupplyShelf, rows: Sequence[HistoryRow]) -> list[str]:
    if all(row.movement.kind != "receive" for row in rows):
        return []
    return [
        f'If it came by an order, the order stays as arrived; place it again if "{shelf.supply.name}" is still to come.'
    ]
