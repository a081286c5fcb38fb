"""What left the collection for good: when, how, why, to whom, and who decided it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.errors import Refused, typed
from collection.quantity import Money, parse_day
from collection.store.engine import fetch
from collection.views.condition_checks import condition_checks
from collection.views.counts import counts
from collection.views.holds import HOLDS_SQL
from collection.views.people import Person, find_person
from collection.views.units import Unit, find_unit, unit_list, unit_on

GONE = "gone"
_SQL = """
SELECT x.id, x.unit_id, u.tag, m.name, x.left_on, x.how, x.reason, receiver.name, decider.name, x.receipt_on, x.note,
       x.price_minor, x.currency
FROM unit_exit x JOIN unit u ON u.id = x.unit_id JOIN model m ON m.id = u.model_id
LEFT JOIN person receiver ON receiver.id = x.to_id LEFT JOIN person decider ON decider.id = x.authority_id
WHERE x.void = 0{only} ORDER BY x.left_on DESC, x.id DESC
"""
# Of several entries of one day the last holds.
_GONE_SQL = f"""
SELECT e.unit_id, e.from_date, e.note FROM unit_entry e
WHERE e.what = 'standing' AND e.standing = '{GONE}' AND {counts("e")} ORDER BY e.id
"""


# What was given back while it was gone already may have its leaving told of a later day than that.
_NOT_GONE_SQL = f"""
SELECT x.id, u.tag, x.left_on, x.act_id FROM unit_exit x JOIN unit u ON u.id = x.unit_id
WHERE x.void = 0{{only}} AND NOT EXISTS (
    SELECT 1 FROM unit_entry e WHERE e.unit_id = x.unit_id AND e.what = 'standing' AND e.standing = '{GONE}'
      AND e.from_date = x.left_on AND {counts("e")})
  AND coalesce((SELECT e.standing FROM unit_entry e WHERE e.unit_id = x.unit_id AND e.what = 'standing'
    AND e.from_date <= x.left_on AND {counts("e")} ORDER BY e.from_date DESC, e.id DESC LIMIT 1), '') <> '{GONE}'
ORDER BY x.id
"""
_OF_ACT = """ AND x.unit_id IN (
  SELECT unit_id FROM unit_entry WHERE act_id = :act UNION SELECT unit_id FROM unit_exit WHERE act_id = :act)"""

_GONE_AND_HELD_SQL = f"""
SELECT u.tag FROM unit u WHERE u.void = 0 AND u.id IN (SELECT h.unit_id FROM ({HOLDS_SQL}) h)
  AND (SELECT e.standing FROM unit_entry e WHERE e.unit_id = u.id AND e.what = 'standing' AND e.from_date <= :day
       AND {counts("e")} ORDER BY e.from_date DESC, e.id DESC LIMIT 1) = '{GONE}'
"""


class Exit(NamedTuple):
    """One leaving of a unit; "" or None for what is not told, id None where only its standing says that it is gone."""

    id: int | None
    unit_id: int
    tag: str
    model: str
    left_on: str
    how: str
    reason: str
    to: str
    authority: str
    receipt_on: str
    note: str
    price: Money | None


def exits_of(conn: Connection, unit_id: int) -> list[Exit]:
    """Return the times that a unit left, as told, the last first."""
    return [_exit(row) for row in fetch(conn, _SQL.format(only=" AND x.unit_id = :unit"), unit=unit_id)]


class NotGone(NamedTuple):
    """A disposal of a unit that does not stand gone on that day; act_id: the act that told it."""

    id: int
    tag: str
    left_on: str
    act_id: int


def not_gone(conn: Connection, act_id: int | None = None) -> list[NotGone]:
    """Return the disposals of units that did not leave then, of all units or of those that an act was about."""
    if act_id is None:
        return [NotGone(*row) for row in fetch(conn, _NOT_GONE_SQL.format(only=""))]
    return [NotGone(*row) for row in fetch(conn, _NOT_GONE_SQL.format(only=_OF_ACT), act=act_id)]


def gone_and_held(conn: Connection, today: date) -> set[str]:
    """Return the tags of units that are called gone while they are on loan, borrowed, reserved or in a service."""
    return {tag for (tag,) in fetch(conn, _GONE_AND_HELD_SQL, day=today.isoformat())}


def exit_list(conn: Connection, today: date, unit_id: int | None = None) -> list[Exit]:
    """Return all that left, the last first; units that are gone with nothing told but their standing are among them."""
    told = [_exit(row) for row in fetch(conn, _SQL.format(only=""))]
    days = {(each.unit_id, each.left_on) for each in told}
    notes = {(unit, day): note for unit, day, note in fetch(conn, _GONE_SQL)}
    units = unit_list(conn, today) if unit_id is None else [unit_on(conn, unit_id, today)]
    for unit in units:
        if unit.standing == GONE and (unit.id, unit.standing_from) not in days:
            why = notes.get((unit.id, unit.standing_from))
            bare = Exit(None, unit.id, unit.tag, unit.model, unit.standing_from, "", why or "", "", "", "", "", None)
            told.append(bare)
    chosen = [each for each in told if unit_id is None or each.unit_id == unit_id]
    chosen.sort(key=lambda each: tag_order(each.tag))
    return sorted(chosen, key=lambda each: each.left_on, reverse=True)


class Leaving(NamedTuple):
    """A unit that left as told, as it is handed over; "" for what is not told.

    condition: by its last condition check until then, else by its record. receiver: None where nobody has it.
    """

    told: Exit
    unit: Unit
    marks: str
    accessories: str
    condition: str
    receiver: Person | None


def leaving_of(conn: Connection, tags: Iterable[str], today: date) -> list[Leaving]:
    """Return the last disposals of units, in the order of their tags.

    Raises Refused for an unknown tag, a unit of which no disposal is told, and units that went to several people.
    """
    found = {unit.id: _leaving(conn, unit.id, unit.tag, today) for unit in (find_unit(conn, tag) for tag in tags)}
    if len({each.told.to for each in found.values()}) > 1:
        raise Refused("These went to several people, and each signs for their own.", "Name those of one person.")
    return sorted(found.values(), key=lambda each: tag_order(each.unit.tag))


def _leaving(conn: Connection, unit_id: int, tag: str, today: date) -> Leaving:
    told = exits_of(conn, unit_id)
    if not told:
        raise Refused(
            f"No disposal of {tag} is told.", f"Type: spindlebook unit dispose {typed(tag)} --how WORD --reason TEXT"
        )
    sql = "SELECT marks, accessories, condition FROM unit WHERE id = :id"
    marks, accessories, condition = (text or "" for text in fetch(conn, sql, id=unit_id)[0])
    last = parse_day(told[0].left_on).last.isoformat()
    checks = [each.condition for each in condition_checks(conn, unit_id) if each.checked_on <= last]
    receiver = find_person(conn, told[0].to, forgotten_too=True) if told[0].to else None
    unit = unit_on(conn, unit_id, today)
    return Leaving(told[0], unit, marks, accessories, checks[-1] if checks else condition, receiver)


def _exit(row: tuple[Any, ...]) -> Exit:
    *told, minor, currency = row
    texts: list[Any] = ["" if value is None else value for value in told]
    return Exit._make([*texts, None if minor is None else Money(minor, currency)])
