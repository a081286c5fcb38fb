"""The card of a unit, and the list of units."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.errors import Refused
from collection.quantity import Money
from collection.store.engine import reading
from collection.views.card import Card, Fault, Lubricant, Mark, Part, Service, Worth, card_of
from collection.views.unit_list import Wanted, listed_units
from tests.support.shelf import Shelf, shelf
from tests.support.times import NOW, TODAY


def card(engine: Engine, tag: str = "D1") -> Card:
    """Return the card of a unit on the test's day."""
    with reading(engine) as connection:
        return card_of(connection, tag, TODAY)


def supply(made: Shelf, name: str, kind: str, **values: Any) -> int:
    """Return a supply kept in grams."""
    return made.named("supply", name, kind=kind, measured_in="g", smallest_step="0.1", tracked="count", **values)


def use(made: Shelf, what: int, steps: int, day: str, **values: Any) -> int:
    """Book a use of a supply."""
    return made.work.append(
        "movement", supply_id=what, kind="use", steps=-steps, entered="1", occurred_on=day, used_past_date=0, **values
    )


def test_the_card_of_a_bare_unit_has_nothing_but_the_unit(engine: Engine) -> None:
    """No history breaks nothing; every procedure that applies was never recorded."""
    with shelf(engine) as made:
        made.unit("D1")

    shown = card(engine, " d1 ")

    assert ("D1", None, (), (), (), (), (), (), ()) == (
        shown.unit.tag,
        shown.worth,
        shown.paired_with,
        shown.parts,
        shown.lubricants,
        shown.readings,
        shown.faults,
        shown.services,
        shown.due,
    )
    assert {"replace belt", "clean head"} < set(shown.never_recorded)
    assert "rail and ripple check" not in shown.never_recorded


def test_an_unknown_tag_has_no_card(engine: Engine) -> None:
    """It is refused as everywhere."""
    with pytest.raises(Refused, match='No unit has the tag "D9"'):
        card(engine, "D9")


def test_a_procedure_told_of_or_done_is_no_more_never_recorded(engine: Engine) -> None:
    """A day told for the time before the book is a record too."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        made.service(d1, "2026-01-01", "clean head")
        made.work.append("baseline", unit_id=d1, procedure_id=made.procedure("dust out"), last_done="2024")

    assert not {"clean head", "dust out"} & set(card(engine).never_recorded)


def test_worth_is_the_latest_valuation_that_counts(engine: Engine) -> None:
    """By day, not by entry; one of an undone act, or of a day to come, is none."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        anna = made.person("Anna Lerk")
        for day, amount in (("2025-06", 9000), ("2024-01-01", 5000), ("2026-03-02", 1)):
            made.work.append(
                "valuation",
                unit_id=d1,
                valued_on=day,
                amount_minor=amount,
                currency="EUR",
                basis="market value",
                by_id=anna,
            )
    with shelf(engine) as made:
        made.work.append("valuation", unit_id=d1, valued_on="2026-01-01", amount_minor=7, currency="EUR", basis="guess")
    assert Worth(Money(7, "EUR"), "guess", "2026-01-01", "") == card(engine).worth

    undo(engine, None, today=TODAY, now=NOW)
    assert Worth(Money(9000, "EUR"), "market value", "2025-06", "Anna Lerk") == card(engine).worth


def test_a_unit_that_was_never_valued_is_worth_its_model_s_replacement(engine: Engine) -> None:
    """The card says that it is that value."""
    with shelf(engine) as made:
        made.model("QD-3", replacement_minor=12000, currency="SEK")
        made.unit("D1", "QD-3")

    assert Worth(Money(12000, "SEK"), "replacement value of the model", "", "") == card(engine).worth


def test_a_pairing_shows_on_both_cards_while_it_holds(engine: Engine) -> None:
    """The drive names its supply unit, the supply unit its drives; ended and future ones are left out."""
    with shelf(engine) as made:
        made.model("PS-9", kind="supply unit", drive_type=None)
        d1, d2, p1, p2 = made.unit("D1"), made.unit("D2"), made.unit("P1", "PS-9"), made.unit("P2", "PS-9")
        for drive, feeds, since, until in (
            (d1, p1, "2024", None),
            (d2, p1, "2025-01-01", "2026-03-02"),
            (d1, p2, "2023-01-01", "2026-03-01"),
            (d2, p2, "2026-03-02", None),
        ):
            made.work.insert("pairing", drive_id=drive, supply_unit_id=feeds, from_date=since, to_date=until)

    paired = [card(engine, tag).paired_with for tag in ("D1", "D2", "P1", "P2")]

    assert [("P1",), ("P1",), ("D1", "D2"), ()] == paired


