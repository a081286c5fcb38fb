"""What is attached to units as reports show it: small pictures, and the words that stand where there is none.

Making a photo small takes a tenth of a second and more, so the small ones are kept in the cache folder, by the hash of
the bytes that they were made of.
"""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Callable
from typing import NamedTuple

from sqlalchemy.engine import Connection

from collection import __version__
from collection.exchange.thumbnails import NoPicture, thumbnail
from collection.store.cache import Cache
from collection.views.attachments import Attachment, attachments_by_unit, attachments_of, content_of

_PAPERS = "application/pdf"
_ANY = 64  # pixels; whether it can be shown does not depend on how big


class Picture(NamedTuple):
    """An attachment as it is shown: its number among those of its unit, what is to be seen, when it was taken ("").

    media_type: of the file as it was attached. jpeg: the small picture, or None; then `why` says why there is none.
    """

    number: int
    title: str
    taken_on: str
    media_type: str
    jpeg: bytes | None
    why: str


def pictures_of_unit(conn: Connection, cache: Cache | None, unit_id: int, box_px: int) -> list[Picture]:
    """Return everything that is attached to a unit, in the order of entry; papers (PDF) have no picture.

    cache: where small pictures are kept, if anywhere. box_px: each fits into a square of so many pixels.
    """
    return [_picture(conn, cache, each, box_px) for each in attachments_of(conn, unit_id)]


def lead_pictures(
    conn: Connection,
    cache: Cache | None,
    box_px: int,
    *,
    tick: Callable[[int, int], None] | None = None,
) -> dict[int, Picture]:
    """Return of each unit the first attachment that can be shown, by the unit's id; units without one are left out.

    cache, box_px: as of `pictures_of_unit`. tick: called with the units done and how many there are.
    """
    attached = attachments_by_unit(conn)
    leads: dict[int, Picture] = {}
    for done, (unit, listed) in enumerate(attached.items(), 1):
        shown = (_picture(conn, cache, each, box_px) for each in listed if each.media_type != _PAPERS)
        lead = next((picture for picture in shown if picture.jpeg), None)
        if lead:
            leads[unit] = lead
        if tick:
            tick(done, len(attached))
    return leads


def why_not_shown(content: bytes, media_type: str) -> str:
    """Return why reports cannot show what was attached, or ""; a paper is not meant to be shown."""
    if media_type == _PAPERS:
        return ""
    try:
        thumbnail(content, _ANY)
    except NoPicture as refusal:
        return refusal.what
    return ""


def _picture(contents: Connection, cache: Cache | None, found: Attachment, box_px: int) -> Picture:
    jpeg, why = _kept(contents, cache, found, box_px)
    return Picture(found.number, found.title, found.taken_on, found.media_type, jpeg, why)


def _kept(contents: Connection, cache: Cache | None, found: Attachment, box_px: int) -> tuple[bytes | None, str]:
    """Return the small picture, or why there is none, from what is kept where it is kept."""
    if found.media_type == _PAPERS:
        return None, "a PDF"
    name = f"picture-{found.sha256}-{box_px}"
    kept = cache.load(name, __version__) if cache else None
    if kept:
        return (b64decode(kept["jpeg"]) or None), kept["why"]
    jpeg, why = b"", ""
    try:
        jpeg = thumbnail(content_of(contents, found), box_px)
    except NoPicture as refusal:
        why = refusal.what
    if cache:
        cache.save(name, __version__, {"jpeg": b64encode(jpeg).decode("ascii"), "why": why})
    return jpeg or None, why
