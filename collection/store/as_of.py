"""The book of another day: from which day on each row counts, and which of its columns are told only later.

What has no day of its own (a model, a place, a person, a supply) stands as it is known. A row without a day goes with
the dated rows that it must refer to: what is on a loan goes with the loan. Days that were yet to come when they were
entered (due, expires, good through) stay. Partial days count from the first of their days, as they do in every list.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.schema import EDITABLE, TABLES
from collection.store.engine import fetch

_IDS_AT_ONCE = 5_000


class Days(NamedTuple):
    """What of a table is dated.

    since: SQL over a row for the day from which it counts; "" where it has none. until: each column with the day of an
    end, and what else is told from that day on. needs: tables that must stand in the copy before this one is cut.
    """

    since: str = ""
    until: tuple[tuple[str, tuple[str, ...]], ...] = ()
    needs: tuple[str, ...] = ()


def _ends(day: str, *told: str) -> tuple[str, tuple[str, ...]]:
    return day, told


# The day on which a row was entered, for what says nothing of when it came about; it never changes.
_ENTERED = "(SELECT a.today FROM {there}act a WHERE a.id = act_id)"
_NO_SERVICE_AHEAD = "service_id = (SELECT s.id FROM service s WHERE s.id = fault.service_id)"
DAYS: dict[str, Days] = {
    "unit": Days("acquired_on"),
    "unit_entry": Days("from_date"),
    "fitted_part": Days("fitted_on", (_ends("removed_on"),)),
    "pairing": Days("from_date", (_ends("to_date"),)),
    "attachment": Days("taken_on"),
    "arrival": Days("arrived_on", (_ends("receipt_on"),)),
    "adjustment": Days("done_on"),
    "wanted_part": Days("wanted_on", (_ends("got_on"), _ends("dropped_on", "reason"))),
    "service": Days("opened_on", (_ends("closed_on", "outcome"),)),
    "task": Days("done_on"),
    "baseline": Days("last_done"),
    "fault": Days(
        "noticed_on", (_ends("closed_on", "cause", "cure", "no_fault_found = 0", _NO_SERVICE_AHEAD),), ("service",)
    ),
    "hour_reading": Days("read_on"),
    "lubrication": Days("put_on"),
    "limit_range": Days("from_date"),
    "instrument": Days("", (_ends("retired_on", "retired_reason"),)),
    "instrument_use": Days("from_date"),
    "reading": Days("taken_on"),
    "medium": Days("from_date", (_ends("retired_on", "retired_reason"),)),
    "medium_use": Days("used_on"),
    "inspection": Days("checked_on"),
    "lot": Days("received_on"),
    "movement": Days("occurred_on"),
    "purchase_order": Days("ordered_on"),
    "order_event": Days("happened_on"),
    "order_promise": Days("told_on"),
    "lot_inspection": Days("inspected_on"),
    "loan": Days("out_on", (_ends("deposit_back_on", "deposit_back_minor"),)),
    "loan_item": Days("", (_ends("back_on", "condition_back", "along_missing", "taken_by_id"),)),
    "valuation": Days("valued_on"),
    "policy": Days("from_date"),
    "condition_check": Days("checked_on"),
    "safety_check": Days("checked_on"),
    "shelf_check": Days("checked_on"),
    "sighting": Days("seen_on"),
    "damage": Days(
        "found_on",
        (
            _ends("reported_on", "reported_by_id"),
            _ends("owner_told_on"),
            _ends("insurer_told_on"),
            _ends("settled_on", "settled_minor"),
            _ends("closed_on", "closed_how"),
        ),
    ),
    "unit_exit": Days("left_on", (_ends("receipt_on"),)),
    "reservation": Days(_ENTERED, (_ends("closed_on", "closed_reason", "loan_id"),)),
}
# Days that say what is to come: they were told when the row was.
TO_COME = frozenset({
    ("loan", "due_on"), ("lot", "expires_on"), ("lot_inspection", "good_through"), ("safety_check", "good_through"),
    ("arrival", "return_by"), ("baseline", "first_due"), ("order_promise", "expected_on"), ("policy", "to_date"),
    ("reservation", "from_date"), ("reservation", "to_date"), ("supply", "written_since"),
})  # fmt: skip
_OF_UNITS = """
SELECT unit_id, act_id FROM unit_entry WHERE from_date <= :day AND unit_id IN ({ids})
UNION ALL SELECT unit_id, act_id FROM arrival WHERE arrived_on <= :day AND void = 0 AND unit_id IN ({ids})
UNION ALL SELECT unit_id, act_id FROM service WHERE opened_on <= :day AND void = 0 AND unit_id IN ({ids})
UNION ALL SELECT i.unit_id, i.act_id FROM loan_item i JOIN loan l ON l.id = i.loan_id
 WHERE l.out_on <= :day AND i.void = 0 AND i.unit_id IN ({ids})
