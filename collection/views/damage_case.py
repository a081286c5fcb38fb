"""A damage or loss with all that its owner and an insurer ask for, and what of that the book does not have yet."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.errors import typed
from collection.quantity import parse_day
from collection.store.engine import fetch
from collection.views.condition_checks import ConditionCheck, condition_checks
from collection.views.damage import Damage, find_damage
from collection.views.policies import IN_FORCE, Policy, policy_list
from collection.views.units import Unit, unit_on
from collection.views.worth import Valued, valuations_of

_LOAN = """
SELECT l.name, l.direction, p.name, l.out_on, l.due_on, l.cover FROM loan_item i JOIN loan l ON l.id = i.loan_id
JOIN person p ON p.id = l.person_id WHERE i.id = :item
"""
# Numbers count void rows too, as in the list of pictures.
_PHOTOS = """
SELECT a.number FROM (
  SELECT n.*, row_number() OVER (PARTITION BY n.unit_id ORDER BY n.id) AS number FROM attachment n
  WHERE n.unit_id = :unit
) a WHERE a.void = 0 AND (a.damage_id = :damage OR a.check_id = :check) ORDER BY a.id
"""
_OF_UNIT = "SELECT marks, serial_state FROM unit WHERE id = :id"


class OnLoan(NamedTuple):
    """The loan on which it happened: out, or in where the unit is borrowed; cover "" where not told."""

    loan: str
    direction: str
    person: str
    out_on: str
    due_on: str
    cover: str

    @property
    def how(self) -> str:
        """What the unit was: "on loan" or "borrowed"."""
        return "on loan" if self.direction == "out" else "borrowed"

    @property
    def whose(self) -> str:
        """The loan with the person to whom, or from whom, the unit was lent."""
        return f"{self.loan} {'to' if self.direction == 'out' else 'from'} {self.person}"


class ToDo(NamedTuple):
    """What is asked for and not told yet, and the options of damage edit that tell it."""

    what: str
    option: str


class DamageCase(NamedTuple):
    """A damage or loss and what the book knows around it.

    unit: as of the day it was found; marks: by which it is known. before: the last condition check before that day,
    at: the one that showed it. photos: numbers of its pictures among those of the unit. policies: in force that day,
    the one that was named first. worth: what it was worth then.
    """

    damage: Damage
    unit: Unit
    marks: str
    before: ConditionCheck | None
    at: ConditionCheck | None
    loan: OnLoan | None
    photos: tuple[int, ...]
    policies: tuple[Policy, ...]
    worth: Valued | None
    to_do: tuple[ToDo, ...]


def damage_case(conn: Connection, name: str, today: date) -> DamageCase:
    """Return the damage or loss of this name with what is around it. Raises Refused for an unknown name."""
    damage = find_damage(conn, name)
    day = min(parse_day(damage.found_on).last, today)
    unit = unit_on(conn, damage.unit_id, day)
    checks = condition_checks(conn, damage.unit_id)
    earlier = [each for each in checks if each.checked_on < damage.found_on and each.id != damage.check_id]
    at = next((each for each in checks if each.id == damage.check_id), None)
    photos = fetch(conn, _PHOTOS, unit=unit.id, damage=damage.id, check=damage.check_id)
    policies = _policies(conn, damage, day)
    valued = [each for each in valuations_of(conn, unit.id) if each.valued_on <= day.isoformat()]
    case = DamageCase(
        damage,
        unit,
        fetch(conn, _OF_UNIT, id=unit.id)[0][0] or "",
        earlier[-1] if earlier else None,
        at,
        _loan(conn, damage),
        tuple(row[0] for row in photos),
        policies,
        valued[0] if valued else None,
        (),
    )
    return case._replace(to_do=tuple(_to_do(case)) if damage.still_open else ())


def _loan(conn: Connection, damage: Damage) -> OnLoan | None:
    if damage.loan_item_id is None:
        return None
    return OnLoan._make("" if value is None else value for value in fetch(conn, _LOAN, item=damage.loan_item_id)[0])


def _policies(conn: Connection, damage: Damage, day: date) -> tuple[Policy, ...]:
    listed = [each for each in policy_list(conn) if each.state(day) == IN_FORCE or each.name == damage.policy]
    return tuple(sorted(listed, key=lambda each: each.name != damage.policy))


def _to_do(case: DamageCase) -> Iterator[ToDo]:
    """Yield what is asked for and not told.

    Spectrum 5.0, Damage and loss: reporter, how it happened, condition and picture, owner told, actions. That an
    insurer is told and asks what mending costs is common practice, no source.
    """
    damage = case.damage
    if not damage.circumstances:
        yield ToDo("how it happened", "--circumstances TEXT")
    if not damage.reported_by:
        yield ToDo("who reported it", "--reported-by PERSON --reported DATE")
    if not case.photos and damage.kind == "damage":
        yield ToDo("a picture of it", "--photo FILE")
    if case.at is None and damage.kind == "damage":
        yield ToDo("in what condition the unit is now", "--condition TEXT")
    if damage.estimate is None:
        yield ToDo("what mending or replacing it costs", "--estimate SUM")
    if not case.unit.owner:
        yield ToDo("whose it is", f"instead: spindlebook unit enter {typed(case.unit.tag)} --owner NAME")
    elif not damage.owner_told_on:
        yield ToDo(f"tell the owner, {case.unit.owner}", "--owner-told DATE")
    if case.policies and not damage.insurer_told_on:
        policy = case.policies[0].name
        yield ToDo(f"tell the insurer of {policy}", f'--insurer-told DATE --policy "{policy}" --claim NUMBER')
    if not damage.actions:
        yield ToDo("what is done about it", "--actions TEXT")
