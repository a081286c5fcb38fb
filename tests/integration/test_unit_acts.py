"""Adding and editing units, and entering owner, location and standing by date."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.entries import Entered
from collection.acts.undo import undo
from collection.acts.units import Added, Edited, add_unit, edit_unit, enter
from collection.errors import Expected, Refused
from collection.schema.columns import SHORT
from collection.store.engine import fetch, reading
from collection.views.card import Card, card_of
from collection.views.units import Unit, find_unit, unit_on
from collection.views.verify import verify
from tests.support.books import digest
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

TIMES: dict[str, Any] = {"today": TODAY, "now": NOW}
NEW_MODEL = {"model": "VX-5", "maker": "Varnhall", "kind": "Drive"}


def add(engine: Engine, tag: str = "D1", **given: str) -> Added:
    """Add a unit of a model that is made if need be."""
    return add_unit(engine, tag, NEW_MODEL | given, **TIMES)


def unit(engine: Engine, tag: str = "D1") -> Unit:
    """Return a unit today."""
    with reading(engine) as connection:
        return unit_on(connection, find_unit(connection, tag).id, TODAY)


def card(engine: Engine, tag: str = "D1") -> Card:
    """Return the card of a unit."""
    with reading(engine) as connection:
        return card_of(connection, tag, TODAY)


def refusal(engine: Engine, act: Any) -> str:
    """Return the words with which an act is refused, after seeing that it changed nothing."""
    before = digest(engine)
    with pytest.raises(Expected) as refused:
        act()

    assert before == digest(engine)
    return str(refused.value)


def test_a_new_unit_has_arrived_today_and_its_model_is_made_once(engine: Engine) -> None:
    """The second unit of the model finds it, whatever its spelling."""
    first = add(engine, drive_type="Belt", nominal_speed="300;360")
    second = add_unit(engine, " D2 ", {"model": "vx-5"}, **TIMES)

    assert (Added("D1", "Varnhall VX-5", True, "arrived", ()), Added("D2", "Varnhall VX-5", False, "arrived", ())) == (
        first,
        second,
    )
    assert ("drive", "belt", "300; 360", "arrived", "2026-03-01") == (
        unit(engine).kind,
        unit(engine).drive_type,
        unit(engine).nominal_speeds,
        unit(engine).standing,
        unit(engine).standing_from,
    )


def test_everything_told_of_a_new_unit_stands_on_its_card(engine: Engine) -> None:
    """The columns of the folder's units.csv, owner, place and standing included."""
    with shelf(engine) as made:
        made.person("Anna Lerk")
    told = {
        "serial": "4711-B",
        "acquired_on": "2019-05",
        "acquired_from": "anna lerk",
        "price": "45.5",
        "condition": "yellowed",
        "marks": "club sticker",
        "drive_number": "1",
        "box": "white carton, two foams",
        "jumpers": "DS0",
        "rom": "1.2",
        "modifications": "new plug",
        "accessories": "cable",
        "note": "loud",
        "acquired_how": "as a gift",
        "title_evidence": "letter of 2019",
        "rescue_rank": "10000",
        "rescue_note": "two people",
    }
    add_unit(
        engine,
        "D1",
        NEW_MODEL | told | {"owner": "Anna Lerk", "location": "Drawer 3", "standing": "Ready"},
        on="2026-02",
        new_location=True,
        **TIMES,
    )

    shown = card(engine)

    assert ("4711-B", "2019-05") == (shown.unit.serial, shown.unit.acquired_on)
    assert told | {"serial_state": "known", "acquired_from": "Anna Lerk", "price": "45.50 EUR"} == shown.details | {
        name: told[name] for name in ("serial", "acquired_on")
    }
    assert ("Anna Lerk", "Drawer 3", "ready", "2026-02") == (
        shown.unit.owner,
        shown.unit.location,
        shown.unit.standing,
        shown.unit.standing_from,
    )


def test_adding_a_unit_is_one_act_that_can_be_undone(engine: Engine) -> None:
    """Unit, model, location and entries go together."""
    before = digest(engine, effective=True)
    add_unit(engine, "D1", NEW_MODEL | {"location": "Drawer 3"}, new_location=True, **TIMES)

    undo(engine, None, today=TODAY, now=NOW)

    assert before == digest(engine, effective=True)


