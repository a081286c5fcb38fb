"""Whether an instrument or a disk may be read with on a day: retired before, or failed at its last check."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from sqlalchemy.engine import Connection

from collection.errors import Refused, fold
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.counts import counts

What = Literal["instrument", "medium"]

_SQL = """
SELECT t.id, t.name, t.retired_on, t.retired_reason FROM {table} t WHERE t.void = 0 AND t.name_folded = :name
"""
LAST_CHECK_SQL = f"""
SELECT k.checked_on, k.result FROM inspection k WHERE k.{{table}}_id = :id AND k.checked_on <= :day AND {counts("k")}
ORDER BY k.checked_on DESC, k.id DESC LIMIT 1
"""


@dataclass(frozen=True, slots=True)
class Fitness:
    """What keeps a thing from use on a day; gone: retired before it. doubt: what makes readings with it doubtful."""

    name: str = ""
    retired_on: str = ""
    reason: str = ""
    gone: bool = False
    doubt: str | None = None

    def refuse_gone(self, hint: str) -> None:
        """Raise Refused for a thing that was retired before the day; it may be used on its last day."""
        if self.gone:
            raise Refused(f'"{self.name}" was retired on {self.retired_on} ({self.reason}).', hint)


def fitness_of(conn: Connection, what: What, name: str, on: date) -> Fitness:
    """Return whether an instrument or a disk of a name may be used on a day; one the book does not have may."""
    found = fetch(conn, _SQL.format(table=what), name=fold(name)) if name else []
    if not found:
        return Fitness()
    row_id, spelt, retired_on, reason = found[0]
    checked = fetch(conn, LAST_CHECK_SQL.format(table=what), id=row_id, day=on.isoformat())
    failed = checked and checked[0][1] == "fail"
    return Fitness(
        spelt,
        retired_on or "",
        reason or "",
        bool(retired_on) and parse_day(retired_on).last < on,
        f'"{spelt}" failed its check on {checked[0][0]}' if failed else None,
    )
