"""Changing what records say from the command line, on both databases."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.instrument_life import GivenUse, add_instrument
from collection.acts.limits import Whose, add_limit, drop_limit, edit_limit
from collection.acts.loan_edit import edit_item, edit_loan
from collection.acts.loan_out import lend
from collection.acts.measurements import add_measurement, edit_measurement
from collection.acts.offers import add_offer, add_supplier, edit_offer
from collection.acts.people import add_person
from collection.acts.procedures import add_procedure, edit_procedure, set_amount
from collection.acts.records import (
    add_location,
    edit_location,
    edit_lot,
    edit_model,
    edit_person,
    edit_service,
    edit_supplier,
    edit_supply,
)
from collection.acts.service_given import GivenService
from collection.acts.service_record import open_service, record_service
from collection.acts.undo import undo
from collection.acts.wanted import GivenWant, add_wanted
from collection.acts.work import open_work
from collection.errors import Refused
from collection.store.engine import fetch, reading
from collection.views.limit_list import limit_list
from collection.views.procedure_sheet import procedure_sheet
from collection.views.verify import verify
from tests.support.bench import BELT, IPA
from tests.support.books import digest, named
from tests.support.drawer import GREASE, Drawer
from tests.support.times import NOW, TODAY

AT: Any = {"today": TODAY, "now": NOW}


def _refused(engine: Engine, says: str, act: Callable[[], Any]) -> None:
    """Hold an act to a refusal in these words that changes nothing."""
    before = digest(engine)
    with pytest.raises(Refused) as refused:
        act()
    assert says in str(refused.value)
    assert before == digest(engine)


def test_another_interval_raises_the_revision_of_a_procedure_and_another_source_does_not(bench: Engine) -> None:
    """Work done before keeps the revision it was done by; undo brings both back."""

    def revision() -> tuple[int, int | None]:
        with reading(bench) as conn:
            sheet = procedure_sheet(conn, "clean head")
        return sheet.revision, sheet.every_months

    edit_procedure(bench, "clean head", {"source": "our own bench", "minutes": "11"}, **AT)
    assert (1, 12) == revision()
    _refused(bench, "needs a reason", lambda: edit_procedure(bench, "clean head", {"every_months": "18"}, **AT))
    edit_procedure(bench, "Clean Head", {"every_months": "18"}, reason="dusty", **AT)
    assert (2, 18) == revision()
    edit_procedure(bench, "clean head", {"every_months": "18"}, **AT)
    assert (2, 18) == revision()

    undo(bench, None, **AT)
    assert (1, 12) == revision()


_UNREADABLE: tuple[tuple[dict[str, str], str], ...] = (
    ({"every_months": "0"}, 'every months "0" must be 1 or more'),
    ({"triggers": "after supper"}, "after supper"),
    ({"retests": "spimdle speed"}, "Nearest: spindle speed."),
    ({"procedure": "DUST OUT"}, 'There is a procedure "dust out" already.'),
    ({"procedure": " "}, "cannot be without its procedure"),
    ({"minutes": "1,5"}, 'Write "1.5".'),
)


def test_what_the_due_list_could_not_read_is_refused(bench: Engine) -> None:
    """By the rules of the folder's columns, in words of the command line."""
    for given, says in _UNREADABLE:
        _refused(bench, says, partial(edit_procedure, bench, "clean head", given, reason="try", **AT))


def test_a_procedure_of_ones_own_has_its_amounts(bench: Engine) -> None:
    """An amount told again replaces the first, with a reason; zero takes it off the sheet."""
    add_procedure(bench, "listen to it", {"triggers": "symptom hum", "every_months": "1"}, **AT)
    set_amount(bench, "listen to it", IPA, "2 ml", chance="0.5", **AT)
    _refused(bench, "needs a reason", lambda: set_amount(bench, "listen to it", IPA, "3 ml", **AT))
    _refused(bench, "not within 0 to 1", lambda: set_amount(bench, "listen to it", BELT, "1", chance="1.01", **AT))
    set_amount(bench, "listen to it", IPA, "3 ml", reason="more", **AT)

    with reading(bench) as conn:
        sheet = procedure_sheet(conn, "listen to it")
    assert (3, ((IPA, "3 ml", None),)) == (sheet.revision, sheet.amounts)
    set_amount(bench, "listen to it", IPA, "0", reason="none", **AT)
    with reading(bench) as conn:
        assert () == procedure_sheet(conn, "listen to it").amounts


