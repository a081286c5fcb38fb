"""What was told of a loan, its reservation, damage and way out on a day before the end of each, on both databases."""

from __future__ import annotations

from datetime import date
from typing import Any, NamedTuple

import pytest
from sqlalchemy.engine import Connection, Engine

from collection.acts.damage import close_damage, edit_damage
from collection.acts.dispose import GivenExit, dispose
from collection.acts.loan_back import take_back
from collection.acts.loan_change import return_deposit
from collection.acts.loan_given import ComingBack, GivenState, GivenTerms, GoingOut
from collection.acts.loan_out import lend
from collection.acts.reservations import reserve
from collection.store.engine import reading
from collection.store.past import another_day
from collection.views.damage import damage_list
from collection.views.exits import exits_of
from collection.views.loan_show import loan_shown
from collection.views.reservations import reservation_list
from collection.views.units import find_unit
from tests.support.bench import set_up_bench
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
BRAM = "Bram Oakhollow"


class Told(NamedTuple):
    """What the book says as of a day; "" and None for what had not come about."""

    reserved: tuple[str, str]
    back: tuple[str, str, str]
    deposit_back: str
    checks: int
    damages: tuple[tuple[str, str, str, str], ...]
    exits: int


@pytest.fixture
def lent(engine: Engine) -> Engine:
    """Return an engine on a book with a loan that is over, of which all but the reservation was entered today."""
    set_up_bench(engine, date(2026, 2, 1), NOW)
    reserve(engine, ["D1"], to=BRAM, first="2026-02-12", last="2026-02-20", today=date(2026, 2, 5), now=NOW)
    out = GoingOut("D1", "two disks", GivenState("good"))
    lend(engine, [out], to=BRAM, on="2026-02-12", due="2026-02-20", terms=GivenTerms(deposit="50"), **AT)
    back = ComingBack("D1", GivenState("lid cracked"), missing="one disk", damage="lid cracked")
    take_back(engine, [back], on="2026-02-15", by="Ilse Vanterpool", **AT)
    return_deposit(engine, "L1", on="2026-02-16", **AT)
    told = {"owner_told_on": "2026-02-17", "insurer_told_on": "2026-02-18"}
    edit_damage(engine, "DL1", told, **AT)
    close_damage(engine, "DL1", "glued", on="2026-02-19", settled="20", **AT)
    dispose(engine, "D4", GivenExit("scrapped", "a cracked frame"), on="2026-02-20", **AT)
    return engine


def _told(conn: Connection, day: date) -> Told:
    (kept,) = reservation_list(conn, day, closed_too=True)
    shown = loan_shown(conn, "L1", day)
    row = shown.terms
    return Told(
        (kept.state(day), kept.loan),
        (row.back_on, row.taken_by, row.along_missing),
        row.deposit_back_on if row.deposit_back else "",
        len(shown.checks),
        tuple(
            (each.owner_told_on, each.insurer_told_on, each.closed_how, each.settled.text if each.settled else "")
            for each in reversed(damage_list(conn))
        ),
        len(exits_of(conn, find_unit(conn, "D4").id)),
    )


def test_an_end_shows_from_its_day_on_and_all_that_was_told_with_it(lent: Engine) -> None:
    """Of each end the day before and the day itself; the reservation stands from the day it was entered."""
    back = ("2026-02-15", "Ilse Vanterpool", "one disk")
    none, owner, both = ("", "", "", ""), ("2026-02-17", "", "", ""), ("2026-02-17", "2026-02-18", "", "")
    closed, became = ("2026-02-17", "2026-02-18", "glued", "20.00"), ("lent", "L1")
    expected = {
        12: Told(became, ("", "", ""), "", 1, (), 0),
        14: Told(became, ("", "", ""), "", 1, (), 0),
        15: Told(became, back, "", 2, (none, none), 0),
        16: Told(became, back, "2026-02-16", 2, (none, none), 0),
        17: Told(became, back, "2026-02-16", 2, (owner, none), 0),
        18: Told(became, back, "2026-02-16", 2, (both, none), 0),
        19: Told(became, back, "2026-02-16", 2, (closed, none), 0),
        20: Told(became, back, "2026-02-16", 2, (closed, none), 1),
    }
    with reading(lent) as conn:
        for number, told in expected.items():
            day = date(2026, 2, number)
            with another_day(conn, known_until=None, day=day) as then:
                assert told == _told(then, day), day
        for number, states in ((4, []), (5, [("ahead", "")]), (11, [("ahead", "")])):
            day = date(2026, 2, number)
            with another_day(conn, known_until=None, day=day) as then:
                assert states == [(row.state(day), row.loan) for row in reservation_list(then, day, closed_too=True)]
