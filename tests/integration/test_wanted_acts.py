"""Parts that units wait for, on both databases."""

from __future__ import annotations

from datetime import date
from functools import partial
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.parts import fit
from collection.acts.receive import GivenLot, receive_supply
from collection.acts.service_given import GivenPart, GivenService
from collection.acts.service_record import record_service
from collection.acts.undo import undo
from collection.acts.units import enter
from collection.acts.wanted import GivenWant, add_wanted, drop_wanted, got_wanted
from collection.analysis.stock_plan.found import ORDER_NOW
from collection.analysis.stock_plan.plan import plan_supply
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.service_report import next_due
from collection.views.stock_plan import stock_plan
from collection.views.stock_rows import StockRow
from collection.views.units import find_unit
from collection.views.wanted import wanted_list
from tests.support.bench import BELT, IPA, set_up_bench
from tests.support.times import NOW, TODAY

AT: Any = {"today": TODAY, "now": NOW}


@pytest.fixture
def bench(engine: Engine) -> Engine:
    """Return an engine on a book with a small shelf: D3 awaits parts, two belts are there."""
    set_up_bench(engine, TODAY, NOW)
    return engine


def _why(engine: Engine, tag: str, today: date = TODAY) -> list[str]:
    """Return why a unit is to be looked at."""
    with reading(engine) as conn:
        items = next_due(conn, find_unit(conn, tag).id, today)
    return [reason for item in items if item.procedure == "look at" for reason in item.reasons]


def _buy(engine: Engine, supply: str) -> StockRow:
    with reading(engine) as conn:
        return stock_plan(conn, TODAY, supply, plan=plan_supply).rows[0]


def test_a_unit_is_due_again_once_all_it_waits_for_is_there(bench: Engine) -> None:
    """Two belts of three are not enough; the third lot puts it on the due list, and its undo takes it off."""
    add_wanted(bench, "D3", GivenWant(BELT, pieces=3, on="2026-02-01"), **AT)
    add_wanted(bench, "D3", GivenWant("pinch roller", on="2026-02-01"), **AT)
    assert [] == _why(bench, "D3")

    booked = receive_supply(bench, BELT, GivenLot("1", on="2026-02-20"), **AT)
    assert "Wanted by D3: still missing: pinch roller." in booked.notes
    got_wanted(bench, "D3", "pinch", on="2026-02-21", **AT)
    assert [f"part came: {BELT} received 20 Feb 2026", "part came: pinch roller got 21 Feb 2026"] == _why(bench, "D3")

    undo(bench, None, **AT)
    assert [] == _why(bench, "D3")


def test_what_was_in_the_drawer_all_along_says_so(bench: Engine) -> None:
    """The unit is due from the day the part was wanted, not from a receipt of last year."""
    assert 2 == add_wanted(bench, "D3", GivenWant("belt", supply=BELT, on="2026-02-01"), **AT).there

    assert [f"part is in the drawer: {BELT}, wanted 1 Feb 2026"] == _why(bench, "D3")


def test_a_unit_that_does_not_await_parts_is_not_due_by_them(bench: Engine) -> None:
    """D1 is ready and wants a spare belt: receiving says so, and it stays off the list."""
    add_wanted(bench, "D1", GivenWant(BELT), **AT)

    booked = receive_supply(bench, BELT, GivenLot("1"), **AT)

    assert "Wanted by D1: it stands ready, and is not awaiting parts." in booked.notes
    assert [] == _why(bench, "D1")


def test_fitting_a_part_settles_the_want(bench: Engine) -> None:
    """By its supply or by the name of the part; of two pieces one is still wanted."""
    add_wanted(bench, "D1", GivenWant("drive belt", supply=BELT, pieces=2), **AT)
    serve = partial(record_service, bench, "D1", today=TODAY, now=NOW)
    given = GivenService(outcome="ready", parts=(GivenPart("belt", supply=BELT),))

    serve(given)
    with reading(bench) as conn:
        assert [(1, "")] == [(row.pieces, row.got_on) for row in wanted_list(conn)]
    serve(given)
    with reading(bench) as conn:
        assert [(1, "2026-03-01")] == [(row.pieces, row.got_on) for row in wanted_list(conn)]


