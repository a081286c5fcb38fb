"""Damage to units and losses: what happened, who was told, what is claimed and what came of it."""

from __future__ import annotations

from typing import Any, NamedTuple

from sqlalchemy.engine import Connection

from collection.errors import Refused, fold
from collection.quantity import Money
from collection.store.engine import fetch
from collection.views.supplies import unknown

_IDS = (12, 13)  # of Damage: rows that are referred to, None where there is none
_SQL = """
SELECT d.id, d.name, d.unit_id, u.tag, d.kind, d.found_on, d.what, d.circumstances, d.reported_on, teller.name,
       noter.name, l.name, d.loan_item_id, d.check_id, d.owner_told_on, d.insurer_told_on, pol.name, d.claim, d.actions,
       d.settled_on, d.closed_on, d.closed_how, d.estimate_minor, d.settled_minor, d.currency
FROM damage d JOIN unit u ON u.id = d.unit_id
LEFT JOIN person teller ON teller.id = d.reported_by_id LEFT JOIN person noter ON noter.id = d.by_id
LEFT JOIN loan_item i ON i.id = d.loan_item_id LEFT JOIN loan l ON l.id = i.loan_id
LEFT JOIN policy pol ON pol.id = d.policy_id
WHERE d.void = 0{only} ORDER BY d.found_on DESC, d.id DESC
"""
_OF_UNIT = """
SELECT d.name FROM damage d JOIN unit u ON u.id = d.unit_id
WHERE u.tag_folded = :tag AND u.void = 0 AND d.void = 0 ORDER BY d.id
"""


class Damage(NamedTuple):
    """One damage or loss of a unit; "" or None for what is not told. Days may be partial."""

    id: int
    name: str
    unit_id: int
    tag: str
    kind: str
    found_on: str
    what: str
    circumstances: str
    reported_on: str
    reported_by: str
    by: str
    loan: str
    loan_item_id: int | None
    check_id: int | None
    owner_told_on: str
    insurer_told_on: str
    policy: str
    claim: str
    actions: str
    settled_on: str
    closed_on: str
    closed_how: str
    estimate: Money | None
    settled: Money | None

    @property
    def still_open(self) -> bool:
        """Whether something is still to be done about it."""
        return not self.closed_on


def damage_list(conn: Connection, unit_id: int | None = None) -> list[Damage]:
    """Return all damage and losses, or those of one unit, the newest first."""
    if unit_id is None:
        return [_damage(row) for row in fetch(conn, _SQL.format(only=""))]
    return [_damage(row) for row in fetch(conn, _SQL.format(only=" AND d.unit_id = :unit"), unit=unit_id)]


def find_damage(conn: Connection, name: str) -> Damage:
    """Return the damage or loss of this name. Raises Refused, naming the nearest."""
    found = fetch(conn, _SQL.format(only=" AND d.name_folded = :name"), name=fold(name))
    if found:
        return _damage(found[0])
    of_unit = [row[0] for row in fetch(conn, _OF_UNIT, tag=fold(name))]
    if of_unit:
        raise Refused(
            f'"{name}" is a unit; damage and losses go by names of their own.',
            f"Those of it are: {', '.join(of_unit)}",
        )
    known = [row[0] for row in fetch(conn, "SELECT name FROM damage WHERE void = 0 ORDER BY id")]
    raise unknown("damage or loss", name, known, "spindlebook damage list --all")


def _damage(row: tuple[Any, ...]) -> Damage:
    *told, estimate, settled, currency = row
    texts: list[Any] = ["" if value is None and at not in _IDS else value for at, value in enumerate(told)]
    texts += (None if minor is None else Money(minor, currency) for minor in (estimate, settled))
    return Damage(*texts)
