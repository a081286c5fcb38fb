"""What rows held after a certain act: the journal keeps every value before and after.

Personal data stand in the journal as hashes alone; what a person was called then is the oldest of the states that later
acts kept of them.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from sqlalchemy.engine import Connection

from collection.store.chain import dead_acts
from collection.store.engine import fetch

_CHANGES = """
SELECT table_name, row_id, kind, before FROM change
WHERE act_id > :last AND kind IN ('update', 'void', 'restore') ORDER BY id
"""
_Change = tuple[str, str | None]


class Earlier:
    """The book after its act `last`; None stands for its last act of all."""

    def __init__(self, source: Connection, last: int | None) -> None:
        self._source, self._last = source, last
        self._changes: dict[str, dict[int, list[_Change]]] | None = None
        self._dead: dict[int, int] | None = None

    def dead(self) -> dict[int, int]:
        """Return each act that counted for nothing, with the act that had taken it back."""
        if self._dead is None:
            sql = "SELECT id, undoes_id FROM act WHERE undoes_id IS NOT NULL"
            pairs = fetch(self._source, sql if self._last is None else f"{sql} AND id <= {self._last}")
            self._dead = dead_acts((act, undoes) for act, undoes in pairs)
        return self._dead

    def counts(self, act: int) -> bool:
        """Say whether what an act wrote counted."""
        return (self._last is None or act <= self._last) and act not in self.dead()

    def of(self, table: str) -> dict[int, dict[str, Any]]:
        """Return by row what its columns held that were changed since."""
        held = {row_id: _first_values(changes) for row_id, changes in self._later(table).items()}
        if table == "person":
            self._name_people(held)
        return {row_id: values for row_id, values in held.items() if values}  # of who is forgotten nothing may be left

    def _later(self, table: str) -> dict[int, list[_Change]]:
        if self._last is None:
            return {}
        if self._changes is None:
            self._changes = defaultdict(lambda: defaultdict(list))
            for name, row_id, kind, before in fetch(self._source, _CHANGES, last=self._last):
                self._changes[name][row_id].append((kind, before))
        return self._changes.get(table, {})

    def _name_people(self, held: dict[int, dict[str, Any]]) -> None:
        """Put what people said of themselves in the place of its hashes."""
        from collection.schema.people import PERSONAL

        names = ("salt", *PERSONAL)
        sql = f"SELECT former_of_id, {', '.join(names)} FROM person WHERE former_of_id IS NOT NULL AND act_id > :last"
        known: dict[int, dict[str, Any]] = {}
        if held:
            for person, *values in fetch(self._source, f"{sql} ORDER BY id", last=self._last):
                known.setdefault(person, dict(zip(names, values, strict=True)))
        for person, hashed in held.items():
            for name in PERSONAL:
                hashed.pop(name, None)
            hashed.update(known.get(person, {}))


def _first_values(changes: Sequence[_Change]) -> dict[str, Any]:
    """Return what the columns held that were changed, by the first change of each."""
    held: dict[str, Any] = {}
    for kind, before in changes:
        if kind == "update":
            for name, value in json.loads(before or "{}").items():
                held.setdefault(name, value)
        else:
            held.setdefault("void", int(kind == "restore"))
    return held
