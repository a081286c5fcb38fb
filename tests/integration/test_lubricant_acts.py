"""The lubricant now on each point: told, or used for a procedure; and another kind over the old one."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.lubrication import lubricate, mixing_cautions
from collection.acts.parts import fit
from collection.acts.service_given import GivenLube, GivenPart, GivenService, GivenUse
from collection.acts.service_record import ServiceDone, record_service
from collection.acts.undo import undo
from collection.errors import Refused, fold
from collection.store.engine import reading
from collection.views.card import card_of
from collection.views.lubricants import lubricants_on
from collection.views.service_report import doubts_of
from collection.views.units import find_unit
from tests.support.bench import IPA, receive, set_up_bench
from tests.support.books import act, digest
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
LITHIUM, POLYUREA = "rail grease, lithium NLGI 2", "blue grease"
RELUBE = "clean and re-lube rails"


@pytest.fixture
def bench(engine: Engine) -> Engine:
    """Return an engine on a small shelf with two greases, and a procedure that greases over the old."""
    set_up_bench(engine, TODAY, NOW)
    with act(engine) as work:
        kept = {"kind": "grease", "measured_in": "g", "smallest_step": "0.1", "tracked": "count"}
        work.insert("supply", name=POLYUREA, name_folded=fold(POLYUREA), thickener="polyurea", **kept)
        for supply in (LITHIUM, POLYUREA):
            receive(work, supply, "G-1", "2025-01-05", None, 500)
        work.insert("procedure", name="top up", name_folded="top up", lubricates="rails; lead screw")
        work.commit("two greases")
    return engine


def on_points(engine: Engine, tag: str = "D1") -> list[tuple[str, str, str, bool]]:
    """Return point, lubricant, since and whether the old was cleaned off."""
    with reading(engine) as conn:
        rows = lubricants_on(conn, find_unit(conn, tag).id, TODAY.isoformat())
    return [(row.point, row.put.supply, row.since, row.cleaned_first) for row in rows]


def record(engine: Engine, on: str, **given: Any) -> ServiceDone:
    """Record a service of D1."""
    return record_service(engine, "D1", GivenService(on=on, outcome="on the bench", **given), **AT)


def doubts(engine: Engine, done: ServiceDone) -> list[str]:
    """Return what a service was marked with."""
    with reading(engine) as conn:
        return doubts_of(conn, done.act_id)


def marks(engine: Engine) -> list[str]:
    """Return the fields of the doubts on the card of D1."""
    with reading(engine) as conn:
        return [mark.field for mark in card_of(conn, "D1", TODAY).doubts]


def test_what_a_procedure_used_is_on_its_point_until_something_else_is(bench: Engine) -> None:
    """By the sheet, as told by hand in a service that greased, and as told of a point; a late entry changes nothing."""
    record(bench, "2026-01-03", did=(RELUBE,), by_the_sheet=True)
    assert [("rails", LITHIUM, "2026-01-03", True)] == on_points(bench)

    record(bench, "2026-01-10", did=(RELUBE,), used=(GivenUse(POLYUREA, "0.5"),))
    assert [("rails", POLYUREA, "2026-01-10", True)] == on_points(bench)

    record(bench, "2026-01-08", lubed=(GivenLube("Rails", LITHIUM, cleaned_first=True),))
    lubricate(bench, "D1", GivenLube("lead screw", f"{LITHIUM}/G-1"), on="2026-01-12", **AT)
    assert [
        ("lead screw", LITHIUM, "2026-01-12", False),
        ("rails", POLYUREA, "2026-01-10", True),
    ] == on_points(bench)

    undo(bench, None, **AT)
    assert [("rails", POLYUREA, "2026-01-10", True)] == on_points(bench)
    assert [] == on_points(bench, "D2")


def test_of_one_day_what_was_told_goes_before_what_was_used(bench: Engine) -> None:
    """In one service a person who names the point knows better than the sheet."""
    record(bench, "2026-01-03", did=(RELUBE,), by_the_sheet=True, lubed=(GivenLube("rails", POLYUREA, True),))

    assert [("rails", POLYUREA, "2026-01-03", True)] == on_points(bench)


def test_another_kind_is_warned_of_and_marked_until_the_point_is_cleaned(bench: Engine) -> None:
    """The same kind again, or the old one cleaned off, is neither; nor is a procedure that takes the old off."""
    record(bench, "2026-01-03", lubed=(GivenLube("rails", LITHIUM),))
    over = GivenService(lubed=(GivenLube("Rails", POLYUREA),))
    for given, warned in (
        (over, 1),
        (GivenService(lubed=(GivenLube("rails", LITHIUM),)), 0),
        (GivenService(lubed=(GivenLube("rails", POLYUREA, True),)), 0),
        (GivenService(did=("top up",), used=(GivenUse(POLYUREA, "1"),)), 1),
        (GivenService(did=(RELUBE,), used=(GivenUse(POLYUREA, "1"),)), 0),
        (GivenService(did=("top up",), used=(GivenUse(IPA, "1"),)), 0),
    ):
        with reading(bench) as conn:
            assert warned == len(mixing_cautions(conn, "D1", given, TODAY)), given

    done = record(bench, "2026-01-04", lubed=over.lubed)

    over_it = f"{POLYUREA} (polyurea) over {LITHIUM}, on the rails since 2026-01-03: of another thickener"
    why = "mixed, greases may turn soft and run; the old one was not cleaned off first"
    assert [f"rails {POLYUREA}: {over_it}; {why}"] == doubts(bench, done)
    assert ["rails"] == marks(bench)
    lubricate(bench, "D1", GivenLube("rails", LITHIUM, cleaned_first=True), on="2026-01-05", **AT)
    assert [] == marks(bench)
    undo(bench, None, **AT)
    assert ["rails"] == marks(bench)
    record(bench, "2026-01-05", did=(RELUBE,), by_the_sheet=True)
    assert "rails" not in marks(bench)


def test_a_procedure_that_greases_over_the_old_is_marked_as_well(bench: Engine) -> None:
    """The service carries the mark; the point that had nothing on it does not."""
    record(bench, "2026-01-03", lubed=(GivenLube("rails", LITHIUM),))

    done = record(bench, "2026-01-04", did=("top up",), used=(GivenUse(POLYUREA, "1"),))

    assert 1 == len(doubts(bench, done))
    assert [("lead screw", POLYUREA), ("rails", POLYUREA)] == [row[:2] for row in on_points(bench)]


def test_the_lubricant_goes_along_with_a_swapped_mechanism(bench: Engine) -> None:
    """The rails are on the mechanism: what was put on those of the donor is on the unit now."""
    lubricate(bench, "D1", GivenLube("rails", LITHIUM), on="2026-01-03", **AT)
    lubricate(bench, "D7", GivenLube("rails", POLYUREA), on="2026-01-04", **AT)

    fit(bench, "D1", GivenPart("mechanism", donor="D7"), on="2026-02-01", **AT)

    assert [("rails", POLYUREA, "2026-01-04", False)] == on_points(bench)
    assert [] == on_points(bench, "D7")


@pytest.mark.parametrize(
    ("given", "why"),
    [
        (GivenLube("rails", IPA), "is of the kind solvent, which is no lubricant"),
        (GivenLube(" ", LITHIUM), "Which point"),
        (GivenLube("rails", "gold"), 'There is no supply "gold"'),
        (GivenLube("rails", f"{LITHIUM}/G-9"), 'has no lot "G-9"'),
    ],
)
def test_what_is_no_lubricant_on_a_point_is_refused(bench: Engine, given: GivenLube, why: str) -> None:
    """Nothing is written."""
    before = digest(bench)

    with pytest.raises(Refused, match=why):
        lubricate(bench, "D1", given, **AT)

    assert before == digest(bench)
