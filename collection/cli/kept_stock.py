"""The reorder list as it was printed last, and the projection of each supply while what it was given stands still."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from collection.cli.face import Face

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from collection.analysis.stock_plan.found import PlanFound
    from collection.analysis.stock_plan.given import SupplyGiven
    from collection.store.cache import Cache
    from collection.views.stock_rows import StockList, StockRow

_RESTS_ON = ("equipment", "measurement", "maintenance", "people", "supplies", "journal")
_LIST, _PLANS = "stock", "stock-plans"


def stock_lines(face: Face, connection: Connection, made: Callable[[StockList], list[str]]) -> list[str]:
    """Return the lines that `made` makes of the whole list, kept until the book or the day changes.

    What it makes may rest on nothing but the list and the settings of the book.
    """
    from collection.store.cache import state_key

    cache = face.cache(connection)
    key = state_key(connection, _RESTS_ON, face.today)
    text = cache.load_text(_LIST, key)
    if text is not None:
        return text.split("\n") if text else []
    lines = made(_stock(face, connection, cache, None))
    cache.save_text(_LIST, key, "\n".join(lines))
    return lines


def stock_of(face: Face, connection: Connection, name: str) -> StockRow:
    """Return the row of one supply. Raises Refused for an unknown one."""
    return _stock(face, connection, face.cache(connection), name).rows[0]


def _stock(face: Face, connection: Connection, cache: Cache, name: str | None) -> StockList:
    """Return the list, or the row of one supply; what was projected before is not projected anew."""
    from collection.cli.kept import kept_rechecks
    from collection.store.book import open_book
    from collection.store.cache import state_key
    from collection.views.stock_plan import stock_plan

    rechecks = kept_rechecks(face, connection, open_book(connection).settings.risk)
    key = state_key(connection, ())  # a digest says what a projection rests on; other code may project otherwise
    plans = _Plans(cache.load(_PLANS, key) or {})
    found = stock_plan(connection, face.today, name, rechecks=rechecks, plan=plans)
    if plans.added:
        # The whole list uses all that is worth keeping; one supply leaves the others in their place.
        cache.save(_PLANS, key, plans.used if name is None else plans.kept | plans.used)
    return found


class _Plans:
    """Projects a supply, or finds what was found before; used: what this run took, by digest; added: any was new."""

    def __init__(self, kept: dict[str, Any]) -> None:
        self.kept = kept
        self.used: dict[str, Any] = {}
        self.added = False

    def __call__(self, given: SupplyGiven) -> PlanFound:
        """Return what the projection finds."""
        from collection.views.stock_keep import digest, from_plain, plain

        name = digest(given)
        if name in self.kept:
            self.used[name] = self.kept[name]
            return from_plain(self.kept[name])
        from collection.analysis.stock_plan.plan import plan_supply

        found = plan_supply(given)
        self.used[name] = plain(found)
        self.added = True
        return found
