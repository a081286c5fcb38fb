"""Units that leave for good, on a book."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.condition_checks import GivenCheck, add_check
from collection.acts.damage import GivenDamage, add_damage
from collection.acts.dispose import GivenExit, dispose, edit_exit
from collection.acts.loan_back import take_back
from collection.acts.loan_given import ComingBack
from collection.acts.loan_in import give_back
from collection.acts.reservations import unreserve
from collection.acts.service_given import GivenService
from collection.acts.service_record import close_service, record_service
from collection.acts.undo import undo
from collection.acts.units import add_unit, enter
from collection.errors import Expected, Moved
from collection.store.engine import fetch, reading
from collection.views.exits import Exit, exit_list, leaving_of
from collection.views.units import find_unit, unit_on
from collection.views.verify import verify
from tests.support.books import digest, scalar
from tests.support.shelf import Shelf, shelf
from tests.support.times import NOW, TODAY

TIMES: dict[str, Any] = {"today": TODAY, "now": NOW}
SOLD = GivenExit("sold", "three of this model", to="ada quill", authority="Ida Keep", price="120 USD")


def left(engine: Engine) -> list[Exit]:
    """Return what left."""
    with reading(engine) as conn:
        return exit_list(conn, TODAY)


def test_a_unit_that_is_sold_is_gone_with_all_that_is_told_and_its_tag_is_never_given_again(engine: Engine) -> None:
    """The row keeps who, why, by whom, for how much; pairings end, none before it began; an undo brings all back."""
    with shelf(engine) as made:
        drive, supply = made.unit("D1"), made.unit("P1")
        for feeds, since in ((supply, "2025-01-01"), (made.unit("P2"), "2026-03-01")):
            made.work.insert("pairing", drive_id=drive, supply_unit_id=feeds, from_date=since)
        made.person("Ada Quill")
        made.person("Ida Keep")

    dispose(engine, "d1", SOLD, on="2026-02-28", **TIMES)

    one = left(engine)[0]
    assert one.price
    assert ("D1", "2026-02-28", "sold", "three of this model", "Ada Quill", "Ida Keep", "120.00") == (
        one.tag, one.left_on, one.how, one.reason, one.to, one.authority, one.price.text,
    )  # fmt: skip
    with reading(engine) as conn:
        assert "gone" == unit_on(conn, find_unit(conn, "D1").id, TODAY).standing
        assert [("2026-02-28",), ("2026-03-01",)] == fetch(conn, "SELECT to_date FROM pairing ORDER BY id")
    with pytest.raises(Expected, match="no tag is given twice"):
        add_unit(engine, "D1", {"model": "VX-5"}, **TIMES)
    undo(engine, None, **TIMES)
    assert [] == left(engine)
    with reading(engine) as conn:
        assert "ready" == unit_on(conn, find_unit(conn, "D1").id, TODAY).standing


def test_a_unit_that_is_gone_with_nothing_told_is_listed_and_can_be_told_of(engine: Engine) -> None:
    """What was entered as a standing alone stays as it is; the disposal takes its day and adds no second standing."""
    with shelf(engine) as made:
        made.unit("D1")
        made.person("Ada Quill")
    enter(engine, "D1", standing="gone", on="2025-05", reason="went with the lathe", **TIMES)
    bare = left(engine)[0]

    with pytest.raises(Expected, match="gone since 2025-05, not since 2026-01-01"):
        dispose(engine, "D1", replace(SOLD, authority=""), on="2026-01-01", **TIMES)
    dispose(engine, "D1", replace(SOLD, authority=""), **TIMES)

    assert (None, "", "went with the lathe") == (bare.id, bare.how, bare.reason)
    assert [("2025-05", "sold")] == [(each.left_on, each.how) for each in left(engine)]
    with pytest.raises(Expected, match="left on 2025-05 already"):
        dispose(engine, "D1", GivenExit("scrapped", "worn"), **TIMES)


def test_what_was_checked_until_it_left_is_the_condition_in_which_it_went(engine: Engine) -> None:
    """A day that is known to its month may be any of it; a check after that is of another time."""
    with shelf(engine) as made:
        units = {tag: made.unit(tag) for tag in ("D1", "D2")}
    for tag, day, condition in (
        ("D1", "2026-01-31", "whole"), ("D1", "2026-02-01", "dented"), ("D2", "2026-02-20", "whole"),
        ("D2", "2026-02-21", "dented"),
    ):  # fmt: skip
        add_check(engine, tag, GivenCheck("other", condition), on=day, **TIMES)
    with shelf(engine) as made:
        for tag, day in (("D1", "2026-01"), ("D2", "2026-02-20")):
            made.work.insert("unit_exit", unit_id=units[tag], left_on=day, how="scrapped", reason="worn")

    with reading(engine) as conn:
        assert ["whole", "whole"] == [each.condition for each in leaving_of(conn, ["D1", "D2"], TODAY)]


def on_loan(made: Shelf, unit: int, direction: str) -> None:
    """Lend or borrow a unit."""
    who = made.person("Ada Quill")
    loan = made.work.insert(
        "loan", name=f"L{unit}", direction=direction, person_id=who, out_on="2026-01-01", due_on="2026-04-01"
    )
    made.work.insert("loan_item", loan_id=loan, unit_id=unit)


def reserve(made: Shelf, unit: int, last: str, first: str = "2026-01-01") -> None:
    """Keep a unit for somebody."""
    made.work.insert("reservation", unit_id=unit, person_id=made.person("Ada Quill"), from_date=first, to_date=last)


REFUSED = [
    ("D2", SOLD, "is on loan to Ada Quill"),
    ("D3", SOLD, "is borrowed from Ada Quill"),
    ("D4", SOLD, "is reserved for Ada Quill"),
    ("D7", SOLD, "is reserved for Ada Quill from 2026-06-01"),
    ("D5", SOLD, "has a service open"),
    ("D6", SOLD, "in use since 2026-02-28, after"),
    ("D1", replace(SOLD, how="stolen"), "must be one of"),
    ("D1", replace(SOLD, reason=" "), "needs a reason"),
    ("D1", replace(SOLD, to=""), "nobody is named who has it"),
    ("D1", replace(SOLD, how="given"), "so it has no price"),
    ("D1", replace(SOLD, price="-1"), "below zero"),
    ("D1", replace(SOLD, authority="Nobody"), 'no person "Nobody"'),
    ("D1", replace(SOLD, receipt_on="2026-02-26"), "before it left"),
]


def test_a_unit_that_is_not_free_or_not_told_of_does_not_leave(engine: Engine) -> None:
    """The refusal names what holds it here or is missing, and nothing is written."""
    with shelf(engine) as made:
        made.unit("D1")
        made.person("Ada Quill")
        made.person("Ida Keep")
        on_loan(made, made.unit("D2"), "out")
        on_loan(made, made.unit("D3"), "in")
        reserve(made, made.unit("D4"), "2026-03-01")
        reserve(made, made.unit("D7"), "2026-06-02", "2026-06-01")
        made.work.insert("service", name="S", unit_id=made.unit("D5"), opened_on="2026-02-01")
        made.standing(made.unit("D6"), "in use", "2026-02-28")
    kept = digest(engine)

    for tag, told, says in REFUSED:
        with pytest.raises(Expected, match=says):
            dispose(engine, tag, told, on="2026-02-27", **TIMES)

    assert kept == digest(engine)


LATER = {
    "reading": lambda made, unit: made.reading(made.series(unit), "2026-02-20", 300.0),
    "service": lambda made, unit: made.service(unit, "2026-02-19", closed_on="2026-02-20"),
    "moved": lambda made, unit: made.location(unit, "shelf A", "2026-02-20"),
    "loan back": lambda made, unit: made.lend(unit, "2026-02-18", "2026-03-01", back_on="2026-02-20"),
    "given back": lambda made, unit: made.lend(unit, "2026-02-18", "2026-03-01", back_on="2026-02-20", direction="in"),
}


@pytest.mark.parametrize("what", LATER)
def test_nothing_leaves_before_the_last_day_on_which_the_book_has_it_here(engine: Engine, what: str) -> None:
    """The day before is refused with what was then and how to go on, the day itself and a month with it in are not."""
    with shelf(engine) as made:
        LATER[what](made, made.unit("D 1"))
    scrapped, kept = GivenExit("scrapped", "worn"), digest(engine)

    for on in ("2026-02-19", "2026-01"):
        with pytest.raises(Expected) as refused:
            dispose(engine, "D 1", scrapped, on=on, **TIMES)
        assert f"D 1 was here on 2026-02-20, after {on}: {what}." in str(refused.value)
        assert str(refused.value).endswith('spindlebook history "D 1"')
    assert kept == digest(engine)
    for on in ("2026-02-20", "2026-02", "2026", ""):
        dispose(engine, "D 1", scrapped, on=on, **TIMES)
        undo(engine, None, **TIMES)


def test_no_standing_of_gone_leaves_what_holds_a_unit_here_open(engine: Engine) -> None:
    """It is refused as a disposal is, with what to type; a day at which nothing holds it any more is taken."""
    with shelf(engine) as made:
        on_loan(made, made.unit("D2"), "out")
        on_loan(made, made.unit("D3"), "in")
        reserve(made, made.unit("D4"), "2026-03-01")
        made.work.insert("service", name="S", unit_id=made.unit("D5"), opened_on="2026-02-01")
        made.standing(made.unit("D6"), "in use", "2026-02-28")
        made.reading(made.series(made.unit("D7")), "2026-02-28", 300.0)
    kept, seen = digest(engine), "was here on 2026-02-28, after 2026-02-27: reading"

    for tag, says, hint in (
        ("D2", "is on loan to Ada Quill", "loan back D2 --lost"),
        ("D3", "is borrowed from Ada Quill", "damage add D3"),
        ("D4", "is reserved for Ada Quill", "loan unreserve D4"),
        ("D5", "has a service open", "service close D5"),
        ("D6", "stands in use since 2026-02-28, after 2026-02-27", "--on DATE"),
        ("D7", seen, "history D7"),
    ):
        with pytest.raises(Expected) as refused:
            enter(engine, tag, standing="gone", reason="sold", on="2026-02-27", **TIMES)
        assert says in str(refused.value)
        assert hint in str(refused.value)
    assert kept == digest(engine)
    for tag in ("D6", "D7"):
        enter(engine, tag, standing="gone", reason="sold", on="2026-02-28", **TIMES)


def test_what_is_lost_on_a_loan_ends_it_and_leaves(engine: Engine) -> None:
    """The way that a refusal names: taken back as lost, it stands missing, and is then gone, from that day on."""
    with shelf(engine) as made:
        on_loan(made, made.unit("D1"), "out")
        on_loan(made, made.unit("D2"), "in")
    take_back(engine, [ComingBack("D1", lost="stolen from the car")], on="2026-02-20", **TIMES)
    dispose(engine, "D1", GivenExit("lost", "stolen"), on="2026-02-20", **TIMES)

    with pytest.raises(Expected, match="damage add D2"):
        dispose(engine, "D2", GivenExit("lost", "stolen"), **TIMES)
    add_damage(engine, "D2", GivenDamage("loss", "stolen", missing=True), on="2026-02-20", **TIMES)
    give_back(engine, ["D2"], on="2026-02-20", **TIMES)
    assert {("D1", "2026-02-20"), ("D2", "2026-02-20")} == {(each.tag, each.left_on) for each in left(engine)}
    assert [] == _broken(engine)


@pytest.mark.parametrize("direction", ["out", "in"])
def test_no_service_ends_with_a_unit_gone_that_others_have_or_own(engine: Engine, direction: str) -> None:
    """Nor one before a day on which it was here; a free one may leave at its end."""
    with shelf(engine) as made:
        on_loan(made, made.unit("D1"), direction)
        made.reading(made.series(made.unit("D2")), "2026-02-28", 300.0)
    kept, given = digest(engine), GivenService(outcome="gone", anyway="it is here", on="2026-02-27")

    with pytest.raises(Expected, match="is on loan to Ada Quill" if direction == "out" else "is borrowed from Ada"):
        record_service(engine, "D1", given, **TIMES)
    with pytest.raises(Expected, match="was here on 2026-02-28, after 2026-02-27: reading"):
        record_service(engine, "D2", given, **TIMES)
    assert kept == digest(engine)
    record_service(engine, "D2", replace(given, on="2026-02-28"), **TIMES)


def test_a_record_that_was_taken_back_keeps_nothing_here(engine: Engine) -> None:
    """Nor is it asked what was before, or of a unit that is gone and is told of only now."""
    with shelf(engine) as made:
        made.unit("D1")
        made.location(made.unit("D2"), "shelf A", "2026-02-20")
    scrapped = GivenExit("scrapped", "worn")
    enter(engine, "D1", location="shelf A", on="2026-02-21", **TIMES)
    with pytest.raises(Expected, match="D1 was here on 2026-02-21"):
        dispose(engine, "D1", scrapped, on="2026-02-20", **TIMES)
    undo(engine, None, **TIMES)
    dispose(engine, "D1", scrapped, on="2026-02-20", **TIMES)
    with shelf(engine) as made:  # as an earlier program let it be entered
        made.standing(find_unit(made.work.conn, "D2").id, "gone", "2026-02-19")
    dispose(engine, "D2", scrapped, **TIMES)

    assert ["2026-02-20", "2026-02-19"] == [each.left_on for each in left(engine)]


def _refused(engine: Engine, number: int) -> str:
    """Return what the refused undo of an act says; nothing was written."""
    kept = digest(engine)
    with pytest.raises(Moved) as refused:
        undo(engine, number, **TIMES)
    assert kept == digest(engine)
    return str(refused.value)


def _broken(engine: Engine) -> list[tuple[str, str]]:
    with reading(engine) as conn:
        return [(row.rule, row.says) for row in verify(conn).broken]


def test_no_undo_leaves_a_unit_here_of_which_a_disposal_is_told(engine: Engine) -> None:
    """What was entered as gone is not here again while how it left is told of it; nor is that told again of what is."""
    with shelf(engine) as made:
        made.unit("D1")
    gone = _act(engine, lambda: enter(engine, "D1", standing="gone", on="2025-05", reason="worn", **TIMES))
    told = _act(engine, lambda: dispose(engine, "D1", GivenExit("scrapped", "worn"), **TIMES))

    says = _refused(engine, gone)
    assert f"D1 would be here again, and how it left on 2025-05 was told by act {told}." in says
    assert says.endswith(f"spindlebook undo {told}")
    untold = undo(engine, told, **TIMES).by_id
    back = undo(engine, gone, **TIMES).by_id
    assert "How D1 left on 2025-05 would be told again, and it does not stand gone then." in _refused(engine, untold)
    undo(engine, back, **TIMES)
    undo(engine, untold, **TIMES)
    assert ["2025-05"] == [each.left_on for each in left(engine)]
    assert [] == _broken(engine)


FREED: dict[str, tuple[Callable[[Shelf, int], object], Callable[[Engine], object]]] = {
    "loan": (
        lambda made, unit: on_loan(made, unit, "out"),
        lambda engine: take_back(engine, ["D1"], on="2026-02-20", **TIMES),
    ),
    "reservation": (
        lambda made, unit: reserve(made, unit, "2026-03-01"),
        lambda engine: unreserve(engine, ["D1"], **TIMES),
    ),
    "service": (
        lambda made, unit: made.work.insert("service", name="S", unit_id=unit, opened_on="2026-02-01"),
        lambda engine: close_service(engine, "D1", GivenService(outcome="donor"), **TIMES),
    ),
}


@pytest.mark.parametrize("what", FREED)
def test_no_undo_leaves_a_unit_gone_while_something_holds_it_here(engine: Engine, what: str) -> None:
    """Neither what freed it is taken back while it is gone, nor its leaving brought back while it is held again."""
    tie, free = FREED[what]
    with shelf(engine) as made:
        tie(made, made.unit("D1"))
    freed = _act(engine, lambda: free(engine))
    gone = _act(engine, lambda: enter(engine, "D1", standing="gone", reason="worn", **TIMES))

    says = _refused(engine, freed)
    assert "D1 would be gone, and on loan, borrowed, reserved or in service at once." in says
    assert says.endswith("spindlebook history D1")
    here = undo(engine, gone, **TIMES).by_id
    undo(engine, freed, **TIMES)
    assert "D1 would be gone, and on loan" in _refused(engine, here)


def test_what_an_earlier_program_called_gone_under_a_loan_hinders_no_other_undo(engine: Engine) -> None:
    """Only what an undo itself brings about is refused; the loan is ended as any other."""
    with shelf(engine) as made:
        unit = made.unit("D1")
        on_loan(made, unit, "out")
        made.standing(unit, "gone", "2026-02-01")
    moved = _act(engine, lambda: enter(engine, "D1", owner="Ada Quill", **TIMES))
    undo(engine, moved, **TIMES)
    assert [] == _broken(engine)
    take_back(engine, [ComingBack("D1", lost="sold by them")], **TIMES)
    assert ["2026-02-01"] == [each.left_on for each in left(engine)]


def test_a_unit_that_left_and_came_back_keeps_what_is_told_of_its_leaving(engine: Engine) -> None:
    """It was gone then, if only for that day; either entry can be taken back in turn."""
    with shelf(engine) as made:
        made.unit("D1")
    dispose(engine, "D1", GivenExit("scrapped", "worn"), on="2026-02-01", **TIMES)
    again = _act(engine, lambda: enter(engine, "D1", standing="donor", on="2026-02-01", reason="found", **TIMES))

    assert [] == _broken(engine)
    undo(engine, again, **TIMES)
    undo(engine, None, **TIMES)
    assert ([], []) == (left(engine), _broken(engine))


@pytest.mark.parametrize("gone_on", ["2026-02-01", "2026-02-10"])
def test_what_is_given_back_is_gone_on_that_day_though_it_was_called_gone_before(engine: Engine, gone_on: str) -> None:
    """So neither an entry between two days nor an undo leaves it here, and it is listed once."""
    with shelf(engine) as made:
        on_loan(made, made.unit("D1"), "in")
    with shelf(engine) as made:  # as an earlier program let it be entered
        made.standing(find_unit(made.work.conn, "D1").id, "gone", gone_on)
    gone = int(scalar(engine, "SELECT max(id) FROM act"))
    give_back(engine, ["D1"], on="2026-02-10", **TIMES)
    assert ["2026-02-10"] == [each.left_on for each in left(engine)]
    enter(engine, "D1", standing="donor", on="2026-02-05", reason="seen then", **TIMES)
    undo(engine, None, **TIMES)
    undo(engine, gone, **TIMES)
    assert ["2026-02-10"] == [each.left_on for each in left(engine)]
    assert [] == _broken(engine)


def test_verify_names_a_disposal_of_what_is_here(engine: Engine) -> None:
    """As an undo by an earlier program could leave it."""
    with shelf(engine) as made:
        here, gone = made.unit("D1"), made.unit("D2")
        made.standing(gone, "gone", "2026-01-31")
        for unit in (here, gone):
            made.work.insert("unit_exit", unit_id=unit, left_on="2026-02-01", how="scrapped", reason="worn")

    assert [("what left for good was gone then", "D1 does not stand gone on 2026-02-01")] == _broken(engine)


def _act(engine: Engine, do: Callable[[], object]) -> int:
    """Do an act; return its number."""
    do()
    return int(scalar(engine, "SELECT max(id) FROM act"))


def test_a_reservation_that_is_over_holds_nothing_and_a_receipt_is_added_later(engine: Engine) -> None:
    """The day after its last day it is no promise; a changed price needs a reason, a receipt of the day itself none."""
    with shelf(engine) as made:
        reserve(made, made.unit("D1"), "2026-02-28")
        made.person("Ida Keep")
    dispose(engine, "D1", SOLD, on="2026-02-27", **TIMES)

    edit_exit(engine, "D1", {"receipt_on": "2026-02-27"}, **TIMES)
    with pytest.raises(Expected, match="needs a reason"):
        edit_exit(engine, "D1", {"price": "100 USD"}, **TIMES)
    with pytest.raises(Expected, match="so it has no price"):
        edit_exit(engine, "D1", {"how": "scrapped"}, reason="typed wrong", **TIMES)

    assert "2026-02-27" == left(engine)[0].receipt_on