@pytest.mark.parametrize(
    ("tag", "given", "says"),
    [
        ("d1", {}, 'Tag "d1" was given to a unit before; no tag is given twice.'),
        (" ", {}, "A unit needs a tag."),
        ("T" * 201, {}, "tag has 201 characters; at most 200 are kept."),
        ("D2", {"model": ""}, "A unit needs a model. Add --model NAME"),
        ("D2", {"model": "VX5", "kind": ""}, 'There is no model "VX5". Nearest: VX-5. If it is new, add --kind drive'),
        ("D2", {"model": "Z", "drive_type": "rubber"}, 'Drive type "rubber" is not known. Type one of: belt,'),
        ("D2", {"model": "Z", "nominal_speed": "0"}, 'Nominal speed "0" is not above zero.'),
        ("D2", {"owner": "Anna"}, 'There is no person "Anna".'),
        ("D2", {"location": "Drawer"}, 'There is no location "Drawer".'),
        ("D2", {"standing": "redy"}, 'Standing "redy" is not known. Nearest: ready'),
        ("D2", {"standing": "on loan"}, "D2 is on loan only through a loan. Type: spindlebook loan out D2"),
        ("D2", {"serial_state": "gone"}, 'serial_state "gone" is not known. Type one of: known, lost, illegible.'),
        ("D2", {"acquired_on": "2026-13"}, '"2026-13" does not exist.'),
        ("D2", {"acquired_on": "2026-03-02"}, "--acquired-on 2026-03-02 has not come yet (today is 2026-03-01)."),
        ("D2", {"acquired_on": "1949"}, "--acquired-on 1949 is before 1950"),
        ("D2", {"price": "-1"}, "A price of -1 EUR is below zero."),
        ("D2", {"price": "1.234"}, "1.234 EUR has too many digits"),
        ("D2", {"price": "1", "currency": "euro"}, '"EURO" is not the code of a currency (ISO 4217). Nearest: EUR'),
        ("D2", {"note": "n" * 20001}, "note has 20001 characters; at most 20000 are kept."),
    ],
)
def test_a_unit_that_cannot_be_is_refused_and_nothing_is_written(
    engine: Engine, tag: str, given: dict[str, str], says: str
) -> None:
    """The refusal names the thing, the value seen, and the rule."""
    add(engine)

    assert says in refusal(engine, lambda: add(engine, tag, **given))


@pytest.mark.parametrize(("length", "kept"), [(199, True), (200, True)])
def test_a_tag_may_be_as_long_as_a_short_text(engine: Engine, length: int, kept: bool) -> None:
    """200 characters are kept; 201 are refused (above)."""
    assert kept == (add(engine, "T" * length).tag == "T" * length)


def test_a_model_of_two_makers_needs_its_maker(engine: Engine) -> None:
    """The refusal names both."""
    add(engine)
    add(engine, "D2", maker="Brenholt")

    says = refusal(engine, lambda: add_unit(engine, "D3", {"model": "VX-5"}, **TIMES))

    assert '2 makers have a model "VX-5": Varnhall, Brenholt. Add --maker NAME.' == says
    assert "Brenholt VX-5" == add_unit(engine, "D3", {"model": "VX-5", "maker": "BRENHOLT"}, **TIMES).model


@pytest.mark.parametrize(
    ("serial", "doubt"),
    [
        ("4711", "unit D1 of the same model has this serial too"),
        ("???", "is this a serial? serial_state may say lost or illegible"),
        ("4712", None),
    ],
)
def test_a_doubtful_serial_is_marked_and_never_refused(engine: Engine, serial: str, doubt: str | None) -> None:
    """The mark stands on the card until the serial is corrected."""
    add(engine, serial="4711")
    wanted = () if doubt is None else (doubt,)

    assert wanted == add(engine, "D2", serial=serial).doubts
    assert wanted == tuple(mark.rule for mark in card(engine, "D2").doubts)

    edit_unit(engine, "D2", {"serial": "9001"}, **TIMES)
    assert () == card(engine, "D2").doubts