def test_a_limit_is_added_changed_with_a_reason_and_dropped(bench: Engine) -> None:
    """Of several the day tells which; a dropped one comes back by undo."""
    rails = Whose("rail voltage", "+5 V", unit="P1")

    def seen() -> list[tuple[str, str]]:
        with reading(bench) as conn:
            return [(row.shown, row.from_date) for row in limit_list(conn, unit="P1")]

    add_limit(bench, rails, {"lower": "4.8", "upper": "5.2"}, **AT)
    add_limit(bench, rails, {"lower": "4.9", "from_date": "2026"}, **AT)
    _refused(bench, "from 2026 already", lambda: add_limit(bench, rails, {"upper": "6", "from_date": "2026"}, **AT))
    _refused(bench, "2 limits", lambda: drop_limit(bench, rails, reason="x", **AT))
    first = Whose("rail voltage", "+5 V", unit="P1", from_date="")
    for reason in ("", "  "):
        _refused(bench, "needs a reason", partial(edit_limit, bench, first, {"upper": "5.1"}, reason=reason, **AT))
    _refused(
        bench, "Lower 4.8 is above upper 4.7", lambda: edit_limit(bench, first, {"upper": "4.7"}, reason="x", **AT)
    )
    moved = partial(edit_limit, bench, first, {"from_date": "2026"}, reason="x", **AT)
    _refused(bench, "a limit of rail voltage[+5 V] from 2026 already", moved)
    edit_limit(bench, first, {"upper": "4.8"}, reason="x", **AT)
    assert [("4.8 to 4.8 V", ""), ("at least 4.9 V", "2026")] == seen()

    drop_limit(bench, first, reason="wrong", **AT)
    assert [("at least 4.9 V", "2026")] == seen()
    undo(bench, None, **AT)
    assert 2 == len(seen())
    with reading(bench) as conn:
        assert not verify(conn).broken


_EMPTY: tuple[tuple[Whose, dict[str, str], str], ...] = (
    (Whose("ripple"), {"upper": "1"}, "none is named"),
    (Whose("ripple", unit="D1", model="DM-8"), {"upper": "1"}, "several are named"),
    (Whose("head condition", unit="D1"), {"upper": "1"}, "is graded"),
    (Whose("ripple", unit="D1"), {"source": "a book"}, "needs a number"),
    (Whose("ripple", unit="D1"), {"upper": "lots"}, 'upper "lots" is not a number'),
    (Whose("ripple", unit="D11"), {"upper": "1"}, 'No unit has the tag "D11"'),
)


def test_a_limit_that_says_nothing_is_refused(bench: Engine) -> None:
    """Nothing is written."""
    for whose, given, says in _EMPTY:
        _refused(bench, says, partial(add_limit, bench, whose, given, **AT))


def test_a_model_needs_a_reason_where_limits_rest_on_it(bench: Engine) -> None:
    """Its note does not; a money sum is told with its currency, an empty text takes a value away."""
    changes = edit_model(bench, "dm-8", {"note": "ours", "replacement_value": "80 USD"}, **AT).changes
    assert (("note", "", "ours"), ("replacement_value", "", "80.00 USD")) == tuple(sorted(changes))
    typed = {"drive_type": "direct crystal"}
    for reason in ("", "  "):
        _refused(bench, "needs a reason", partial(edit_model, bench, "DM-8", typed, reason=reason, **AT))
    _refused(bench, 'There is a model "DK-9" already.', lambda: edit_model(bench, "DM-8", {"model": "dk-9"}, **AT))
    _refused(bench, "cannot be without its kind", lambda: edit_model(bench, "DM-8", {"kind": ""}, reason="x", **AT))

    assert (("note", "ours", ""),) == edit_model(bench, "DM-8", {"note": ""}, **AT).changes
    assert () == edit_model(bench, "DM-8", {"kind": "drive"}, **AT).changes


