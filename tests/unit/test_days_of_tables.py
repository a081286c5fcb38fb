"""What of each table is dated: every column of a day is told of, and what is told later is a column of that table."""

from __future__ import annotations

import sqlalchemy as sa

from collection.schema import EDITABLE, TABLES
from collection.store.as_of import DAYS, TO_COME


def _day_columns() -> set[tuple[str, str]]:
    """Return every column that the schema holds to the form of a day."""
    return {
        (table.name, str(rule.name).removeprefix(f"ck_{table.name}_").removesuffix("_day"))
        for table in TABLES.values()
        for rule in table.constraints
        if isinstance(rule, sa.CheckConstraint) and str(rule.name).endswith("_day") and "LIKE" in str(rule.sqltext)
    }


def test_every_day_of_the_schema_is_where_a_row_begins_or_ends_or_is_yet_to_come() -> None:
    """A column that nobody thought of would show on days on which nobody knew it."""
    begins = {(name, days.since) for name, days in DAYS.items() if days.since in TABLES[name].c}
    ends = {(name, column) for name, days in DAYS.items() for column, _ in days.until}
    told = [begins, ends, set(TO_COME)]

    assert _day_columns() == set().union(*told)
    assert len(_day_columns()) == sum(map(len, told))


def test_what_ends_can_be_blank_before_it_ends() -> None:
    """Only editable rows have ends, and each column that is told with an end is one of the table that may be empty."""
    for name, days in DAYS.items():
        assert name in EDITABLE or not days.until
        for column, told in days.until:
            for each in (column, *told):
                bare, _, value = each.partition(" = ")
                assert TABLES[name].c[bare].nullable or value, (name, each)
