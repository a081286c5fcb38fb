"""Photos and papers of a unit: the bytes are kept once by their hash, however often they are attached."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from typing import Any

from sqlalchemy.engine import Engine

from collection.acts.days import past_day
from collection.acts.texts import refuse_texts, refuse_texts_of
from collection.acts.work import Work, open_work
from collection.analysis.file_kinds import media_type_of
from collection.errors import Refused, typed
from collection.store.engine import fetch
from collection.views.attachments import Attachment, attachment_numbered, attachments_of
from collection.views.counts import counts
from collection.views.services import open_service_of
from collection.views.units import find_unit

_SAME = f"SELECT c.id FROM attachment_content c WHERE c.sha256 = :sha AND {counts('c')} ORDER BY c.id LIMIT 1"


@dataclass(frozen=True, slots=True)
class GivenPhoto:
    """A file as read: its name, its bytes, and what is to be seen ("": its name says it)."""

    name: str
    content: bytes
    title: str = ""
    note: str = ""


def add_photo(
    engine: Engine, tag: str, given: GivenPhoto, *, taken_on: str = "", today: date, now: datetime
) -> Attachment:
    """Attach a picture or a PDF to a unit, and to its open service if there is one.

    taken_on: maybe only a month or a year; "": not known. Raises Refused for a file that is none of the kinds kept
    or too big, and for one that is attached to the unit already.
    """
    with open_work(engine, "photo add", today=today, now=now) as work:
        unit = find_unit(work.conn, tag)
        taken = past_day(taken_on, today, "--on") if taken_on else ""
        service = open_service_of(work.conn, unit.id)
        made = attach(work, unit.id, given, taken, service.id if service else None)
        work.commit(f"{unit.tag}: attached {made.media_type}")
    return made


def attach(
    work: Work,
    unit_id: int,
    given: GivenPhoto,
    taken_on: str,
    service_id: int | None = None,
    *,
    check_id: int | None = None,
    damage_id: int | None = None,
) -> Attachment:
    """Attach one file to a unit; its bytes are written only where the book has none such. Raises as `add_photo`.

    check_id, damage_id: the condition check at which it was taken, the damage or loss that it shows.
    """
    refuse_texts_of(given)
    media_type = media_type_of(given.content, given.name)
    digest = sha256(given.content).hexdigest()
    there = [each for each in attachments_of(work.conn, unit_id) if each.sha256 == digest]
    if there:
        raise Refused(
            f'{given.name} is attached to {there[0].tag} already: {there[0].number} "{there[0].title}".',
            f"See: spindlebook photo list {typed(there[0].tag)}",
        )
    same = fetch(work.conn, _SAME, sha=digest)
    content = (
        same[0][0]
        if same
        else work.append("attachment_content", sha256=digest, size=len(given.content), content=given.content)
    )
    row = work.insert(
        "attachment",
        content_id=content,
        unit_id=unit_id,
        service_id=service_id,
        title=" ".join(given.title.split()) or given.name,
        media_type=media_type,
        taken_on=taken_on or None,
        note=given.note or None,
        check_id=check_id,
        damage_id=damage_id,
    )
    return next(each for each in attachments_of(work.conn, unit_id) if each.id == row)


def edit_photo(
    engine: Engine,
    tag: str,
    number: int,
    *,
    title: str | None = None,
    taken_on: str | None = None,
    note: str | None = None,
    reason: str = "",
    today: date,
    now: datetime,
) -> Attachment:
    """Change what is said of an attachment; None leaves a field, "" empties it.

    Raises Refused for no such number, and for an empty title.
    """
    refuse_texts(title=title or "", note=note or "")
    with open_work(engine, "photo edit", today=today, now=now, reason=reason or None) as work:
        unit = find_unit(work.conn, tag)
        found = attachment_numbered(work.conn, unit.id, unit.tag, number)
        told: dict[str, Any] = {}
        if title is not None:
            told["title"] = " ".join(title.split())
            if not told["title"]:
                raise Refused("A picture has a title: what is to be seen.", 'Type it as --title "front, as it came".')
        if taken_on is not None:
            told["taken_on"] = past_day(taken_on, today, "--on") if taken_on else None
        if note is not None:
            told["note"] = note or None
        if told and work.update("attachment", found.id, **told):
            found = attachment_numbered(work.conn, unit.id, unit.tag, number)
            work.commit(f"{unit.tag}: changed what is said of attachment {number}")
    return found
