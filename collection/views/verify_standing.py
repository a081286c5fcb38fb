"""Rules of what is damaged: what shows it and what it refers to is of its unit."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from sqlalchemy.engine import Connection

from collection.store.engine import fetch
from collection.views.broken import Broken

_RULE = "what is told of damage is of its unit"
_PICTURES = """
SELECT a.id FROM attachment a JOIN damage d ON d.id = a.damage_id
WHERE a.void = 0 AND (a.unit_id IS NULL OR a.unit_id <> d.unit_id)
"""
_CHECKS = """
SELECT d.id FROM damage d JOIN condition_check c ON c.id = d.check_id WHERE d.void = 0 AND c.unit_id <> d.unit_id
"""
_LOANS = """
SELECT d.id FROM damage d JOIN loan_item i ON i.id = d.loan_item_id WHERE d.void = 0 AND i.unit_id <> d.unit_id
"""
# The table of the row that is named, the word for what is of another unit, and the query for such rows.
_OTHER_UNIT = (("attachment", "picture", _PICTURES), ("damage", "condition check", _CHECKS), ("damage", "loan", _LOANS))


def what_is_told_of_damage_is_of_its_unit(connection: Connection) -> Iterator[Broken]:
    """Pictures of damage, the check that showed it and the loan it happened on are of the damaged unit."""
    for table, what, sql in _OTHER_UNIT:
        for (row,) in fetch(connection, sql):
            yield Broken(_RULE, table, row, f"the {what} is of another unit")


RULES: tuple[Callable[[Connection], Iterator[Broken]], ...] = (what_is_told_of_damage_is_of_its_unit,)
