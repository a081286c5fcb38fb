"""What to carry out first when the collection is in danger, where it stands, and whom to call."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.analysis.schedule import tag_order
from collection.quantity import Money
from collection.store.book import open_book
from collection.store.engine import fetch
from collection.views.people import forgotten
from collection.views.policies import IN_FORCE, Policy, policy_list
from collection.views.unit_list import Wanted
from collection.views.units import LOST, Unit
from collection.views.worth import Worth, worth_list

# Common practice, no source: people before things, those in charge before keepers, and wet electrical things.
CAUTIONS = (
    "People first: nobody goes in, or goes back in, for a thing. The fire brigade, or who is in charge, says when.",
    "Who may do it cuts the mains before anything is touched. What is wet stays unplugged and is not switched on.",
    "Two people lift what is heavy. Look at the way out before you lift.",
)
_NOT_HERE = ("gone", "away", *LOST, "on loan")
_DETAILS = "SELECT id, rescue_rank, rescue_note, serial, marks FROM unit WHERE void = 0"
_BORROWED = """
SELECT i.unit_id, p.name FROM loan_item i JOIN loan l ON l.id = i.loan_id JOIN person p ON p.id = l.person_id
WHERE i.void = 0 AND l.void = 0 AND l.direction = 'in' AND l.out_on <= :day
  AND (i.back_on IS NULL OR i.back_on > :day) ORDER BY l.out_on, i.id
"""
_CONTACTS = """
SELECT id, name, role, phone, email, call_rank FROM person
WHERE void = 0 AND (call_rank IS NOT NULL OR role = 'keeper')
ORDER BY CASE WHEN call_rank IS NULL THEN 1 ELSE 0 END, call_rank, name_folded
"""
_PLACES = "SELECT id, name, inside_id FROM location WHERE void = 0"


class Carried(NamedTuple):
    """A unit that is here, in the order in which it is carried out.

    rank: as it was given, None for none. why: it stands in this place. where: its location, and what that is inside of.
    mind: what to mind when it is carried, "" for nothing told.
    """

    place: int
    unit: Unit
    rank: int | None
    why: str
    where: str
    mind: str
    marks: str
    borrowed_from: str
    worth: Money | None


class Contact(NamedTuple):
    """Whom to call; rank None for a keeper without one. "" for what is not known."""

    name: str
    role: str
    phone: str
    email: str
    rank: int | None


class Emergency(NamedTuple):
    """The list: what is carried out, whom to call, which policies are in force, and what is not here to be carried."""

    carried: tuple[Carried, ...]
    contacts: tuple[Contact, ...]
    policies: tuple[Policy, ...]
    elsewhere: int


def emergency(conn: Connection, today: date, location: str = "") -> Emergency:
    """Return the list for all that is here, or for one location and what is inside it.

    In order: units with a rank; what is borrowed; then by worth in the book's currency, other currencies and units of
    no known worth after it. Raises Refused for an unknown location.
    """
    listed = worth_list(conn, today, Wanted(location=location))
    here = [each for each in listed if each.unit.standing not in _NOT_HERE]
    details = {row[0]: row[1:] for row in fetch(conn, _DETAILS)}
    lenders: dict[int, str] = dict(fetch(conn, _BORROWED, day=today.isoformat()))
    ranks = {unit_id: row[0] for unit_id, row in details.items() if row[0] is not None}
    currency = open_book(conn).settings.currency
    here.sort(key=lambda each: tag_order(each.unit.tag))
    here.sort(key=lambda each: _order(each, ranks.get(each.unit.id), each.unit.id in lenders, currency))
    where = _paths(conn)
    carried = (
        Carried(
            place,
            each.unit,
            ranks.get(each.unit.id),
            _why(each, ranks.get(each.unit.id), lenders.get(each.unit.id, "")),
            where.get(each.unit.location, each.unit.location),
            details[each.unit.id][1] or "",
            details[each.unit.id][3] or "",
            lenders.get(each.unit.id, ""),
            each.valued.amount if each.valued else None,
        )
        for place, each in enumerate(here, 1)
    )
    return Emergency(tuple(carried), _contacts(conn), _in_force(conn, today), len(listed) - len(here))


def _order(each: Worth, rank: int | None, borrowed: bool, currency: str) -> tuple[float, ...]:
    """Return by what a unit goes before another; the smaller goes first."""
    if rank is not None:
        return (0, rank)
    if borrowed:
        return (1,)
    if each.valued is None:
        return (4,)
    return (2 if each.valued.amount.currency == currency else 3, -each.valued.amount.minor)


def _why(each: Worth, rank: int | None, lender: str) -> str:
    if rank is not None:
        return f"rank {rank}"
    if lender:
        return f"borrowed from {lender}"
    return f"worth {each.valued.amount.text} {each.valued.amount.currency}" if each.valued else "worth not known"


def _paths(conn: Connection) -> dict[str, str]:
    """Return each location's name with those it is inside of, the nearest first."""
    places = {row[0]: (row[1], row[2]) for row in fetch(conn, _PLACES)}
    found: dict[str, str] = {}
    for name, inside in places.values():
        names, at = [name], inside
        while at in places and places[at][0] not in names:
            names.append(places[at][0])
            at = places[at][1]
        found[name] = ", ".join(names)
    return found


def _contacts(conn: Connection) -> tuple[Contact, ...]:
    """Return whom to call, by rank; keepers without one come last."""
    gone = forgotten(conn)
    return tuple(
        Contact._make([*("" if value is None else value for value in row[1:5]), row[5]])
        for row in fetch(conn, _CONTACTS)
        if row[0] not in gone
    )


def _in_force(conn: Connection, today: date) -> tuple[Policy, ...]:
    return tuple(each for each in policy_list(conn) if each.state(today) == IN_FORCE)