def test_fitted_parts_tell_lot_or_donor_until_they_are_removed(engine: Engine) -> None:
    """A part removed today is fitted no more."""
    with shelf(engine) as made:
        d1, donor = made.unit("D1"), made.unit("X1", standing="donor")
        belt = supply(made, "belt 70 mm", "belt")
        lot = made.work.insert("lot", supply_id=belt, name="L-7", name_folded="l-7", received_on="2024-01-01")
        fitted = {"unit_id": d1, "fitted_on": "2025-01-01"}
        made.work.insert("fitted_part", part="belt", supply_id=belt, lot_id=lot, **fitted)
        made.work.insert("fitted_part", part="head", donor_id=donor, **fitted)
        made.work.insert("fitted_part", part="motor", removed_on="2026-03-01", **fitted)
        made.work.insert("fitted_part", part="board", removed_on="2026-03-02", **fitted)

    assert (
        Part("belt", "2025-01-01", "belt 70 mm", "L-7", ""),
        Part("head", "2025-01-01", "", "", "X1"),
        Part("board", "2025-01-01", "", "", ""),
    ) == card(engine).parts


def test_lubricants_are_the_last_uses_that_stand(engine: Engine) -> None:
    """Of the unit or of its services; other kinds of supply, reversed and undone uses are left out.

    A kind is compared as names are, whatever its capitals.
    """
    with shelf(engine) as made:
        d1, d2 = made.unit("D1"), made.unit("D2")
        grease, spray = supply(made, "rail grease", "Lubricant"), supply(made, "spray", "solvent")
        use(made, grease, 2, "2025-01-01", service_id=made.service(d1, "2025-01-01"))
        use(made, grease, 3, "2025-06-01", unit_id=d1)
        use(made, spray, 9, "2025-07-01", unit_id=d1)
        use(made, grease, 4, "2025-08-01", unit_id=d2)
        wrong = use(made, grease, 5, "2025-09-01", unit_id=d1)
        made.work.append(
            "movement",
            supply_id=grease,
            kind="reverse",
            steps=5,
            entered="1",
            occurred_on="2025-09-02",
            reverses_id=wrong,
            used_past_date=0,
        )
    with shelf(engine) as made:
        use(made, grease, 6, "2025-10-01", unit_id=d1)
    undo(engine, None, today=TODAY, now=NOW)

    assert (Lubricant("rail grease", "2025-06-01", "0.3 g"),) == card(engine).lubricants


