"""Rounds on both databases: whom they visit, what they write as one act, and what they leave alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.rounds import Answer, GivenRound, RoundDone, keep_round, set_out, try_round
from collection.acts.undo import undo
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.rounds import Chosen
from collection.views.unit_list import Wanted
from tests.support.bench import IPA, SWAB
from tests.support.books import act, digest, named, scalar
from tests.support.times import NOW, TODAY

SPEED = GivenRound(measurement="spindle speed", instrument="bench counter")


def _keep(engine: Engine, given: GivenRound, *answers: Answer) -> RoundDone:
    return keep_round(engine, given, answers, today=TODAY, now=NOW)


def _kinds(done: RoundDone) -> list[tuple[str, str]]:
    return [(line.tag, line.kind) for line in done.lines]


def _visited(engine: Engine, chosen: Chosen, given: GivenRound = SPEED) -> tuple[list[str], list[str]]:
    with reading(engine) as conn:
        stops = set_out(conn, given, chosen, TODAY).stops
    return [stop.unit.tag for stop in stops.at], [unit.tag for unit in stops.left_out]


def _places(engine: Engine, places: Sequence[tuple[str, str]]) -> None:
    """Put units into places; "house" holds all of them."""
    with act(engine) as work:
        house = work.insert("location", **named("house"))
        known = {
            name: work.insert("location", **named(name), inside_id=house)
            for name in dict.fromkeys(place for _, place in places)
        }
        for tag, place in places:
            unit = scalar(engine, "SELECT id FROM unit WHERE tag = :tag", tag=tag)
            work.append("unit_entry", unit_id=unit, what="location", from_date="2025-02-01", location_id=known[place])
        work.commit("put away")


def test_a_round_goes_by_places_then_by_tags_and_leaves_out_what_cannot_be_visited(bench: Engine) -> None:
    """Shelf 2 comes before shelf 10, what has no place comes last; the missing and donors are named as left out."""
    _places(bench, [("D1", "shelf 10"), ("D3", "shelf 2"), ("D2", "shelf 10")])

    assert (["D3", "D1", "D2", "D4"], ["D7", "D9"]) == _visited(bench, Chosen())
    assert ["D1", "D2"] == _visited(bench, Chosen(wanted=Wanted(location="shelf 10")))[0]
    assert (["D9"], []) == _visited(bench, Chosen(tags=("d9",)))


def test_one_act_holds_all_readings_and_undo_takes_them_back(bench: Engine) -> None:
    """Twelve drives are one act; without it nothing of the round counts."""
    before = digest(bench, effective=True)
    done = _keep(bench, SPEED, Answer("d1", "300.1"), Answer("D2", "199.8", "ms", "cold"), Answer("D4", "306"))

    assert done.written
    assert [("within", 300.1), ("within", 300.3003003003003), ("high", 306.0)] == [
        (line.says, line.result) for line in done.lines
    ]
    assert 1 == scalar(bench, "SELECT count(*) FROM act WHERE command = 'round'")
    assert "round of spindle speed: 3 units" == scalar(bench, "SELECT summary FROM seal ORDER BY id DESC LIMIT 1")
    undo(bench, None, today=TODAY, now=NOW)
    assert before == digest(bench, effective=True)


def test_the_same_lines_twice_add_nothing(bench: Engine) -> None:
    """Same series, day, instrument and value; another value or day is a reading of its own."""
    _keep(bench, SPEED, Answer("D1", "300.1"))
    before = digest(bench)

    done = _keep(bench, SPEED, Answer("D1", "300.10"))
    assert (False, [("D1", "same")]) == (done.written, _kinds(done))
    assert before == digest(bench)
    assert [("D1", "new"), ("D2", "new")] == _kinds(_keep(bench, SPEED, Answer("D1", "300.2"), Answer("D2", "300.1")))


def test_a_refused_line_keeps_the_whole_round_out_and_each_line_says_why(bench: Engine) -> None:
    """Nothing is half written, and a person learns of all mistakes at once."""
    before = digest(bench)
    answers = (Answer("D1", "300", row=2), Answer("X1", "300"), Answer("D2", "3oo"), Answer("d1", "301", row=5))

    done = _keep(bench, SPEED, *answers, Answer("D4", ""))
    assert [("D1", "new"), ("X1", "refused"), ("D2", "refused"), ("D1", "refused"), ("D4", "skipped")] == _kinds(done)
    assert "told twice: 300 (row 2), and 301" in done.lines[3].rule
    assert before == digest(bench)


def test_trying_a_round_writes_nothing_and_says_what_keeping_it_says(bench: Engine) -> None:
    """The dry run is the same steps without the commit."""
    before = digest(bench)
    answers = [Answer("D1", "3000"), Answer("D3", "360")]

    tried = try_round(bench, SPEED, answers, today=TODAY, now=NOW)
    assert before == digest(bench)
    assert [("D1", "doubtful"), ("D3", "new")] == _kinds(tried)
    assert tried.lines == _keep(bench, SPEED, *answers).lines
    assert "ten times nominal; typed wrong?" == scalar(bench, "SELECT rule FROM doubt")


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (GivenRound(), "What the round is of is not said"),
        (GivenRound(measurement="spindle speed"), "several are used for it: bench counter, hand strobe"),
        (GivenRound(measurement="spindle speed", instrument="counter"), 'no instrument "counter"'),
        (GivenRound(procedure="clean heads"), 'no procedure "clean heads"'),
        (GivenRound(measurement="spindle speed", on="2026-03-02"), "has not come yet"),
    ],
)
def test_what_is_wrong_with_the_round_itself_is_said_before_the_first_unit(
    bench: Engine, given: GivenRound, says: str
) -> None:
    """Nobody types twelve values for a round that cannot be kept."""
    with pytest.raises(Refused, match=says):
        try_round(bench, given, [], today=TODAY, now=NOW)


def test_a_procedure_gives_each_unit_a_service_with_its_value_as_left_and_the_sheets_amounts(bench: Engine) -> None:
    """One task and one use of each supply per unit, in one act; a unit passed over gets none."""
    given = GivenRound(procedure="clean head", measurement="head condition", by_the_sheet=True)
    done = _keep(bench, given, Answer("D1", "pass"), Answer("D2", ""), Answer("D4", "pass", note="shiny"))

    assert [("D1", "new"), ("D2", "skipped"), ("D4", "new")] == _kinds(done)
    assert 2 == scalar(bench, "SELECT count(*) FROM task")
    assert 2 == scalar(bench, "SELECT count(*) FROM reading WHERE stage = 'as left' AND grade = 'pass'")
    assert "shiny" == scalar(bench, "SELECT findings FROM service WHERE findings IS NOT NULL")
    for supply in (IPA, SWAB):
        sql = "SELECT count(DISTINCT m.service_id) FROM movement m JOIN supply s ON s.id = m.supply_id"
        assert 2 == scalar(bench, f"{sql} WHERE s.name = :name AND m.kind = 'use'", name=supply)
    assert "same" == _keep(bench, given, Answer("D1", "pass")).lines[0].kind
    other = _keep(bench, given, Answer("D1", "marginal")).lines[0]
    assert ("refused", True) == (other.kind, "was not left at marginal" in other.rule)


def test_a_unit_that_would_not_be_ready_is_refused_by_name_and_a_reason_lets_it_pass(bench: Engine) -> None:
    """The round knows the same rules as a service: a failed retest holds back "ready"."""
    given: dict[str, Any] = {"procedure": "clean head", "measurement": "head condition"}
    done = _keep(bench, GivenRound(**given), Answer("D1", "fail"))
    assert (False, "refused") == (done.written, done.lines[0].kind)
    assert "D1 is not called ready" in done.lines[0].rule
    assert _keep(bench, GivenRound(**given, outcome="on the bench"), Answer("D1", "fail")).written


def test_a_procedure_alone_takes_yes_and_no_and_no_other_word(bench: Engine) -> None:
    """No passes a unit over; a value in the place of yes is a mistake."""
    answers = (Answer("D1", "yes"), Answer("D2", "no"), Answer("D4", "12"))
    done = try_round(bench, GivenRound(procedure="dust out"), answers, today=TODAY, now=NOW)

    assert [("D1", "new"), ("D2", "skipped"), ("D4", "refused")] == _kinds(done)
