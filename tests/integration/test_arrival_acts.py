"""Units that come, new or again: noted as they came, and due to be looked over."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.arrivals import GivenArrival, correct_arrival, record_arrival
from collection.acts.attachments import GivenPhoto
from collection.acts.loan_out import lend
from collection.acts.readings import GivenReading
from collection.acts.service_given import GivenService
from collection.acts.service_record import open_service, record_service
from collection.acts.undo import undo
from collection.acts.units import enter
from collection.errors import Expected
from collection.schema.columns import SHORT
from collection.store.engine import reading
from collection.views.attachments import attachments_of
from collection.views.card import Card, card_of
from collection.views.entries import entry_list
from collection.views.reading_list import readings_of
from tests.support.books import digest
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

TIMES: dict[str, Any] = {"today": TODAY, "now": NOW}
NEW = {"model": "VX-5", "maker": "Varnhall", "kind": "drive", "drive_type": "belt", "serial": "0012"}
TEXTS = {
    "contents": "drive, two disks",
    "damage": "bezel cracked",
    "mains_setting": "115 V",
    "fuse": "1 A slow",
    "cord": "x" * SHORT,
}


def arrive(engine: Engine, tag: str = "D1", **given: Any) -> None:
    """Note an arrival."""
    record_arrival(engine, tag, GivenArrival(**given), **TIMES)


def card(engine: Engine) -> Card:
    """Return the card of D1."""
    with reading(engine) as conn:
        return card_of(conn, "D1", TODAY)


def due(engine: Engine) -> list[tuple[str, str]]:
    """Return what is due on D1 today: procedure and since when."""
    return [(item.procedure, item.due.isoformat()) for item in card(engine).due if item.due <= TODAY]


def known(engine: Engine) -> None:
    """Put D1 on the shelf, looked over long ago, in a book whose only procedure is the arrival check."""
    with shelf(engine) as made:
        made.no_procedures()
        made.procedure("arrival check", triggers="after arrival")
        made.service(made.unit("D1"), "2021-05-05", "arrival check")
        made.person("Anna Lerk")


def test_a_new_unit_is_noted_as_it_came(engine: Engine) -> None:
    """Its record, who sent it, box, damage, mains, fuse, a reading between services and a picture, in one act."""
    with shelf(engine) as made:
        made.person("Anna Lerk")
        made.series(made.unit("D9"))
        made.named("instrument", "disk A")
    speed = GivenReading("spindle speed", "312", instrument="disk A")
    photo = GivenPhoto("a.jpg", b"\xff\xd8\xff", title="front")

    arrive(engine, record=NEW, sender="anna lerk", texts=TEXTS, readings=(speed,), photos=(photo,), on="2026-02-27")

    shown = card(engine)
    last = shown.arrivals[0]
    assert ("2026-02-27", "Anna Lerk", *TEXTS.values()) == (
        last.arrived_on,
        last.sender,
        last.contents,
        last.damage,
        last.mains_setting,
        last.fuse,
        last.cord,
    )
    assert ("arrived", "2026-02-27", "0012", 1) == (
        shown.unit.standing,
        shown.unit.standing_from,
        shown.unit.serial,
        shown.photos,
    )
    assert [("arrival", "mains_setting", "115 V")] == [(each.record, each.field, each.value) for each in shown.doubts]
    with reading(engine) as conn:
        [taken] = readings_of(conn, shown.unit)
        [picture] = attachments_of(conn, shown.unit.id)
    assert ("between", "2026-02-27", "", "front", "2026-02-27") == (
        taken.stage,
        taken.taken_on,
        taken.service,
        picture.title,
        picture.taken_on,
    )


def test_a_unit_that_comes_again_is_due_to_be_looked_over_until_a_service_did(engine: Engine) -> None:
    """The check of years ago does not count; one service without an outcome puts it on the bench."""
    known(engine)
    assert [] == due(engine)

    arrive(engine, on="2026-02-27", texts={"damage": "foot lost"})
    assert ("arrived", [("arrival check", "2026-02-27")]) == (card(engine).unit.standing, due(engine))
    record_service(engine, "D1", GivenService(did=("arrival check",)), **TIMES)

    assert ("on the bench", "2026-03-01", []) == (
        card(engine).unit.standing,
        card(engine).unit.standing_from,
        due(engine),
    )


def test_an_undone_arrival_leaves_the_unit_as_it_stood(engine: Engine) -> None:
    """Nothing of it counts any more, and it can be noted anew on the same day; its number may stand on a receipt."""
    known(engine)
    arrive(engine, texts=TEXTS)
    undo(engine, None, **TIMES)

    assert ("ready", (), (), []) == (
        card(engine).unit.standing,
        card(engine).arrivals,
        card(engine).doubts,
        due(engine),
    )
    arrive(engine)
    assert ["E2"] == [each.entry_number for each in card(engine).arrivals]


def test_an_arrival_is_put_right_with_a_reason(engine: Engine) -> None:
    """Only what is told changes; the mark for foreign mains goes with the wrong setting."""
    known(engine)
    arrive(engine, texts=TEXTS)
    right = GivenArrival(sender="Anna Lerk", texts={"mains_setting": "230 V", "damage": ""})

    changes = correct_arrival(engine, "d1", right, reason="read wrongly", **TIMES)

    assert {("sender", "", "Anna Lerk"), ("mains_setting", "115 V", "230 V"), ("damage", "bezel cracked", "")} == set(
        changes
    )
    assert () == card(engine).doubts
    assert "1 A slow" == card(engine).arrivals[0].fuse


def _twice(engine: Engine) -> None:
    arrive(engine)


def _on_loan(engine: Engine) -> None:
    lend(engine, ["D1"], to="Anna Lerk", due="2026-06-01", **TIMES)


def _open(engine: Engine) -> None:
    open_service(engine, "D1", GivenService(), **TIMES)


REFUSED: list[tuple[dict[str, Any], str]] = [
    ({"tag": "D2"}, 'No unit has the tag "D2".*--model'),
    ({"record": {"model": "VX-5"}}, "in the book already, a Varnhall VX-5"),
    ({"on": "2026-03-02"}, "has not come yet"),
    ({"on": "2026-02"}, "names no single day"),
    ({"sender": "Nobody"}, 'no person "Nobody"'),
    ({"location": "moon"}, 'no location "moon".*--new-location'),
    ({"texts": {"fuse": "x" * (SHORT + 1)}}, f"fuse has {SHORT + 1} characters; at most {SHORT}"),
    ({"tag": "D2", "record": {"model": "VX-5"}, "photos": (GivenPhoto("a.txt", b"text"),)}, "a.txt is no picture"),
    ({"readings": (GivenReading("spindle sped", "300"),)}, "spindle speed"),
    ({"texts": {"return_by": "2026-02-28"}}, "--return-by 2026-02-28 is before the day it came, 2026-03-01"),
    ({"texts": {"receipt_on": "2026-03-02"}}, "--receipt 2026-03-02 has not come yet"),
]


def test_what_one_person_brings_on_one_day_may_share_an_entry_number(engine: Engine) -> None:
    """Each arrival has one, the next free unless told; that of another person or another day is refused."""
    known(engine)
    arrive(
        engine, sender="Anna Lerk", texts={"reason": "a gift", "return_by": "2026-03-01", "receipt_on": "2026-03-01"}
    )
    arrive(engine, "D2", record=NEW, sender="Anna Lerk", texts={"entry_number": "e1"})
    arrive(engine, "D3", record=NEW)
    was = digest(engine)

    for given in ({"sender": "Anna Lerk", "on": "2026-02-28"}, {}):
        with pytest.raises(Expected, match="Entry number E1 is that of D1, which came on 2026-03-01"):
            arrive(engine, "D4", record=NEW, texts={"entry_number": "E1"}, **given)

    assert was == digest(engine)
    with reading(engine) as conn:
        rows = entry_list(conn, TODAY)
    assert [("E1", "D1", 0), ("E1", "D2", None), ("E2", "D3", None)] == [
        (row.entry_number, row.tag, row.days_over) for row in rows
    ]


def test_an_entry_stays_that_of_one_person_when_an_arrival_is_put_right(engine: Engine) -> None:
    """Another sender takes another number along, which the next may share; its own number stands in nobody's way."""
    known(engine)
    arrive(engine, texts={"entry_number": "E1"})
    arrive(engine, "D2", record=NEW, texts={"entry_number": "E1"})
    from_anna = GivenArrival(sender="Anna Lerk")

    with pytest.raises(Expected, match=r"(?s)Entry number E1 is that of D1.*--entry E2"):
        correct_arrival(engine, "D2", from_anna, reason="slip", **TIMES)
    for tag in ("D2", "D1"):
        moved = GivenArrival(sender="Anna Lerk", texts={"entry_number": "E2"})
        correct_arrival(engine, tag, moved, reason="slip", **TIMES)
    correct_arrival(engine, "D1", GivenArrival(texts={"entry_number": "e2", "note": "x"}), reason="slip", **TIMES)

    with reading(engine) as conn:
        rows = entry_list(conn, TODAY)
    assert [("E2", "D1", "Anna Lerk"), ("E2", "D2", "Anna Lerk")] == [
        (row.entry_number, row.tag, row.sender and row.sender.name) for row in rows
    ]