def test_a_location_is_never_inside_itself(bench: Engine) -> None:
    """Not even by way of another."""
    for name, inside in (("club room", ""), ("cupboard", "club room"), ("drawer", "cupboard")):
        add_location(bench, name, {"inside": inside}, **AT)

    for inside in ("drawer", "club room"):
        moved = partial(edit_location, bench, "club room", {"inside": inside}, **AT)
        _refused(bench, "inside itself", moved)
    edit_location(bench, "drawer", {"inside": "club room", "location": "top drawer"}, **AT)


def test_a_person_renamed_leaves_no_name_in_the_journal(bench: Engine) -> None:
    """Neither the old nor the new one stands in a change or a summary; a name that is given is refused."""
    add_person(bench, "Orla Fennick", **AT)
    edit_person(bench, "Orla Fennick", {"person": "Orla Quayle", "email": "orla@example.org"}, **AT)
    _refused(bench, "There is a person", lambda: edit_person(bench, "Orla Quayle", {"person": "ilse vanterpool"}, **AT))
    _refused(bench, 'no "@" inside', lambda: edit_person(bench, "Orla Quayle", {"email": "orla"}, **AT))

    with reading(bench) as conn:
        texts = fetch(conn, "SELECT coalesce(before, '') || coalesce(after, '') FROM change")
        texts += fetch(conn, "SELECT summary FROM seal")
        assert not verify(conn).broken
    assert [] == [text for (text,) in texts if "Fennick" in text or "Quayle" in text or "orla@" in text]


def test_the_unit_of_what_is_used_stays(bench: Engine) -> None:
    """Of a supply with lots or wanted, a measurement with limits or an instrument's figures; before that it may."""
    _refused(bench, "is used", lambda: edit_supply(bench, BELT, {"measured_in": "m"}, reason="x", **AT))
    _refused(bench, "readings or limits", lambda: edit_measurement(bench, "rail voltage", {"measured_in": "mV"}, **AT))
    _refused(bench, "needs a measured in", lambda: add_measurement(bench, "fan speed", {}, **AT))
    add_measurement(bench, "fan speed", {"measured_in": "r/min"}, **AT)
    assert ("measured_in",) == tuple(
        edit_measurement(bench, "fan speed", {"measured_in": "graded"}, reason="slip", **AT).names
    )
    add_measurement(bench, "fan current", {"measured_in": "mV"}, **AT)
    add_instrument(bench, "shunt", {}, GivenUse(("fan current",), resolution="0.5"), **AT)
    _refused(
        bench,
        "figures of an instrument",
        lambda: edit_measurement(bench, "fan current", {"measured_in": "V"}, reason="x", **AT),
    )
    with open_work(bench, "supply add", **AT) as work:
        work.insert("supply", **named("clip"), kind="clip", measured_in="piece", smallest_step="1", tracked="count")
        work.commit("clip")
    add_wanted(bench, "D3", GivenWant("clip"), **AT)
    _refused(bench, "is used", lambda: edit_supply(bench, "clip", {"measured_in": "g"}, reason="x", **AT))
    _refused(bench, "needs a reason", lambda: edit_supply(bench, BELT, {"shelf_life_months": "12"}, **AT))
    assert ["fits"] == edit_supply(bench, BELT, {"fits": "DM-8; DK-9"}, **AT).names


def test_a_lot_an_offer_and_a_supplier_are_corrected(bench: Engine) -> None:
    """A lot's date needs a reason, and it is not made after it came."""
    add_supplier(bench, "Sable Lane", **AT)
    add_offer(bench, "Sable Lane", BELT, "1", "4", **AT)
    add_offer(bench, "Sable Lane", BELT, "1", "3", from_packs=10, **AT)

    _refused(bench, "needs a reason", lambda: edit_lot(bench, BELT, "B-1", {"expires_on": "2031"}, **AT))
    _refused(bench, "nothing arrives", lambda: edit_lot(bench, BELT, "B-1", {"made": "2025-01-06"}, reason="x", **AT))
    assert ["made"] == edit_lot(bench, BELT, "B-1", {"made": "2025-01-05"}, reason="x", **AT).names
    _refused(bench, "1 piece from 10 packs on", lambda: edit_offer(bench, "Sable Lane", BELT, {"price": "5"}, **AT))
    edited = edit_offer(bench, "Sable Lane", BELT, {"price": "5", "pack_quantity": "2"}, which=10, **AT)
    assert (("pack_quantity", "1 piece", "2 piece"), ("price", "3.00 EUR", "5.00 EUR")) == edited.changes
    assert ["lead_days"] == edit_supplier(bench, "sable lane", {"lead_days": "0"}, **AT).names


