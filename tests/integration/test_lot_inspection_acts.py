"""Lots that are inspected: what the act allows, and that no path uses a lot past its date unasked."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.booking import Booked
from collection.acts.lot_inspections import GivenInspection, inspect_lot
from collection.acts.undo import undo
from collection.errors import NeedsReason, PastDate, Refused
from collection.store.engine import reading
from collection.views.card import card_of
from collection.views.procedures import cautions_before
from collection.views.stock import stock
from tests.support.books import digest
from tests.support.drawer import Drawer, left
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

BELT = "flat belt"


def inspect(drawer: Drawer, lot: str, result: str = "pass", **told: Any) -> Booked:
    """Inspect a lot on the test's day."""
    return inspect_lot(drawer.engine, drawer.name, GivenInspection(lot, result, **told), today=TODAY, now=NOW)


def look(drawer: Drawer) -> dict[str, tuple[str, str]]:
    """Return the last usable day and the words of each lot."""
    with reading(drawer.engine) as connection:
        rows = stock(connection, TODAY, drawer.name).rows
    held = [(row.held, row.state) for row in rows if row.held is not None]
    return {lot.lot.name: (str(lot.usable.through), ", ".join(state)) for lot, state in held if lot.lot is not None}


@pytest.fixture
def grease(engine: Engine) -> Drawer:
    """Return a drawer with 5 g of grease that were good through February 2026; today is 1 March."""
    drawer = Drawer(engine).add(thickener="lithium")
    drawer.receive("5", "old", expires_on="2026-02", on="2025-01-01")
    return drawer


@pytest.fixture
def belts(engine: Engine) -> Drawer:
    """Return chloroprene belts, good through 2025-12-31 and, inspected, through 2028-12-31 (ISO 2230:2002, group B)."""
    drawer = Drawer(engine, BELT).add(kind="belt", measured_in="piece", step="1", polymer="CR")
    drawer.receive("3", "old", made="4/18", on="2020-01-01")
    return drawer


def test_a_belt_that_passed_gets_the_one_extension_of_its_rubber(belts: Drawer) -> None:
    """Past its date nothing takes it; inspected it is next again, and undone it is past its date again."""
    assert {"old": ("2025-12-31", "past its date")} == look(belts)
    with pytest.raises(PastDate, match='Inspect or discard it: spindlebook supply inspect "flat belt" old'):
        belts.use("1")
    booked = inspect(belts, "OLD", note="soft")

    assert 'inspected lot "old" of "flat belt": passed, good through 2028-12-31' == booked.did
    assert ("Usable through 2028-12-31: inspected 2026-03-01: good through 2028-12-31 (soft).",) == booked.notes
    assert {"old": ("2028-12-31", "next")} == look(belts)
    undo(belts.engine, None, today=TODAY, now=NOW)
    assert {"old": ("2025-12-31", "past its date")} == look(belts)


@pytest.mark.parametrize(("end", "allowed"), [("2028-12-30", True), ("2028-12", True), ("2029-01-01", False)])
def test_no_rubber_is_given_more_than_its_extension_unless_it_is_said_why(
    belts: Drawer, end: str, allowed: bool
) -> None:
    """ISO 2230:2002, group B: 7 + 3 years from the end of the quarter; the day before, on and after that."""
    if not allowed:
        before = digest(belts.engine)
        with pytest.raises(NeedsReason, match="beyond the end of its one extension, 2028-12-31"):
            inspect(belts, "old", good_through=end)
        assert before == digest(belts.engine)
    booked = inspect(belts, "old", good_through=end, anyway="" if allowed else "for a show only")

    assert booked.did.endswith(f"good through {end if len(end) > 7 else '2028-12-31'}")


@pytest.mark.parametrize(("end", "allowed"), [("2026-03-01", True), ("2031-03-01", True), ("2031-03-02", False)])
def test_grease_that_passed_is_good_as_long_as_it_is_said(grease: Drawer, end: str, allowed: bool) -> None:
    """No table tells, so the end is asked for, at most five years ahead (the longest extension of ISO 2230:2002)."""
    with pytest.raises(Refused, match='How long lot "old" of "white grease" stays good after an inspection'):
        inspect(grease, "old")
    if allowed:
        inspect(grease, "old", good_through=end)
        assert {"old": (end, "next")} == look(grease)
        return
    with pytest.raises(NeedsReason, match="five years from the inspection"):
        inspect(grease, "old", good_through=end)