def test_what_has_gone_back_is_over_no_day(engine: Engine) -> None:
    """A unit to be returned counts its days past the day told, until it is gone, and not again when it comes anew."""
    known(engine)
    arrive(engine, on="2026-02-01", texts={"return_by": "2026-02-27"})

    with reading(engine) as conn:
        late = entry_list(conn, TODAY)[0].days_over
    enter(engine, "D1", standing="gone", reason="went back", **TIMES)
    with reading(engine) as conn:
        back = entry_list(conn, TODAY)[0].days_over
    arrive(engine, texts={"return_by": "2026-03-05"})
    with reading(engine) as conn:
        anew = [row.days_over for row in entry_list(conn, TODAY)]

    enter(engine, "D1", standing="away", **TIMES)
    with reading(engine) as conn:
        away = [row.days_over for row in entry_list(conn, TODAY)]

    assert (2, None, [-4, None], [None, None]) == (late, back, anew, away)


def test_what_is_no_arrival_changes_nothing(engine: Engine) -> None:
    """The refusal says what stands against it; not even the new unit stays."""
    known(engine)
    was = digest(engine)

    for given, said in REFUSED:
        with pytest.raises(Expected, match=f"(?s){said}"):
            arrive(engine, **given)

    assert was == digest(engine)


@pytest.mark.parametrize(
    ("before", "said"),
    [(_twice, "has arrived on 2026-03-01 already"), (_on_loan, "on loan to Anna Lerk"), (_open, "has a service open")],
)
def test_a_unit_that_cannot_come_stays_as_it_stands(
    engine: Engine, before: Callable[[Engine], None], said: str
) -> None:
    """It has come that day already, is out, or is on the bench."""
    known(engine)
    before(engine)
    was = digest(engine)

    with pytest.raises(Expected, match=said):
        arrive(engine, texts=TEXTS)

    assert was == digest(engine)


def test_a_correction_without_a_reason_an_arrival_or_a_text_of_its_own_changes_nothing(engine: Engine) -> None:
    """Each says what to do instead."""
    known(engine)
    was = digest(engine)

    for given, reason, said in (
        (GivenArrival(), " ", "for a reason"),
        (GivenArrival(), "late", "no arrival in the book"),
        (GivenArrival(record={"serial": "7"}), "late", "--correct changes only"),
    ):
        with pytest.raises(Expected, match=said):
            correct_arrival(engine, "D1", given, reason=reason, **TIMES)

    assert was == digest(engine)
