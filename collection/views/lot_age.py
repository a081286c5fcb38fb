"""Lots whose age nobody knows: what stands before their use."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy.engine import Connection

from collection.analysis.shelf_life import AGE_UNKNOWN, is_rubber
from collection.analysis.take_order import take_order
from collection.views.shelves import shelf_of
from collection.views.supplies import Supply


def age_cautions(conn: Connection, supply: Supply) -> Iterator[str]:
    """Yield the caution before the use of a supply that has lots of unknown age: nothing says how decayed they are."""
    if not is_rubber(supply.ageing) or supply.tracked == "no":
        return
    shelf = shelf_of(conn, supply)
    names = [
        f'"{shelf.name_of(lot.id)}"'
        for lot in take_order(shelf.lots_held())
        if lot.id is not None and lot.steps > 0 and shelf.through(lot.id).of_unknown_age
    ]
    if names:
        yield f"Lot {', '.join(names)}: {AGE_UNKNOWN}."