def test_an_edit_tells_what_changed_and_leaves_the_rest(engine: Engine) -> None:
    """An empty text takes a value away; equal values are no change."""
    add(engine, serial="4711", note="loud", rom="1.2")

    edited = edit_unit(engine, "d1", {"note": "", "serial": "4711", "price": "12", "rom": "1.3"}, **TIMES)

    assert Edited("D1", edited.changes, ()) == edited
    assert {
        ("note", "loud", ""),
        ("rom", "1.2", "1.3"),
        ("price", "", "12.00"),
        ("currency", "", "EUR"),
    } == set(edited.changes)
    assert ("", "1.3", "12.00 EUR", "4711") == (
        card(engine).details["note"],
        card(engine).details["rom"],
        card(engine).details["price"],
        card(engine).unit.serial,
    )


def test_an_edit_that_changes_nothing_is_no_act(engine: Engine) -> None:
    """The journal has no new act."""
    add(engine, note="loud")
    before = digest(engine)

    assert () == edit_unit(engine, "D1", {"note": "loud", "tag": "D1"}, **TIMES).changes
    assert before == digest(engine)


def test_a_renamed_unit_keeps_its_old_tag_as_an_alias(engine: Engine) -> None:
    """Old labels still find it, and nobody else gets the old tag."""
    add(engine)

    edit_unit(engine, "D1", {"tag": "E9"}, aliases=("Grey one",), **TIMES)

    assert ("E9", "E9", "E9") == tuple(unit(engine, name).tag for name in ("D1", "e9", "grey ONE"))
    assert ("D1", "Grey one") == card(engine).aliases
    says = refusal(engine, lambda: add(engine, "D1"))
    assert 'Tag "D1" was given to a unit before (now E9); no tag is given twice.' in says


def test_a_unit_may_take_back_a_tag_that_it_had(engine: Engine) -> None:
    """The tag it leaves takes the place of the alias, however often; no other unit gets either."""
    add(engine)
    for old, new in (("D1", "E9"), ("E9", "d1"), ("D1", "E9"), ("e9", "D1")):
        edit_unit(engine, old, {"tag": new}, **TIMES)

    assert ("D1", ("E9",)) == (unit(engine).tag, card(engine).aliases)
    assert unit(engine, "e9") == unit(engine, "d1")
    for taken in ("D1", "E9"):
        assert "no tag is given twice" in refusal(engine, lambda taken=taken: add(engine, taken))
    add(engine, "D2")
    assert "no tag is given twice" in refusal(engine, lambda: edit_unit(engine, "D2", {"tag": "E9"}, **TIMES))
    with reading(engine) as conn:
        assert [] == verify(conn).broken


def test_taking_back_a_tag_is_undone_step_by_step(engine: Engine) -> None:
    """Each undo leaves the tag and the aliases as they were; then the first tag change may be undone too."""
    add(engine)
    edit_unit(engine, "D1", {"tag": "E9"}, **TIMES)
    edit_unit(engine, "E9", {"tag": "D1"}, **TIMES)

    undo(engine, None, **TIMES)
    assert ("E9", ("D1",)) == (unit(engine).tag, card(engine).aliases)
    undo(engine, None, **TIMES)
    assert ("D1", ()) == (unit(engine).tag, card(engine).aliases)
    add(engine, "E9")
    with reading(engine) as conn:
        assert [] == verify(conn).broken


@pytest.mark.parametrize(("length", "taken"), [(SHORT - 1, True), (SHORT, True), (SHORT + 1, False)])
def test_a_tag_that_a_unit_had_is_no_longer_than_any_other(engine: Engine, length: int, *, taken: bool) -> None:
    """Blanks in the middle are of its length, though they do not tell it from another."""
    add(engine, "D 1")
    edit_unit(engine, "D 1", {"tag": "E9"}, **TIMES)
    long = f"D{' ' * (length - 2)}1"

    if taken:
        assert long == edit_unit(engine, "E9", {"tag": long}, **TIMES).tag
    else:
        assert f"tag has {SHORT + 1} characters" in refusal(
            engine, lambda: edit_unit(engine, "E9", {"tag": long}, **TIMES)
        )


def test_only_the_spelling_of_a_tag_may_change_without_an_alias(engine: Engine) -> None:
    """D1 as d1 is the same tag."""
    add(engine)

    edit_unit(engine, "D1", {"tag": "d1"}, **TIMES)

    assert ("d1", ()) == (unit(engine).tag, card(engine).aliases)