def test_a_part_fitted_before_it_was_wanted_settles_nothing(bench: Engine) -> None:
    """A fitting of the day before, entered late, leaves the want open; one of the very day settles it."""
    add_wanted(bench, "D1", GivenWant("pulley", on="2026-02-01"), **AT)

    for day, got in (("2026-01-31", ""), ("2026-02-01", "2026-02-01")):
        fit(bench, "D1", GivenPart("pulley", donor="D7"), on=day, anyway="a second one", **AT)
        with reading(bench) as conn:
            assert [got] == [row.got_on for row in wanted_list(conn)]


def test_what_a_unit_wanted_that_is_gone_is_not_bought_and_takes_no_piece(bench: Engine) -> None:
    """The two belts in the drawer serve the unit that still waits, until the going is undone."""
    add_wanted(bench, "D9", GivenWant(BELT, pieces=2, on="2026-01-01"), **AT)
    add_wanted(bench, "D3", GivenWant(BELT, pieces=2, on="2026-02-01"), **AT)
    assert [] == _why(bench, "D3")

    enter(bench, "D9", standing="gone", reason="sold", **AT)
    assert [f"part is in the drawer: {BELT}, wanted 1 Feb 2026"] == _why(bench, "D3")
    assert (f"D3: {BELT}",) == _buy(bench, BELT).wanted

    undo(bench, None, **AT)
    assert [] == _why(bench, "D3")
    assert 2 == len(_buy(bench, BELT).wanted)


def test_a_part_wanted_is_bought_unless_the_drawer_has_it(bench: Engine) -> None:
    """Two belts serve two wants; the third is to buy, and a want that is dropped is not."""
    for tag, pieces in (("D3", 2), ("D1", 1)):
        add_wanted(bench, tag, GivenWant(BELT, pieces=pieces), **AT)
    add_wanted(bench, "D2", GivenWant("lamp"), **AT)

    row = _buy(bench, BELT)
    with reading(bench) as conn:
        loose = stock_plan(conn, TODAY, plan=plan_supply).loose
    assert (ORDER_NOW, (f"D1: {BELT}", f"D3: {BELT}")) == (row.state, row.wanted)
    assert row.steps >= 1
    assert [("D2", "lamp")] == [(part.tag, part.part) for part in loose]

    drop_wanted(bench, "D1", "belt", reason="mended", **AT)
    assert ORDER_NOW != _buy(bench, BELT).state


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (GivenWant("belt", supply=IPA), f'A part is wanted by the piece, and "{IPA}" is kept in ml.'),
        (GivenWant("belt", pieces=0), "0 pieces: a unit wants 1 to 1000."),
        (GivenWant("belt", pieces=1001), "1001 pieces: a unit wants 1 to 1000."),
        (GivenWant("LAMP"), "D3 wants lamp since 2026-03-01 already"),
        (GivenWant("belt", on="2026-03-02"), "has not come yet"),
        (GivenWant("  "), "A wanted part needs a part."),
    ],
)
def test_what_cannot_be_wanted_is_refused(bench: Engine, given: GivenWant, says: str) -> None:
    """Nothing is written."""
    add_wanted(bench, "D3", GivenWant("lamp"), **AT)

    with pytest.raises(Refused) as refused:
        add_wanted(bench, "D3", given, **AT)

    assert says in str(refused.value)
    with reading(bench) as conn:
        assert 1 == len(wanted_list(conn))


def test_what_is_not_wanted_is_neither_got_nor_dropped(bench: Engine) -> None:
    """The refusal names what is wanted; a drop needs a reason."""
    add_wanted(bench, "D3", GivenWant("lamp", pieces=1000), **AT)

    with pytest.raises(Refused, match=r'wants no "belt"\. It wants: "lamp"'):
        got_wanted(bench, "D3", "belt", **AT)
    with pytest.raises(Refused, match="without a reason"):
        drop_wanted(bench, "D3", "lamp", reason=" ", **AT)
    with pytest.raises(Refused, match="is wanted since 2026-03-01, after 2026-02-28"):
        got_wanted(bench, "D3", "lamp", on="2026-02-28", **AT)
