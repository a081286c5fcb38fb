"""Photos of units: kept once by content, numbered for good, given back byte for byte."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from sqlalchemy.engine import Engine

from collection.acts.attachments import GivenPhoto, add_photo, edit_photo
from collection.acts.undo import undo
from collection.errors import Refused
from collection.exchange import pictures
from collection.exchange.pictures import lead_pictures, pictures_of_unit
from collection.exchange.thumbnails import thumbnail
from collection.store.cache import Cache
from collection.store.engine import fetch, reading
from collection.views.attachments import attachments_of, content_of
from collection.views.units import find_unit
from collection.views.verify import verify
from tests.support.books import digest
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

TIMES: dict[str, Any] = {"today": TODAY, "now": NOW}
FRONT = GivenPhoto("front.jpg", b"\xff\xd8\xff\x00\x01front")
BACK = GivenPhoto("back.jpg", b"\xff\xd8\xff\x00\x01back", title="  the   back ", note="label gone")


def two_drives(engine: Engine) -> None:
    """Put two drives on the shelf."""
    with shelf(engine) as made:
        made.unit("D1")
        made.unit("D2")


def kept(engine: Engine) -> int:
    """Return how many contents the book holds, counted or not."""
    with reading(engine) as conn:
        return int(fetch(conn, "SELECT count(*) FROM attachment_content")[0][0])


def test_one_picture_of_two_units_is_kept_once_and_given_back_as_it_came(engine: Engine) -> None:
    """Same bytes, one row; each unit counts its own pictures; the book still keeps its rules."""
    two_drives(engine)

    numbers = [
        add_photo(engine, tag, photo, **TIMES).number for tag, photo in (("D1", FRONT), ("d2", FRONT), ("D1", BACK))
    ]

    assert ([1, 1, 2], 2) == (numbers, kept(engine))
    with reading(engine) as conn:
        first, second = attachments_of(conn, find_unit(conn, "D1").id)
        assert (FRONT.content, BACK.content) == (content_of(conn, first), content_of(conn, second))
        assert ("front.jpg", "the back", "label gone", "image/jpeg", 9) == (
            first.title,
            second.title,
            second.note,
            first.media_type,
            second.size,
        )
        assert not verify(conn).broken


def test_a_number_never_passes_to_another_picture(engine: Engine) -> None:
    """An attachment that is undone keeps its number, and its bytes count no more: they are written again."""
    two_drives(engine)
    add_photo(engine, "D1", FRONT, **TIMES)
    undo(engine, None, **TIMES)

    again = add_photo(engine, "D1", FRONT, **TIMES)

    assert (2, 2) == (again.number, kept(engine))
    with pytest.raises(Refused, match="D1 has no picture 1; it has 2"):
        edit_photo(engine, "D1", 1, title="front", **TIMES)


def test_the_same_picture_twice_on_a_unit_and_what_is_none_change_nothing(engine: Engine) -> None:
    """Each is refused by name."""
    two_drives(engine)
    add_photo(engine, "D1", FRONT, **TIMES)
    before = digest(engine)

    with pytest.raises(Refused, match=r'attached to D1 already: 1 "front.jpg"'):
        add_photo(engine, "D1", GivenPhoto("other name.jpg", FRONT.content), **TIMES)
    with pytest.raises(Refused, match=r"notes\.txt is no picture"):
        add_photo(engine, "D1", GivenPhoto("notes.txt", b"notes"), **TIMES)
    with pytest.raises(Refused, match="title"):
        edit_photo(engine, "D1", 1, title="  ", **TIMES)

    assert before == digest(engine)


def test_what_is_said_of_a_picture_can_be_changed_and_taken_away(engine: Engine) -> None:
    """Only what is told changes; the reason stands in the history; a title stays."""
    two_drives(engine)
    add_photo(engine, "D1", BACK, taken_on="2019-05", **TIMES)

    made = edit_photo(engine, "D1", 1, title="rear", taken_on="2020", note="", reason="dated by the owner", **TIMES)

    assert ("rear", "2020", "") == (made.title, made.taken_on, made.note)
    with reading(engine) as conn:
        assert "dated by the owner" == fetch(conn, "SELECT reason FROM act ORDER BY id DESC LIMIT 1")[0][0]


def test_reports_show_the_first_picture_that_can_be_shown_and_keep_it_small(
    engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A paper and a damaged picture stand there in words; a second report reads no photo again."""
    two_drives(engine)
    drawn = BytesIO()
    Image.new("RGB", (300, 200), "green").save(drawn, "PNG")
    receipt = GivenPhoto("receipt.pdf", b"%PDF-1.4 of a sale", title="receipt")
    for photo in (receipt, FRONT, GivenPhoto("side.png", drawn.getvalue(), title="side")):
        add_photo(engine, "D1", photo, taken_on="2025-11", **TIMES)
    add_photo(engine, "D2", receipt, **TIMES)
    cache = Cache(tmp_path, "book")

    with reading(engine) as conn:
        one = find_unit(conn, "D1").id
        shown, leads = pictures_of_unit(conn, cache, one, 64), lead_pictures(conn, cache, 64)
        monkeypatch.setattr(pictures, "thumbnail", None)
        assert (shown, leads) == (pictures_of_unit(conn, cache, one, 64), lead_pictures(conn, cache, 64))

    assert [("receipt", "a PDF"), ("front.jpg", "the picture breaks off or is damaged."), ("side", "")] == [
        (each.title, each.why) for each in shown
    ]
    assert [None, None, thumbnail(drawn.getvalue(), 64)] == [each.jpeg for each in shown]
    assert {one: shown[2]} == leads
    assert ("side", "2025-11", 3) == (shown[2].title, shown[2].taken_on, shown[2].number)