def test_a_unit_may_turn_out_to_be_of_another_model(engine: Engine) -> None:
    """The change is told by the models' names."""
    add(engine)
    add(engine, "D2", model="QD-3")

    assert (("model", "Varnhall VX-5", "Varnhall QD-3"),) == edit_unit(engine, "D1", {"model": "QD-3"}, **TIMES).changes


def test_an_entry_holds_from_its_day_and_tells_what_held_before(engine: Engine) -> None:
    """Owner, location and standing may be entered together; nothing is overwritten."""
    with shelf(engine) as made:
        made.person("Anna Lerk")
    add(engine)

    entered = enter(engine, "D1", owner="anna lerk", location="Drawer 3", standing="in use", new_location=True, **TIMES)

    assert [
        Entered("owner", "", "Anna Lerk", "Anna Lerk"),
        Entered("location", "", "Drawer 3", "Drawer 3"),
        Entered("standing", "arrived", "in use", "in use"),
    ] == entered
    with reading(engine) as connection:
        kept = fetch(connection, "SELECT standing FROM unit_entry WHERE what = 'standing' ORDER BY id")
    assert [("arrived",), ("in use",)] == kept


def test_what_holds_already_is_not_entered_again(engine: Engine) -> None:
    """Nothing to do, no act."""
    add_unit(engine, "D1", NEW_MODEL | {"location": "Drawer 3"}, new_location=True, **TIMES)
    before = digest(engine)

    assert [] == enter(engine, "D1", location="drawer 3", standing="Arrived", **TIMES)
    assert before == digest(engine)


def test_an_entry_for_an_earlier_day_says_that_a_later_one_holds_today(engine: Engine) -> None:
    """The past is filled in, today stays as it is."""
    add(engine)

    entered = enter(engine, "D1", standing="on the bench", on="2026-02", **TIMES)

    assert [Entered("standing", "", "on the bench", "arrived")] == entered
    assert "arrived" == unit(engine).standing


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"standing": "gone"}, "D1 is not called gone without a reason. Add --reason"),
        ({"standing": "away", "on": "2026-03-02"}, "--on 2026-03-02 has not come yet"),
        ({"standing": "sold"}, 'Standing "sold" is not known.'),
        ({"standing": "on loan"}, "Type: spindlebook loan out D1 --to PERSON --due DATE"),
        ({"location": "Drawer 9"}, 'There is no location "Drawer 9".'),
        ({"owner": "Bo", "location": "Attic", "new_location": True}, 'There is no person "Bo".'),
    ],
)
def test_an_entry_that_cannot_be_is_refused(engine: Engine, told: dict[str, Any], says: str) -> None:
    """Nothing is written, not even the part that could be."""
    add(engine)

    assert says in refusal(engine, lambda: enter(engine, "D1", **told, **TIMES))


def test_a_unit_is_retired_with_a_reason_and_keeps_its_past(engine: Engine) -> None:
    """Gone is a standing; its card still shows."""
    add(engine)

    enter(engine, "D1", standing="gone", reason="sold to the museum", **TIMES)

    assert "gone" == unit(engine).standing
    assert () == card(engine).due
    with reading(engine) as connection:
        assert [("sold to the museum",)] == fetch(connection, "SELECT note FROM unit_entry WHERE standing = 'gone'")
        assert [("sold to the museum",)] == fetch(connection, "SELECT reason FROM act WHERE command = 'unit enter'")


def test_a_lent_unit_changes_its_standing_only_when_lost_or_back(engine: Engine) -> None:
    """Ready is refused with the loan's name, and gone, which would leave the loan open for ever; missing is taken."""
    with shelf(engine) as made:
        made.lend(made.unit("D1"), "2026-01-05", "2026-04-05")

    says = refusal(engine, lambda: enter(engine, "D1", standing="ready", **TIMES))
    gone = refusal(engine, lambda: enter(engine, "D1", standing="gone", reason="sold", **TIMES))

    assert "D1 is on loan to Ilva since 2026-01-05. Type: spindlebook loan back D1" == says
    back = "spindlebook loan back D1"
    assert (
        "D1 is on loan to Ilva since 2026-01-05 (loan L1)."
        f' End the loan first: {back}; if it is lost: {back} --lost "WHAT BECAME OF IT"'
    ) == gone
    enter(engine, "D1", standing="missing", **TIMES)
    assert "missing" == unit(engine).standing