UNION ALL SELECT s.unit_id, r.act_id FROM series s JOIN reading r ON r.series_id = s.id
 WHERE r.taken_on <= :day AND s.unit_id IN ({ids})
"""


def needed_for(table: str) -> tuple[str, ...]:
    """Return the tables that must stand in the copy before this one can be cut."""
    return (*DAYS.get(table, Days()).needs, *(parent for _, parent in _goes_with(table)))


def where_it_is_read(table: str, day: str, there: str) -> str:
    """Return the condition that can be put to the book itself, since what it looks at never changes; or "".

    there: what stands before the names of its tables.
    """
    since = DAYS.get(table, Days()).since
    if not since or (table in EDITABLE and since != _ENTERED):
        return ""
    return f"coalesce({since.format(there=there)}, '') <= '{day}'"


def cuts(table: str) -> Iterator[str]:
    """Yield what is done to the rows of a table in the copy, with :day."""
    days = DAYS.get(table, Days())
    if days.since and days.since != _ENTERED and table in EDITABLE and table != "unit":
        yield f"DELETE FROM {table} WHERE {days.since} > :day"
    for column, parent in _goes_with(table):
        yield f"DELETE FROM {table} WHERE NOT EXISTS (SELECT 1 FROM {parent} p WHERE p.id = {table}.{column})"
    for column, told in days.until:
        blank = [each if "=" in each else f"{each} = NULL" for each in (*told, column)]
        yield f"UPDATE {table} SET {', '.join(blank)} WHERE {column} > :day"


def units_not_yet(
    source: Connection, acquired: dict[int, str | None], day: str, counts: Callable[[int], bool]
) -> list[int]:
    """Return which units did not stand on a day.

    A unit stands from the day it was acquired, without one from the day it was entered, and from the first day of which
    an entry, an arrival, a service, a loan or a reading of it tells. acquired: by unit. counts: whether what an act
    wrote counts.
    """
    entered = dict(fetch(source, "SELECT u.id, a.today FROM unit u JOIN act a ON a.id = u.act_id"))
    later = [unit for unit, on in acquired.items() if (on or entered[unit]) > day]
    told: set[int] = set()
    for at in range(0, len(later), _IDS_AT_ONCE):
        ids = ", ".join(map(str, later[at : at + _IDS_AT_ONCE]))
        told.update(unit for unit, act in fetch(source, _OF_UNITS.format(ids=ids), day=day) if counts(act))
    return [unit for unit in later if unit not in told]


def _goes_with(table: str) -> list[tuple[str, str]]:
    """Return the columns by which a row without a day goes with dated rows, and their tables."""
    if DAYS.get(table, Days()).since:
        return []
    found = []
    for key in TABLES[table].foreign_keys:
        parent = key.column.table.name
        if not key.parent.nullable and DAYS.get(parent, Days()).since:
            found.append((key.parent.name, parent))
    return sorted(found)