def test_a_loan_is_not_due_before_it_went_out_and_lasts_no_longer_without_a_word(bench: Engine) -> None:
    """The day itself will do; another borrower and a day later than the one it is due need a reason."""
    lend(bench, ["D4"], to="Bram Oakhollow", due="2026-03-20", on="2026-02-01", **AT)

    _refused(bench, "is before out on", lambda: edit_loan(bench, "L1", {"due_on": "2026-01-31"}, **AT))
    _refused(
        bench,
        "is due on 2026-03-20, and 2026-03-21 is later",
        lambda: edit_loan(bench, "L1", {"due_on": "2026-03-21"}, **AT),
    )
    _refused(bench, "needs a reason", lambda: edit_loan(bench, "L1", {"person": "Ilse Vanterpool"}, **AT))
    assert ["cover"] == edit_loan(bench, "l1", {"due_on": "2026-03-20", "cover": "theirs"}, **AT).names
    assert ["due_on"] == edit_loan(bench, "l1", {"due_on": "2026-03-21"}, reason="a slip", **AT).names
    assert ["due_on", "cover"] == edit_loan(bench, "l1", {"due_on": "2026-02-01", "cover": "ours"}, **AT).names


def test_what_a_loan_says_of_a_unit_is_corrected_with_a_reason(bench: Engine) -> None:
    """The past rests on how a unit went out; one that is not on the loan is refused."""
    lend(bench, ["D4"], to="Bram Oakhollow", due="2026-03-20", **AT)

    _refused(bench, "needs a reason", lambda: edit_item(bench, "L1", "D4", {"condition_out": "new"}, **AT))
    _refused(bench, "D1 is not on L1", lambda: edit_item(bench, "L1", "D1", {"along": "cable"}, reason="slip", **AT))
    edited = edit_item(bench, "d4", "d4", {"along": "cable"}, reason="slip", **AT)
    assert ("D4 on L1", (("along", "", "cable"),)) == (edited.name, edited.changes)


def test_a_closed_service_is_corrected_with_a_reason_alone(bench: Engine) -> None:
    """An open one without; the newest is meant where none is named."""
    record_service(bench, "D1", GivenService(on="2026-02-11", outcome="ready", minutes=10), **AT)
    _refused(bench, "needs a reason", lambda: edit_service(bench, "D1", {"minutes": "20"}, **AT))
    assert ["minutes"] == edit_service(bench, "D1", {"minutes": "20"}, reason="counted", **AT).names

    open_service(bench, "D1", GivenService(), **AT)
    assert ["findings"] == edit_service(bench, "D1", {"findings": "dust"}, **AT).names
    found = edit_service(bench, "D1", {"minutes": "0"}, service="2026-02-11", reason="none", **AT)
    assert ("D1 2026-02-11", (("minutes", "20", "0"),)) == (found.name, found.changes)


@pytest.mark.parametrize(
    ("column", "taken", "refused"),
    [
        ("guess_a_year", ("0", "100000"), ("-0.1", "100000.1")),
        ("written_since", ("2024", "2026-03-01"), ("2026-03-02", "lately")),
    ],
)
def test_what_a_person_knows_of_unplanned_use_is_kept_within_its_rule(
    engine: Engine, column: str, taken: tuple[str, ...], refused: tuple[str, ...]
) -> None:
    """0 uses a year is an answer, not nothing; use is not written down from a day on that has not come."""
    Drawer(engine).add()
    for text in taken:
        edited = edit_supply(engine, GREASE, {column: text}, today=TODAY, now=NOW)
        assert [(column, text)] == [(name, after) for name, _, after in edited.changes]
    for text in refused:
        with pytest.raises(Refused):
            edit_supply(engine, GREASE, {column: text}, today=TODAY, now=NOW)
