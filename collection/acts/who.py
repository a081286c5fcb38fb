"""Who writes: the person named with --who, and what their role may write.

This is a courtesy between people who share a book: whoever names nobody is asked nothing. What an account of the
database may do is decided by the database.
"""

from __future__ import annotations

from sqlalchemy.engine import Connection, Engine

from collection.errors import Refused
from collection.store.chain import root_act
from collection.store.engine import fetch
from collection.views.people import Person, find_person

_WHO = "spindlebook_who"
# By role, the first words of the acts that may be written when it is named; None stands for every act.
MAY_WRITE: dict[str, tuple[str, ...] | None] = {
    "keeper": None,
    "issuer": ("loan", "condition", "damage", "shelf-check", "sighting", "fault"),
    "member": (),
    "owner": (),
    "outside": (),
}
_KEEPER = "Name a keeper with --who (or SPINDLEBOOK_WHO)."


def engine_of(engine: Engine, name: str) -> Engine:
    """Return the engine on which every act is one by the person of this name; nobody is looked for yet."""
    return engine.execution_options(**{_WHO: name})


def writer(conn: Connection, command: str, undoes: int | None) -> int | None:
    """Return the id of the person who writes an act, None where nobody is named.

    undoes: the act that this one takes back or brings back; it is allowed to those who may write that one.
    Raises Refused for somebody unknown or forgotten, and for a role that does not write such an act.
    """
    name = conn.get_execution_options().get(_WHO)
    if name is None:
        return None
    person = _known(conn, str(name))
    _refuse_role(person, command if undoes is None else _first_hand(conn, undoes))
    return person.id


def _known(conn: Connection, name: str) -> Person:
    try:
        return find_person(conn, name)
    except Refused as unknown:
        hint = f"Name another with --who, or leave it out. {unknown.hint}"
        raise Refused(f"--who: {unknown.what}", hint) from None


def _refuse_role(person: Person, command: str) -> None:
    allowed = MAY_WRITE[person.role]
    if allowed is None or command.split(maxsplit=1)[0] in allowed:
        return
    role = "somebody from outside" if person.role == "outside" else f"{_article(person.role)} {person.role}"
    if not allowed:
        raise Refused(f'--who: "{person.name}" is {role}, who reads the book and writes nothing in it.', _KEEPER)
    raise Refused(
        f'--who: "{person.name}" is {role}, who lends and checks; "{command}" is for a keeper.',
        _KEEPER,
    )


def _article(role: str) -> str:
    return "an" if role[0] in "aeiou" else "a"


def _first_hand(conn: Connection, act_id: int) -> str:
    """Return the command of the act at the root of a row of undos."""
    undoes = {row[0]: row[1] for row in fetch(conn, "SELECT id, undoes_id FROM act WHERE undoes_id IS NOT NULL")}
    return str(fetch(conn, "SELECT command FROM act WHERE id = :id", id=root_act(undoes, act_id))[0][0])
