"""People of the book, found by name."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.errors import Refused, fold, nearest
from collection.store.engine import fetch

_SQL = "SELECT id, name, role, email, phone, address, note FROM person WHERE void = 0"


class Person(NamedTuple):
    """A person; empty text stands for what is not known."""

    id: int
    name: str
    role: str
    email: str
    phone: str
    address: str
    note: str


def person_list(conn: Connection) -> list[Person]:
    """Return everyone, by name."""
    return [_person(row) for row in fetch(conn, f"{_SQL} ORDER BY name_folded")]


def find_person(conn: Connection, name: str) -> Person:
    """Return the person of this name. Raises Refused, naming the nearest."""
    rows = fetch(conn, f"{_SQL} AND name_folded = :name", name=fold(name))
    if rows:
        return _person(rows[0])
    known = [person.name for person in person_list(conn)]
    near = [each for each in known if fold(name) in fold(each)][:3] or nearest(name, known)
    hint = f"Nearest: {', '.join(near)}. " if near else ""
    raise Refused(f'There is no person "{name}".', f'{hint}A new one: spindlebook person add "{name}"')


def _person(row: tuple[object, ...]) -> Person:
    return Person._make("" if value is None else value for value in row)
