"""People of the book, found by name."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection.errors import Refused, fold, nearest, typed
from collection.store.engine import fetch

FORGET = "person forget"
FORGOTTEN = "forgotten person"
_SQL = "SELECT id, name, role, email, phone, address, note, call_rank FROM person WHERE void = 0"


class Person(NamedTuple):
    """A person; empty text stands for what is not known. call_rank: their place when people are called for help."""

    id: int
    name: str
    role: str
    email: str
    phone: str
    address: str
    note: str
    call_rank: int | None = None


def person_list(conn: Connection) -> list[Person]:
    """Return everyone, by name."""
    return [_person(row) for row in fetch(conn, f"{_SQL} ORDER BY name_folded")]


def find_person(conn: Connection, name: str, *, forgotten_too: bool = False) -> Person:
    """Return the person of this name. Raises Refused, naming the nearest, and for what is left of a forgotten one."""
    rows = fetch(conn, f"{_SQL} AND name_folded = :name", name=fold(name))
    if rows:
        person = _person(rows[0])
        if not forgotten_too and is_forgotten(conn, person):
            raise Refused(
                f'"{person.name}" stands for somebody who was forgotten, and nothing new is put to that name.',
                'Name another person, or a new one: spindlebook person add "NAME"',
            )
        return person
    known = [person.name for person in person_list(conn)]
    near = [each for each in known if fold(name) in fold(each)][:3] or nearest(name, known)
    hint = f"Nearest: {', '.join(near)}. " if near else ""
    raise Refused(f'There is no person "{name}".', f"{hint}A new one: spindlebook person add {typed(name)}")


def is_forgotten(conn: Connection, person: Person) -> bool:
    """Say whether only a number is left of a person."""
    return fold(person.name).startswith(FORGOTTEN) and person.id in forgotten(conn)


def forgotten(conn: Connection) -> set[int]:
    """Return the people who were forgotten; the journal alone says who, and no such act can be taken back."""
    sql = (
        "SELECT c.row_id FROM change c JOIN act a ON a.id = c.act_id"
        f" WHERE a.command = '{FORGET}' AND c.table_name = 'person'"
    )
    return {row[0] for row in fetch(conn, sql)}


def _person(row: tuple[object, ...]) -> Person:
    *texts, call_rank = row
    return Person._make(["" if value is None else value for value in texts] + [call_rank])