def test_faults_and_services_stand_newest_first(engine: Engine) -> None:
    """With their procedures in the order done; what was taken back is left out."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        made.service(d1, "2025-01-01", "dust out", "clean head", outcome="ready", minutes=40, findings="dirty")
        made.work.insert("service", name="now", unit_id=d1, opened_on="2026-02-01")
        gone = made.service(d1, "2025-06-01", "dust out")
        made.work.set_void("service", [gone], void=True)
        made.work.insert("fault", unit_id=d1, noticed_on="2026-02-01", symptom="squeals")
        made.work.insert(
            "fault",
            unit_id=d1,
            noticed_on="2025",
            symptom="hums",
            closed_on="2025-05-01",
            no_fault_found=1,
        )

    shown = card(engine)

    assert (
        Service("now", "2026-02-01", "", "", None, "", ()),
        Service(
            shown.services[1].service, "2025-01-01", "2025-01-01", "ready", 40, "dirty", ("dust out", "clean head")
        ),
    ) == shown.services
    assert (
        Fault("2026-02-01", "squeals", "", "", "", False),
        Fault("2025", "hums", "", "", "2025-05-01", True),
    ) == shown.faults


def test_last_readings_stand_with_their_limits_by_measurement_and_point(engine: Engine) -> None:
    """Every series once, as the due list judges it."""
    with shelf(engine) as made:
        d1 = made.unit("D1")
        made.reading(made.series(d1), "2026-01-01", 304.9)
        made.reading(made.series(d1, "azimuth", "head 1"), "2026-01-01", 1.0)
        made.reading(made.series(d1, "azimuth", "head 0"), "2026-01-01", 2.0)

    assert [("azimuth", "head 0"), ("azimuth", "head 1"), ("spindle speed", "")] == [
        (one.measurement.name, one.last.point) for one in card(engine).readings
    ]
    assert "high" == card(engine).readings[2].verdict


def test_the_card_shows_what_lies_ahead_too(engine: Engine) -> None:
    """Due in eleven months is on the card, though not in the list of due work."""
    with shelf(engine) as made:
        made.service(made.unit("D1"), "2026-02-01", "dust out")

    assert [("dust out", "2027-02-01")] == [
        (item.procedure, item.due.isoformat()) for item in card(engine).due if item.kind == "months"
    ]


def test_doubts_about_all_records_of_a_unit_stand_on_its_card(engine: Engine) -> None:
    """Not those of other units, of what was taken back, set aside, undone or corrected."""
    with shelf(engine) as made:
        d1, d2 = made.unit("D1", serial="???", serial_folded="???"), made.unit("D2")
        stray = made.reading(made.series(d1), "2026-01-02", 3000.0)
        aside = made.reading(made.series(d1), "2026-01-03", 30.0)
        other = made.reading(made.series(d2), "2026-01-02", 3000.0)
        service = made.service(d1, "2026-01-01")
        taken_back = made.service(d1, "2026-01-01")
        grease = supply(made, "rail grease", "lubricant")
        for table, row, field, value in (
            ("unit", d1, "serial", "???"),
            ("unit", d1, "serial", "corrected since"),
            ("reading", stray, "value", "3000"),
            ("reading", aside, "value", "30"),
            ("reading", other, "value", "3000"),
            ("service", service, "unit", "D1"),
            ("service", taken_back, "unit", "D1"),
            ("movement", use(made, grease, 2, "2026-01-01", unit_id=d1), "lot", "L-7"),
        ):
            made.work.doubt(table, row, field, value, "odd")
        made.set_aside(aside)
        made.work.set_void("service", [taken_back], void=True)
    with shelf(engine) as made:
        made.work.doubt("reading", stray, "value", "3000", "of an undone act")
    undo(engine, None, today=TODAY, now=NOW)

    assert (
        Mark("unit", "", "serial", "???", "odd"),
        Mark("reading spindle speed", "2026-01-02", "value", "3000", "odd"),
        Mark("service", "2026-01-01", "unit", "D1", "odd"),
        Mark("use rail grease", "2026-01-01", "lot", "L-7", "odd"),
    ) == card(engine).doubts


def write_list(made: Shelf) -> None:
    """Write units that differ in everything the list can be filtered by."""
    made.model("PS-9", kind="supply unit", drive_type=None)
    room, shelf_a = made.named("location", "Room"), made.named("location", "Shelf A")
    made.named("location", "Box 7", inside_id=shelf_a)
    made.work.update("location", shelf_a, inside_id=room)
    for tag, model, standing, owner, place, done in (
        ("D10", "VX-5", "ready", "Bo", "Box 7", "2026-02-01"),
        ("D2", "VX-5", "in use", "Anna Lerk", "Shelf A", "2025-01-01"),
        ("P1", "PS-9", "gone", "Anna Lerk", "Attic", "2024-01-01"),
        ("D3", "QD-3", "ready", "", "", None),
    ):
        unit = made.unit(tag, model, standing=standing)
        if owner:
            made.owner(unit, owner)
            made.location(unit, place)
        if done:
            made.service(unit, done, "dust out")


def listed(engine: Engine, **wanted: str) -> list[str]:
    """Return the tags of a list."""
    with reading(engine) as connection:
        return [row.unit.tag for row in listed_units(connection, TODAY, Wanted(**wanted))]


@pytest.mark.parametrize(
    ("wanted", "tags"),
    [
        ({}, ["D2", "D3", "D10", "P1"]),
        ({"standing": "Ready"}, ["D3", "D10"]),
        ({"standing": "missing"}, []),
        ({"owner": "anna lerk"}, ["D2", "P1"]),
        ({"kind": "Supply unit"}, ["P1"]),
        ({"model": "vx-5"}, ["D2", "D10"]),
        ({"location": "room"}, ["D2", "D10"]),
        ({"location": "Box 7"}, ["D10"]),
        ({"location": "Room", "standing": "in use"}, ["D2"]),
    ],
)
def test_the_list_is_filtered(engine: Engine, wanted: dict[str, str], tags: list[str]) -> None:
    """Case does not matter, a place takes in what is inside it, filters are joined by and."""
    with shelf(engine) as made:
        write_list(made)

    assert tags == listed(engine, **wanted)


def test_a_place_takes_in_what_stands_inside_it_however_deep(engine: Engine) -> None:
    """Five places, each inside the next, entered from the innermost."""
    with shelf(engine) as made:
        places = [made.named("location", f"place {n}") for n in range(5)]
        for inner, outer in pairwise(places):
            made.work.update("location", inner, inside_id=outer)
        made.location(made.unit("D1"), "place 0")

    assert ["D1"] == listed(engine, location="place 4")


@pytest.mark.parametrize(
    ("wanted", "says"),
    [
        ({"standing": "redy"}, 'There is no standing "redy". Nearest: ready'),
        ({"owner": "Anna"}, 'There is no person "Anna". Nearest: Anna Lerk.'),
        ({"kind": "floppy"}, 'There is no kind "floppy". Type: spindlebook unit list'),
        ({"model": "VX5"}, 'There is no model "VX5". Nearest: VX-5.'),
        ({"location": "Box"}, 'There is no location "Box". Nearest: Box 7.'),
    ],
)
def test_a_filter_that_names_nothing_known_is_refused(engine: Engine, wanted: dict[str, str], says: str) -> None:
    """An empty list would look as if there were none."""
    with shelf(engine) as made:
        write_list(made)

    with pytest.raises(Refused) as refused:
        listed(engine, **wanted)
    assert says in str(refused.value)


def test_an_empty_book_lists_nothing(engine: Engine) -> None:
    """No filter, no unit, no error."""
    assert [] == listed(engine)