@pytest.mark.parametrize(
    ("lot", "result", "told", "says"),
    [
        ("old", "good", {}, '"good" is no result of an inspection. Type --result pass or --result fail.'),
        ("new", "pass", {}, 'has no lot "new"'),
        ("old", "pass", {"good_through": "2026-02-28"}, "2026-02-28 lies before the inspection on 2026-03-01"),
        ("old", "fail", {"good_through": "2027"}, "failed it is good through no day"),
        ("old", "fail", {"on": "2024-12-31"}, "came on 2025-01-01, after 2024-12-31"),
        ("old", "fail", {"on": "2026-03-02"}, "has not come yet"),
    ],
)
def test_what_cannot_be_is_refused_and_changes_nothing(
    grease: Drawer, lot: str, result: str, told: dict[str, str], says: str
) -> None:
    """Each refusal names what was seen and what to type."""
    before = digest(grease.engine)
    with pytest.raises(Refused) as refusal:
        inspect(grease, lot, result, **told)

    assert says in str(refusal.value)
    assert before == digest(grease.engine)


def test_what_is_used_up_is_not_inspected_and_an_ended_extension_grants_nothing(belts: Drawer) -> None:
    """Both say what to do instead."""
    belts.receive("1", "gone", on="2020-01-01")
    belts.use("1", lot="gone")
    belts.receive("1", "stone", made="1/10", on="2020-01-01")

    with pytest.raises(Refused, match='Nothing of lot "gone" of "flat belt" is left'):
        inspect(belts, "gone")
    with pytest.raises(Refused, match=r"The one extension of .* ended on 2020-03-31 .*Discard it"):
        inspect(belts, "stone")


def test_a_lot_that_failed_is_taken_by_nothing_and_fails_in_its_new_pot_too(grease: Drawer) -> None:
    """Neither used nor opened unasked, though the printed date was ahead; filling it into another lot hides nothing."""
    grease.receive("5", "bad", expires_on="2030", on="2026-01-01")
    inspect(grease, "bad", "fail", note="oil parted")
    grease.repack("2", "pot", lot="bad")

    assert {"old": "past its date", "bad": "failed inspection", "pot": "failed inspection"} == {
        lot: words for lot, (_, words) in look(grease).items()
    }
    with pytest.raises(PastDate, match="failed"):
        grease.use("1", lot="pot")
    with pytest.raises(PastDate, match='lot "old" was usable through 2026-02-28'):
        grease.open()
    assert {"bad": 20, "pot": 20, "old": 50} == left(grease.use("1", lot="bad", on="2026-02-28"))


def test_opening_past_its_date_is_marked_when_it_is_asked_for(grease: Drawer) -> None:
    """A fresh lot is opened before one past its date; only the word of a person opens the other."""
    grease.receive("5", "new", expires_on="2027-02")

    assert 'opened lot "new" of "white grease"' == grease.open().did
    grease.open(past_date_anyway=True)
    assert [("new", False), ("old", True)] == [(row.lot, row.past_date) for row in grease.history()[-2:]]


def test_lots_of_unknown_age_are_named_before_the_work_and_in_the_drawer(belts: Drawer) -> None:
    """No date is made up for them; a pass on a day does not make them younger."""
    belts.receive("1", "loose", on="2020-01-01")
    inspect(belts, "loose")
    with reading(belts.engine) as connection:
        found = stock(connection, TODAY, expiring_within=90)
        cautions = cautions_before(connection, [], [(BELT, "belt")])

    assert [BELT] == [row.supply.name for row in found.unknown]
    assert ("None", "next, age unknown") == look(belts)["loose"]
    assert 'Lot "loose": age unknown: inspect before use.' in [caution.text for caution in cautions]


@pytest.mark.parametrize(("fitted_on", "past"), [("2019-03-02", False), ("2019-03-01", False), ("2019-02-28", True)])
def test_a_fitted_belt_past_its_years_stands_on_the_card_and_under_the_drawer(
    belts: Drawer, fitted_on: str, past: bool
) -> None:
    """Group B, 7 years from fitting; not of a unit that is a donor, and not once it is removed."""
    with shelf(belts.engine) as made:
        supply = made.named("supply", BELT)
        for tag, standing, removed in (("D1", "ready", None), ("D2", "donor", None), ("D3", "ready", "2025-01-01")):
            unit = made.unit(tag, standing=standing)
            made.work.insert(
                "fitted_part", unit_id=unit, part="belt", fitted_on=fitted_on, removed_on=removed, supply_id=supply
            )
    with reading(belts.engine) as connection:
        found, soon = stock(connection, TODAY), stock(connection, TODAY, expiring_within=2)
        card = card_of(connection, "D1", TODAY)

    assert (["D1"] if past else []) == [each.tag for each in found.fitted]
    assert ["D1"] == [each.tag for each in soon.fitted]
    assert [("past what its rubber is given" if past else "")] == [part.age for part in card.parts]
