"""Forgetting a person whose history is closed: what was personal is written over, what happened stays countable.

The journal has only salted hashes of it. Their salts are written over as well, so that no guess can be tried against
them; the chain of acts is as whole as before.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from sqlalchemy.engine import Connection, Engine

from collection.acts.texts import refuse_texts
from collection.acts.work import open_work
from collection.errors import Refused, typed
from collection.store.engine import fetch
from collection.store.traces import overwrite_what_is_deleted
from collection.views.people import FORGET, FORGOTTEN, Person, find_person, is_forgotten
from collection.views.person_texts import naming
from collection.views.person_ties import ties_of

_SHOWN = 5


def forget_person(engine: Engine, name: str, *, reason: str, today: date, now: datetime) -> str:
    """Forget a person; returns the name under which the book counts on. No undo brings them back.

    Raises Refused as `may_be_forgotten` does.
    """
    with open_work(engine, FORGET, today=today, now=now, reason=reason.strip() or None) as work:
        person = may_be_forgotten(work.conn, name, reason, today)
        overwrite_what_is_deleted(work.conn)
        left = _free_name(work.conn)
        work.forget_person(person.id, left)
        work.commit("forgot a person")
    return left


def may_be_forgotten(conn: Connection, name: str, reason: str, today: date) -> Person:
    """Return the person of this name, whose history is closed.

    Raises Refused for an unknown person or one who was forgotten, without a reason, for a reason that names them, for
    open loans either way, reservations, units of theirs that are not gone, open services of theirs, and for who made
    the last act.
    """
    refuse_texts(reason=reason)
    person = find_person(conn, name, forgotten_too=True)
    if is_forgotten(conn, person):
        raise Refused(f'"{person.name}" was forgotten already.', "Type: spindlebook person list")
    if not reason.strip():
        raise Refused("To forget a person needs a reason.", 'Add --reason "REASON" without their name: it stays.')
    if naming(person, strictly=True)(reason):
        raise Refused("The reason names the person, and the history keeps it for ever.", "Say it without their name.")
    _refuse_tied(conn, person, today, last=_last_act(conn))
    return person


def _last_act(conn: Connection) -> int:
    """The newest act that is over: one that is being written is not yet sealed."""
    return int(fetch(conn, "SELECT coalesce(max(act_id), 0) FROM seal")[0][0])


def _refuse_tied(conn: Connection, person: Person, today: date, last: int) -> None:
    ties = ties_of(conn, person.id, today, last)
    if ties.lent:
        tags = [tag for tag, _ in ties.lent]
        raise Refused(
            f"{person.name} still has {_some(tags)} on loan.",
            f"Take it back first: spindlebook loan back {typed(tags[0])}",
        )
    if ties.borrowed:
        raise Refused(
            f"{_some([tag for tag, _ in ties.borrowed])} is still borrowed from {person.name}.",
            f"Once it is back with them: spindlebook loan give-back {typed(ties.borrowed[0][0])}",
        )
    if ties.reserved:
        raise Refused(
            f"{_some(ties.reserved)} is reserved for {person.name}.",
            f"Give that up first: spindlebook loan unreserve {typed(ties.reserved[0])}",
        )
    if ties.owned:
        raise Refused(
            f"{person.name} owns {_some(ties.owned)}.",
            f'Say whose it is now: spindlebook unit enter {typed(ties.owned[0])} --owner "NAME"; or --standing gone.',
        )
    if ties.at_work:
        raise Refused(
            f"{person.name} has an open service of {_some(ties.at_work)}.",
            f"Close it first: spindlebook service close {typed(ties.at_work[0])}",
        )
    if ties.damage:
        raise Refused(
            f"{person.name} reported, noted or had on loan what is still open: {_some(ties.damage)}.",
            f"Close it first: spindlebook damage close {typed(ties.damage[0])} --outcome TEXT",
        )
    if ties.last_act is not None:
        raise Refused(
            f"The last act of the book, {ties.last_act}, is by {person.name}.", "Let another keeper act first."
        )


def _some(tags: Sequence[str]) -> str:
    more = f" and {len(tags) - _SHOWN} more" if len(tags) > _SHOWN else ""
    return ", ".join(tags[:_SHOWN]) + more


def _free_name(conn: Connection) -> str:
    """Return "forgotten person 1" and so on: a name that nobody has."""
    taken = {row[0] for row in fetch(conn, "SELECT name_folded FROM person WHERE void = 0")}
    number = 1
    while f"{FORGOTTEN} {number}" in taken:
        number += 1
    return f"{FORGOTTEN} {number}"