@pytest.mark.parametrize("standing", ["ready", "in use"])
def test_a_unit_is_not_called_ready_while_something_stands_against_it(engine: Engine, standing: str) -> None:
    """A reading out of its limits, an open fault, or a measurement its last service had to repeat; or a reason."""
    with shelf(engine) as made:
        d1 = made.unit("D1", standing="on the bench")
        service = made.service(d1, "2026-02-01", "clean head", "replace belt")
        made.reading(made.series(d1), "2026-02-01", 304.9, "as left", service)
        made.work.insert("fault", unit_id=d1, noticed_on="2026-02-01", symptom="squeals")

    says = refusal(engine, lambda: enter(engine, "D1", standing=standing, **TIMES))

    assert (
        f"D1 is not called {standing}: spindle speed is 304.9 r/min, limit 304.5; "
        'fault "squeals" is open; head condition was not measured after clean head; '
        "belt condition was not measured after replace belt. "
        'Put it right in a service, or give a reason: --reason "REASON".'
    ) == says
    enter(engine, "D1", standing=standing, reason="for the show only", **TIMES)
    assert standing == unit(engine).standing


@pytest.mark.parametrize(("stage", "refused"), [("as found", True), ("as left", False), ("between", False)])
def test_a_measurement_counts_as_repeated_when_it_was_taken_after_the_work(
    engine: Engine, stage: str, refused: bool
) -> None:
    """What was found before the work says nothing about the work."""
    with shelf(engine) as made:
        d1 = made.unit("D1", standing="on the bench")
        service = made.service(d1, "2026-02-01", "set spindle speed")
        made.reading(made.series(d1), "2026-02-01", 300.0, stage, None if stage == "between" else service)

    if refused:
        says = refusal(engine, lambda: enter(engine, "D1", standing="ready", **TIMES))
        assert "spindle speed was not measured after set spindle speed" in says
    else:
        assert "ready" == enter(engine, "D1", standing="ready", **TIMES)[0].now


def test_no_name_of_a_person_is_sealed_into_the_journal(engine: Engine) -> None:
    """Summaries cannot be forgotten, so they name none."""
    with shelf(engine) as made:
        made.person("Anna Lerk")
    add(engine)
    enter(engine, "D1", owner="Anna Lerk", **TIMES)
    edit_unit(engine, "D1", {"acquired_from": "Anna Lerk"}, **TIMES)

    with reading(engine) as connection:
        summaries = " ".join(row[0] for row in fetch(connection, "SELECT summary FROM seal"))

    assert "D1: owner from 2026-03-01" in summaries
    assert "Anna" not in summaries


def test_an_unknown_tag_is_refused_by_every_act(engine: Engine) -> None:
    """Edit and enter name the nearest."""
    add(engine)

    for act in (
        lambda: edit_unit(engine, "D2", {"note": "x"}, **TIMES),
        lambda: enter(engine, "D2", standing="away", **TIMES),
    ):
        assert 'No unit has the tag "D2". Nearest: D1.' == refusal(engine, act)


def test_an_entry_may_be_undone(engine: Engine) -> None:
    """The entry before it holds again."""
    add(engine)
    enter(engine, "D1", standing="away", **TIMES)

    undo(engine, None, today=TODAY, now=NOW)

    assert "arrived" == unit(engine).standing


def test_refused_is_what_a_wrong_name_raises(engine: Engine) -> None:
    """The command line leaves with code 1 on it."""
    with pytest.raises(Refused):
        enter(engine, "D1", standing="away", **TIMES)


def test_the_place_in_which_a_unit_is_carried_out_is_a_whole_number(engine: Engine) -> None:
    """From 1 to 10000; an empty text takes it away."""
    add(engine, rescue_rank="10000")
    for wrong in ("0", "10001", "1.5"):
        assert "a whole number from 1 to 10000" in refusal(
            engine, lambda wrong=wrong: edit_unit(engine, "D1", {"rescue_rank": wrong}, **TIMES)
        )

    assert (("rescue_rank", "10000", "1"),) == edit_unit(engine, "D1", {"rescue_rank": "1"}, **TIMES).changes
    edit_unit(engine, "D1", {"rescue_rank": ""}, **TIMES)
    assert "" == card(engine).details["rescue_rank"]
