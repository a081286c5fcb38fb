"""The schedule of insured contents on a book: everything once, its worth, and as the book stood on a past day."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.instrument_life import GivenUse, add_instrument
from collection.acts.media import add_medium
from collection.acts.policies import add_policy, edit_policy
from collection.acts.records import edit_model, edit_person
from collection.acts.undo import undo
from collection.acts.valuations import add_valuation
from collection.errors import Refused
from collection.quantity import Money
from collection.store.engine import reading
from collection.store.past import another_day, end_of
from collection.views.insurance import BORROWED, CONTENTS, Item, Schedule, schedule, worth_a_page
from tests.support.books import act, digest
from tests.support.drawer import Drawer
from tests.support.shelf import Shelf, shelf
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
LATER = NOW + timedelta(days=40)
THEN: dict[str, Any] = {"today": LATER.date(), "now": LATER}


def plan(engine: Engine, day: date = TODAY, months: int = 12) -> Schedule:
    """Return the schedule of a day by what the book knows."""
    with reading(engine) as conn:
        return schedule(conn, day, months)


def stood(engine: Engine, instant: datetime, day: date = TODAY) -> Schedule:
    """Return the schedule of a day by what the book knew at an instant."""
    with reading(engine) as conn, another_day(conn, known_until=instant, day=None) as then:
        return schedule(then, day, 12)


def named(items: list[Item]) -> list[str]:
    """Return tags, or names of what has none."""
    return [item.unit.tag if item.unit else item.name for item in items]


def value(engine: Engine, tag: str, amount: str, on: str = "2026-01-01", **told: Any) -> None:
    """Value a unit at the market."""
    add_valuation(engine, tag, amount, **{"basis": "market", "on": on} | AT | told)


def priced(made: Shelf, name: str, minor: int, **values: Any) -> str:
    """Add a model that costs so much to replace; return its name."""
    made.model(name, replacement_minor=minor, currency="EUR", **values)
    return name


def test_everything_stands_on_it_once_and_apart_where_it_is_not_ours_or_not_here(engine: Engine) -> None:
    """Lent things are contents with their borrower; borrowed and missing ones stand apart; gone ones not at all."""
    with shelf(engine) as made:
        priced(made, "VX-9", 7000)
        for tag in ("D10", "D2"):
            made.owner(made.unit(tag, "VX-9"), "Anna Lerk")
        made.lend(made.unit("D3", "VX-9"), "2026-02-01", "2026-05-01")
        made.lend(made.unit("P6", "VX-9"), "2026-02-01", "2026-05-01", direction="in")
        made.lend(made.unit("P7", "VX-9"), "2025-02-01", "2025-05-01", "2026-03-01", direction="in")
        made.unit("M1", "VX-9", standing="missing")
        made.unit("G1", "VX-9", standing="gone")

    found = plan(engine)

    assert ["D2", "D3", "D10", "P7"] == named(found.of(CONTENTS))
    assert (["P6"], ["M1"]) == (named(found.of(BORROWED)), named(found.of("missing")))
    assert [("Ilva", "2026-05-01")] == [(x.loan.person, x.loan.due_on) for x in found.of(CONTENTS) if x.loan]
    assert ({"EUR": Money(28000, "EUR")}, {"EUR": Money(7000, "EUR")}) == (
        found.totals(CONTENTS),
        found.totals(BORROWED),
    )
    assert [("Anna Lerk", 14000, 2), ("", 14000, 2)] == [
        (each.name, each.total.minor, each.things) for each in found.by("owner", CONTENTS)
    ]


def test_no_pair_counts_twice(engine: Engine) -> None:
    """What stands inside a unit of known value counts with it, until the day it is taken out, and else by itself."""
    with shelf(engine) as made:
        inside, plain = priced(made, "VS-1", 9000, supply_inside=1), priced(made, "VX-9", 7000)
        d1, d2, m1, m2 = (made.unit(tag, plain) for tag in ("D1", "D2", "M1", "M2"))
        bare, m3 = made.unit("D3"), made.unit("M3", plain)
        d4, p1, p2 = made.unit("D4", inside), made.unit("P1", plain), made.unit("P2", plain)
        for host, part, removed in ((d1, m1, None), (d2, m2, "2026-03-01"), (bare, m3, None)):
            made.work.insert(
                "fitted_part", unit_id=host, part="mechanism", part_unit_id=part, fitted_on="2025", removed_on=removed
            )
        for drive, supply in ((d4, p1), (d1, p2)):
            made.work.insert("pairing", drive_id=drive, supply_unit_id=supply, from_date="2025-01-01")

    found = plan(engine)

    counted = {item.unit.tag: item.counted and item.counted.minor for item in found.items if item.unit}
    assert {"M1": "D1", "P1": "D4"} == {x.unit.tag: x.with_tag for x in found.items if x.unit and x.with_tag}
    assert {"D1": 7000, "D2": 7000, "D3": None, "D4": 9000, "M1": None, "M2": 7000, "M3": 7000} == {
        tag: counted[tag] for tag in counted if not tag.startswith("P")
    }
    assert (None, 7000) == (counted["P1"], counted["P2"])


def test_each_value_says_how_good_it_is(engine: Engine) -> None:
    """The latest valuation up to the day; else what the model costs, but for a donor; else nothing."""
    with shelf(engine) as made:
        model = priced(made, "VX-9", 7000)
        for tag in ("D1", "D2", "D3"):
            made.unit(tag, model)
        made.unit("D4", model, standing="donor")
        made.unit("D5")
    value(engine, "D1", "90", on="2025-03-01")
    value(engine, "D2", "80", on="2025-02-28")

    states = {
        item.unit.tag: (item.state, item.counted and item.counted.text) for item in plan(engine).items if item.unit
    }

    assert {
        "D1": ("current", "90.00"),
        "D2": ("out of date", "80.00"),
        "D3": ("of its model", "70.00"),
        "D4": ("not valued", None),
        "D5": ("not valued", None),
    } == states
    assert ["D1", "D2", "D3"] == named(worth_a_page(plan(engine), None))
    assert [["D1"], ["D1", "D2"], []] == [
        named(worth_a_page(plan(engine), Money(minor, code)))
        for minor, code in ((8001, "EUR"), (8000, "EUR"), (1, "USD"))
    ]


def test_disks_instruments_and_the_drawer_stand_on_it_too(engine: Engine) -> None:
    """A disk or an instrument that is a unit is listed as that alone; spares are one sum of each currency."""
    with shelf(engine) as made:
        made.unit("A1")
    add_medium(engine, "alignment disk 1", {"role": "reference", "unit": "A1"}, **AT)
    add_medium(engine, "scratch disk 1", {"role": "scratch", "size": "90 mm"}, **AT)
    add_instrument(engine, "bench counter", {"kind": "counter"}, GivenUse(("spindle speed",)), **AT)
    add_instrument(engine, "test disk program", {"kind": "program"}, GivenUse(("spindle speed",)), **AT)
    drawer = Drawer(engine).add()
    drawer.receive("50", "A", price="9.00")
    drawer.receive("10", "B")
    drawer.use("25", lot="A")

    found = plan(engine)

    assert ["A1", "scratch disk 1", "bench counter", "Drawer"] == named(found.of(CONTENTS))
    assert ({"EUR": Money(450, "EUR")}, 1) == (found.totals(CONTENTS), found.unpriced)


def test_a_schedule_of_a_past_day_is_the_one_that_was_made_then(engine: Engine) -> None:
    """Names, prices, values, policies, undone acts and things that came later: all as the book stood that evening."""
    with shelf(engine) as made:
        model = priced(made, "VX-9", 7000)
        for tag in ("D1", "D2"):
            made.owner(made.unit(tag, model), "Anna Lerk")
    add_policy(engine, "P 1", {"sum_insured": "100"}, **AT)
    value(engine, "D1", "90")
    value(engine, "D2", "1000")
    taken_back = undo(engine, None, **AT)
    then = plan(engine)

    undo(engine, taken_back.by_id, **THEN)
    value(engine, "D1", "95", **THEN)
    edit_person(engine, "Anna Lerk", {"person": "Anna Oakhollow"}, **THEN)
    edit_person(engine, "Anna Oakhollow", {"person": "Anna Third", "email": "a@example.org"}, **THEN)
    edit_model(engine, "VX-9", {"replacement_value": "1.00"}, **THEN)
    edit_policy(engine, "P 1", {"sum_insured": "500"}, **THEN)
    undo(engine, None, **THEN)
    edit_policy(engine, "P 1", {"sum_insured": "700"}, **THEN)

    now = plan(engine)
    assert ("90.00", "95.00", "1000.00") == (worth(then, "D1"), worth(now, "D1"), worth(now, "D2"))
    assert ("Anna Lerk", "Anna Third") == (then.items[0].owner, now.items[0].owner)
    assert then == stood(engine, NOW + timedelta(hours=1))
    assert now == stood(engine, LATER + timedelta(hours=1))


def test_before_it_began_the_book_knew_nothing(engine: Engine) -> None:
    """A schedule of such a day is refused, and the first day that there is one of is told."""
    with pytest.raises(Refused) as refused:
        stood(engine, NOW)

    assert (
        "The book was begun on 2026-03-01 and knew nothing before.",
        "The first day that can be asked is 2026-03-01.",
    ) == (
        refused.value.what,
        refused.value.hint,
    )


def test_what_came_later_is_left_out_of_a_past_day_as_it_is_known_now(engine: Engine) -> None:
    """By the day it was acquired, else by what was first entered of it; a partial day is taken at its start."""
    with shelf(engine) as made:
        model = priced(made, "VX-9", 7000)
        for tag, acquired in (("D1", "2025-06-30"), ("D2", "2025-07-01"), ("D3", "2025"), ("D4", None)):
            made.unit(tag, model, acquired_on=acquired)
        late = made.work.insert("unit", tag="D5", tag_folded="d5", model_id=made.model("VX-9"))
        made.owner(late, "Anna Lerk", "2025-07-01")

    assert ["D1", "D3", "D4"] == named(plan(engine, date(2025, 6, 30)).of(CONTENTS))
    assert ["D1", "D2", "D3", "D4", "D5"] == named(plan(engine, date(2025, 7, 1)).of(CONTENTS))


def test_a_day_ends_where_the_book_is(engine: Engine) -> None:
    """In the time zone of the book, not in that of the computer."""
    with act(engine) as work:
        work.update("book", 1, time_zone="Asia/Tokyo")
        work.commit("moved the book")
    with reading(engine) as conn:
        assert "2026-03-01T15:00:00+00:00" == end_of(conn, TODAY).astimezone(UTC).isoformat()


def test_a_policy_is_in_force_from_its_first_to_its_last_day(engine: Engine) -> None:
    """Both count; its sums are told by currency; a month is taken as a whole."""
    add_policy(engine, "P 1", {"from_date": "2026-03-01", "to_date": "2026-03-31", "sum_insured": "100"}, **AT)
    add_policy(engine, "P 2", {"from_date": "2026-03", "to_date": "2026-03", "sum_insured": "7 USD"}, **AT)
    add_policy(engine, "P 3", {"from_date": "2026-03-02"}, **AT)

    days = [date(2026, 2, 28), TODAY, date(2026, 3, 31), date(2026, 4, 1)]
    assert [[], ["P 2", "P 1"], ["P 2", "P 1", "P 3"], ["P 3"]] == [
        [policy.name for policy in plan(engine, day).policies] for day in days
    ]
    assert {"EUR": Money(10000, "EUR"), "USD": Money(700, "USD")} == plan(engine).insured()


@pytest.mark.parametrize(
    ("name", "given", "says"),
    [
        ("p 1", {}, 'There is a policy "P 1" already.'),
        ("P 2", {"from_date": "2026-03-02", "to_date": "2026-03-01"}, "cannot end on 2026-03-01"),
        ("P 2", {"sum_insured": "-0.01"}, "is below zero"),
        ("P 2", {"from_date": "2026-02-30"}, "does not exist"),
        ("", {}, "A policy needs a name"),
    ],
)
def test_a_policy_that_cannot_be_is_refused(engine: Engine, name: str, given: dict[str, str], says: str) -> None:
    """A name that is given, an end before its beginning, a sum below zero, no day: nothing is written."""
    add_policy(engine, "P 1", {}, **AT)
    before = digest(engine)

    with pytest.raises(Refused) as refused:
        add_policy(engine, name, given, **AT)

    assert says in refused.value.what
    assert before == digest(engine)


def worth(found: Schedule, tag: str) -> str | None:
    """Return what a unit adds to the sum."""
    return next(x.counted.text if x.counted else None for x in found.items if x.unit and x.unit.tag == tag)
