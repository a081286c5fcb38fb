"""Adding people. Names never enter an act's summary: the journal knows personal data only as hashes."""

from __future__ import annotations

import os
from datetime import date, datetime

from sqlalchemy.engine import Engine

from collection.acts.edit import columns_told
from collection.acts.texts import refuse_texts
from collection.acts.work import open_work
from collection.errors import Refused, fold, nearest
from collection.schema.people import ROLES
from collection.views.people import Person, find_person, person_list


def add_person(
    engine: Engine,
    name: str,
    *,
    role: str = "member",
    email: str = "",
    phone: str = "",
    address: str = "",
    call_rank: str = "",
    today: date,
    now: datetime,
) -> Person:
    """Add a person; call_rank: the place in which they are called in an emergency.

    Raises Refused for a name that is taken, an unknown role, an address without "@", and a place that is none.
    """
    bare = " ".join(name.split())
    refuse_texts(email=email, phone=phone, address=address, name=bare)
    with open_work(engine, "person add", today=today, now=now) as work:
        if not bare:
            raise Refused("A person has a name, and none is given.", 'Type it as "Ada Quill".')
        if any(fold(person.name) == fold(bare) for person in person_list(work.conn)):
            raise Refused(f'There is a person "{bare}" already.', "Tell the two apart, as by a town behind the name.")
        if email and "@" not in email.strip()[1:-1]:
            raise Refused(f'"{email}" is no e-mail address: it has no "@" inside.', "Type it as ada@example.org.")
        work.insert(
            "person",
            name=bare,
            name_folded=fold(bare),
            role=_role(role),
            email=email.strip() or None,
            phone=phone.strip() or None,
            address=address.strip() or None,
            **columns_told(work, "person", {"call_rank": call_rank}, bare),
            salt=os.urandom(16).hex(),
        )
        made = find_person(work.conn, bare)
        work.commit("added a person")
    return made


def _role(text: str) -> str:
    if fold(text) in ROLES:
        return fold(text)
    near = nearest(text, ROLES)
    hint = f"Nearest: {', '.join(near)}." if near else f"Type one of: {', '.join(ROLES)}."
    raise Refused(f'Role "{text}" is none.', hint)
