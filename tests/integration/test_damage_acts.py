"""Damage to units and losses, on a book."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.attachments import GivenPhoto
from collection.acts.condition_checks import GivenCheck, add_check
from collection.acts.damage import GivenDamage, Shown, add_damage, close_damage, edit_damage
from collection.acts.undo import undo
from collection.acts.valuations import add_valuation
from collection.acts.who import engine_of
from collection.errors import Expected
from collection.store.engine import fetch, reading
from collection.views.damage import damage_list, find_damage
from collection.views.damage_case import DamageCase, damage_case
from collection.views.units import find_unit, unit_on
from collection.views.verify import verify
from tests.integration.test_verify import rewrite
from tests.support.books import digest
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

TIMES: dict[str, Any] = {"today": TODAY, "now": NOW}


def standing(engine: Engine, tag: str = "D1") -> str:
    """Return how a unit stands today."""
    with reading(engine) as conn:
        return unit_on(conn, find_unit(conn, tag).id, TODAY).standing


def case(engine: Engine) -> DamageCase:
    """Return DL1 with what is around it."""
    with reading(engine) as conn:
        return damage_case(conn, "DL1", TODAY)


def test_damage_goes_from_found_to_closed_with_what_owner_and_insurer_need(engine: Engine) -> None:
    """Each column is kept as told; a loan it happened on is found by its day; undoing the close opens it again."""
    with shelf(engine) as made:
        unit, ada = made.unit("D1"), made.person("Ada Quill")
        made.named("policy", "P-7", from_date="2026-01-01")
        loan = made.work.insert(
            "loan", name="L1", direction="out", person_id=ada, out_on="2026-02-01", due_on="2026-04-01"
        )
        item = made.work.insert("loan_item", loan_id=loan, unit_id=unit)

    told = GivenDamage(
        "damage", "bezel cracked", circumstances="fell in the car", reported_by="ada quill", estimate="40 USD"
    )
    made_one = add_damage(engine, "d1", told, on="2026-02-20", **TIMES)
    edit_damage(engine, "dl1", {"policy": "p-7", "claim": "C 12", "insurer_told_on": "2026-02-21"}, **TIMES)
    closed = close_damage(engine, "DL1", "bezel replaced", settled="35.50 USD", on="2026-02-28", **TIMES)

    assert ("DL1", "D1", "L1", item) == (made_one.name, made_one.tag, made_one.loan, made_one.loan_item_id)
    assert ("fell in the car", "Ada Quill", "P-7", "C 12") == (
        closed.circumstances, closed.reported_by, closed.policy, closed.claim,
    )  # fmt: skip
    assert closed.estimate
    assert closed.settled
    assert ("40.00", "35.50", "USD") == (closed.estimate.text, closed.settled.text, closed.settled.currency)
    assert ("2026-02-28", "2026-02-28", "bezel replaced") == (closed.settled_on, closed.closed_on, closed.closed_how)
    undo(engine, None, **TIMES)
    with reading(engine) as conn:
        assert find_damage(conn, "DL1").still_open


def test_damage_belongs_to_the_loan_from_its_first_day_to_the_day_it_came_back(engine: Engine) -> None:
    """Of two loans that meet on a day it is the later one; a borrowed unit not lent on is here by its loan in."""
    with shelf(engine) as made:
        unit, ada = made.unit("D1"), made.person("Ada Quill")
        for name, way, out_on, back_on in (
            ("L1", "out", "2026-02-01", "2026-02-10"), ("L2", "out", "2026-02-20", "2026-02-22"),
            ("L3", "out", "2026-02-22", None), ("L4", "in", "2026-02-01", None),
        ):  # fmt: skip
            loan = made.work.insert("loan", name=name, direction=way, person_id=ada, out_on=out_on, due_on="2026-04-01")
            made.work.insert("loan_item", loan_id=loan, unit_id=unit, back_on=back_on)

    days = ("2026-01-31", "2026-02-01", "2026-02-10", "2026-02-11", "2026-02-22", "2026-02-23")
    loans = [add_damage(engine, "D1", GivenDamage("damage", "dent"), on=day, **TIMES).loan for day in days]

    assert ["", "L1", "L1", "L4", "L3", "L3"] == loans
    with reading(engine) as conn:
        borrowed, lent = (damage_case(conn, name, TODAY).loan for name in ("DL4", "DL5"))
    assert ("borrowed", "L4 from Ada Quill") == (borrowed and borrowed.how, borrowed and borrowed.whose)
    assert ("on loan", "L3 to Ada Quill") == (lent and lent.how, lent and lent.whose)


def test_a_lost_unit_stands_missing_and_its_undo_brings_it_back(engine: Engine) -> None:
    """Losing the unit enters its standing in the same act; losing what belongs to it, or losing it twice, does not."""
    with shelf(engine) as made:
        made.unit("D1")

    add_damage(engine, "D1", GivenDamage("loss", "mains cord"), **TIMES)
    part_lost = standing(engine)
    add_damage(engine, "D1", GivenDamage("loss", "not at the fair any more", missing=True), **TIMES)
    lost = standing(engine)
    add_damage(engine, "D1", GivenDamage("loss", "nor in the car", missing=True), **TIMES)
    with reading(engine) as conn:
        assert [(1,)] == fetch(conn, "SELECT count(*) FROM unit_entry WHERE standing = 'missing'")
    for _ in range(2):
        undo(engine, None, **TIMES)

    assert ("ready", "missing", "ready") == (part_lost, lost, standing(engine))
    with reading(engine) as conn:
        assert ["DL1"] == [each.name for each in damage_list(conn)]


def test_a_name_of_damage_is_never_given_twice(engine: Engine) -> None:
    """After the undo of DL1 the next one is DL2, since a letter may name the first already."""
    with shelf(engine) as made:
        made.unit("D1")
    add_damage(engine, "D1", GivenDamage("damage", "dent"), **TIMES)
    undo(engine, None, **TIMES)

    assert "DL2" == add_damage(engine, "D1", GivenDamage("damage", "dent"), **TIMES).name


REFUSED: list[tuple[GivenDamage, str, str]] = [
    (GivenDamage("damage", " "), "", "What is damaged or lost is not said."),
    (GivenDamage("damage", "dent", reported_on="2026-02-27"), "2026-02-28", "before it was found"),
    (GivenDamage("damage", "dent", policy="P-9"), "", 'no policy "P-9"'),
    (GivenDamage("damage", "dent", reported_by="Nobody"), "", 'no person "Nobody"'),
    (GivenDamage("damage", "dent", estimate="-1"), "", "below zero"),
    (GivenDamage("damage", "dent"), "2026-03-02", "has not come yet"),
    (GivenDamage("damage", "dent", grade="pass"), "", "is of a condition, and none is told"),
    (GivenDamage("loss", "lost", missing=True), "2026-02-20", "is gone since 2026-02-20"),
]


def test_damage_that_cannot_be_is_refused(engine: Engine) -> None:
    """One line says the value and the rule, and nothing is written; nobody sees damage of a unit that is gone."""
    with shelf(engine) as made:
        unit = made.unit("D1")
        made.standing(unit, "gone", "2026-02-20")
        made.standing(unit, "ready", "2026-02-21")
    before = digest(engine)

    for given, on, says in REFUSED:
        with pytest.raises(Expected, match=says):
            add_damage(engine, "D1", given, on=on, **TIMES)

    assert before == digest(engine)


def test_whoever_is_named_with_who_notes_the_damage_unless_another_is_told(engine: Engine) -> None:
    """The act is theirs, and so is the note."""
    with shelf(engine) as made:
        made.unit("D1")
        made.named("person", "Ida Keep", role="keeper", salt="salt")
        made.person("Ada Quill")
    hers = engine_of(engine, "Ida Keep")

    noted = [add_damage(hers, "D1", GivenDamage("damage", "dent", by=by), **TIMES).by for by in ("", "Ada Quill")]

    assert ["Ida Keep", "Ada Quill"] == noted


def test_closed_damage_is_changed_only_for_a_reason_and_closed_once(engine: Engine) -> None:
    """Closing on the day before it was found is refused, on the day itself not; sums keep to one currency."""
    with shelf(engine) as made:
        made.unit("D1")
    add_damage(engine, "D1", GivenDamage("damage", "dent", estimate="5 EUR"), on="2026-02-20", **TIMES)

    for settled, on, says in (("", "2026-02-19", "before it was found"), ("4 USD", "", "in EUR")):
        with pytest.raises(Expected, match=says):
            close_damage(engine, "DL1", "left so", settled=settled, on=on, **TIMES)
    close_damage(engine, "DL1", "left so", on="2026-02-20", settled="4", **TIMES)
    with pytest.raises(Expected, match="already"):
        close_damage(engine, "DL1", "left so", **TIMES)
    with pytest.raises(Expected, match="needs a reason"):
        edit_damage(engine, "DL1", {"estimate": ""}, **TIMES)
    edit_damage(engine, "DL1", {"estimate": ""}, reason="it was a guess", **TIMES)
    with reading(engine) as conn:
        found = find_damage(conn, "DL1")
    assert found.settled
    assert (None, "EUR") == (found.estimate, found.settled.currency)
    add_damage(engine, "D1", GivenDamage("damage", "dent"), on="2026-02-20", **TIMES)
    edit_damage(engine, "DL2", {"settled": "3", "settled_on": "2026-02-21"}, **TIMES)
    assert "2026-02-21" == close_damage(engine, "DL2", "left so", settled="4", **TIMES).settled_on


def _sums(engine: Engine) -> list[str]:
    """Return estimate and settlement of DL1, as they are shown; "" for none."""
    with reading(engine) as conn:
        found = find_damage(conn, "DL1")
    return [f"{money.text} {money.currency}" if money else "" for money in (found.estimate, found.settled)]


@pytest.mark.parametrize("nothing", ["", " "])
@pytest.mark.parametrize(
    ("given", "left"),
    [
        ({"estimate": None}, ["", "4.00 QQZ"]),
        ({"settled": None}, ["5.00 QQZ", ""]),
        ({"estimate": None, "settled": None}, ["", ""]),
        ({"estimate": "6 EUR", "settled": None}, ["6.00 EUR", ""]),
        ({"settled": "6 EUR", "estimate": None}, ["", "6.00 EUR"]),
    ],
)
def test_a_sum_that_is_taken_away_leaves_the_other_in_its_currency(
    engine: Engine, given: dict[str, str | None], left: list[str], nothing: str
) -> None:
    """A code that an older book has and no list knows is not asked about where it is not typed."""
    with shelf(engine) as made:
        made.unit("D1")
    add_damage(engine, "D1", GivenDamage("damage", "dent", estimate="5 EUR"), **TIMES)
    edit_damage(engine, "DL1", {"settled": "4 EUR"}, **TIMES)
    with shelf(engine) as made:
        made.work.update("damage", find_damage(made.work.conn, "DL1").id, currency="QQZ")
    told = {sum_: nothing if text is None else text for sum_, text in given.items()}

    edited = edit_damage(engine, "DL1", told, **TIMES)

    assert left == _sums(engine)
    assert sorted(given) == sorted(edited.names)
    assert () == edit_damage(engine, "DL1", told, **TIMES).changes
    undo(engine, None, **TIMES)
    assert ["5.00 QQZ", "4.00 QQZ"] == _sums(engine)


@pytest.mark.parametrize(("estimate", "settled"), [("5 EUR", "4 USD"), ("5", "4 USD"), ("5 USD", "4")])
def test_two_sums_that_are_typed_at_once_are_in_one_currency(engine: Engine, estimate: str, settled: str) -> None:
    """In whichever order; one alone beside another that stands is refused as ever."""
    with shelf(engine) as made:
        made.unit("D1")
    add_damage(engine, "D1", GivenDamage("damage", "dent", estimate="3 EUR"), **TIMES)
    both = {"estimate": estimate, "settled": settled}

    for told in (both, dict(reversed(both.items())), {"settled": "4 USD"}):
        with pytest.raises(Expected, match="Type both sums in one currency"):
            edit_damage(engine, "DL1", told, **TIMES)
    edit_damage(engine, "DL1", {"estimate": "5 USD", "settled": "4 USD"}, **TIMES)
    assert ["5.00 USD", "4.00 USD"] == _sums(engine)


def test_a_unit_is_no_name_of_a_damage_and_one_that_is_nobody_s_is_to_be_named(engine: Engine) -> None:
    """Who types the tag is told which damage it has; who is to be told of it is asked for first."""
    with shelf(engine) as made:
        made.unit("D1")
        made.unit("D2")
    add_damage(engine, "D1", GivenDamage("damage", "dent"), **TIMES)

    assert "instead: spindlebook unit enter D1 --owner NAME" in {each.option for each in case(engine).to_do}
    with reading(engine) as conn:
        with pytest.raises(Expected, match='"d1" is a unit; damage and losses go by names') as told:
            find_damage(conn, "d1")
        assert told.value.hint == "Those of it are: DL1"
        with pytest.raises(Expected, match='There is no damage or loss "D2"'):
            find_damage(conn, "D2")


def test_verify_names_what_is_told_of_damage_and_is_of_another_unit(engine: Engine) -> None:
    """Its pictures, the check that showed it, the loan it happened on; and a day before it was found."""
    with shelf(engine) as made:
        unit, other = made.unit("D1"), made.unit("D2")
        loan = made.work.insert(
            "loan", name="L1", direction="out", person_id=made.person("Ada Quill"), out_on="2026-02-01",
            due_on="2026-04-01",
        )  # fmt: skip
        made.work.insert("loan_item", loan_id=loan, unit_id=unit)
    told = GivenDamage("damage", "dent", condition="a dent", photos=(GivenPhoto("a.pdf", b"%PDF-1"),))
    add_damage(engine, "D1", told, **TIMES)
    with reading(engine) as conn:
        sound = verify(conn).broken

    rewrite(engine, f"UPDATE damage SET unit_id = {other}, reported_on = '2026-02-28'")

    with reading(engine) as conn:
        found = {(row.table, row.says) for row in verify(conn).broken}
    assert [] == sound
    assert {
        ("attachment", "the picture is of another unit"),
        ("damage", "the condition check is of another unit"),
        ("damage", "the loan is of another unit"),
        ("damage", "found_on 2026-03-01, reported_on 2026-02-28"),
    } <= found


def test_what_an_owner_and_an_insurer_ask_for_is_named_until_it_is_told(engine: Engine) -> None:
    """The owner, the policy, the worth and the condition of the day stand beside it; a closed one asks for nothing."""
    with shelf(engine) as made:
        unit = made.unit("D1")
        made.owner(unit, "Ada Quill")
        made.named("policy", "P-7", from_date="2026-02-20", to_date="2026-02-20")
        made.named("policy", "P-8", from_date="2026-02-21")
    for day, condition in (("2026-02-19", "whole"), ("2026-02-20", "already dented")):
        add_check(engine, "D1", GivenCheck("other", condition), on=day, **TIMES)
    add_valuation(engine, "D1", "90", basis="market", on="2026-02-20", **TIMES)
    add_valuation(engine, "D1", "10", basis="market", on="2026-02-21", **TIMES)
    add_damage(engine, "D1", GivenDamage("damage", "dent"), on="2026-02-20", **TIMES)

    bare = case(engine)
    told = {"circumstances": "fell", "reported_by": "Ada Quill", "estimate": "5", "owner_told_on": "2026-02-20"}
    shown = Shown("a dent", "marginal", (GivenPhoto("a.pdf", b"%PDF-1"),))
    edit_damage(engine, "DL1", told | {"insurer_told_on": "2026-02", "actions": "none"}, shown, **TIMES)
    full = case(engine)
    edit_damage(engine, "DL1", {"actions": ""}, **TIMES)
    with pytest.raises(Expected, match="has the condition of D1 already"):
        edit_damage(engine, "DL1", {}, Shown("another"), **TIMES)
    missing = case(engine)
    close_damage(engine, "DL1", "left so", **TIMES)

    assert bare.before
    assert bare.worth
    assert ("whole", "90.00", ["P-7"]) == (
        bare.before.condition, bare.worth.amount.text, [each.name for each in bare.policies],
    )  # fmt: skip
    assert [
        "how it happened",
        "who reported it",
        "a picture of it",
        "in what condition the unit is now",
        "what mending or replacing it costs",
        "tell the owner, Ada Quill",
        "tell the insurer of P-7",
        "what is done about it",
    ] == [each.what for each in bare.to_do]
    assert full.at
    assert ("a dent", (1,), ()) == (full.at.condition, full.photos, full.to_do)
    assert ["what is done about it"] == [each.what for each in missing.to_do]
    assert () == case(engine).to_do
    edit_damage(engine, "DL1", {}, Shown(photos=(GivenPhoto("b.pdf", b"%PDF-2"),)), reason="found late", **TIMES)
    both = case(engine).photos
    undo(engine, None, **TIMES)
    assert ((1, 2), (1,)) == (both, case(engine).photos)
