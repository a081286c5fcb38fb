"""What a guided service asks and how each answer is kept, on both databases."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.readings import GivenReading
from collection.acts.service_given import GivenPart, GivenService, GivenUse
from collection.acts.service_guide import keep_answer
from collection.acts.service_record import ServiceDone, record_service
from collection.acts.undo import undo
from collection.analysis.guide import Place
from collection.errors import NeedsReason, PastDate, Refused
from collection.store.engine import fetch, reading
from collection.views.procedures import find_procedures
from collection.views.service_guide import guide_of, last_kept, open_guides, place_of
from collection.views.service_guide_readings import instrument_in, readings_as_found, readings_as_left
from collection.views.service_guide_work import (
    kept_readings,
    kept_uses,
    last_served,
    parts_asked,
    supplies_asked,
    tasks_offered,
)
from collection.views.units import find_unit, unit_on
from tests.support.bench import BELT, IPA, SWAB
from tests.support.books import act, digest
from tests.support.times import NOW, TODAY

FOUND = GivenReading("spindle speed", "306.1", instrument="bench counter")


def _keep(
    engine: Engine, following: Place | None, *, is_open: bool = True, tag: str = "D4", **given: Any
) -> ServiceDone:
    return keep_answer(engine, tag, GivenService(**given), following, is_open=is_open, today=TODAY, now=NOW)


def _unit(conn: Any, tag: str = "D4") -> Any:
    return unit_on(conn, find_unit(conn, tag).id, TODAY)


def test_the_first_answer_opens_the_service_and_the_last_closes_it(bench: Engine) -> None:
    """Each answer is an act of its own; between them the book knows the next question, after the last none."""
    first = _keep(bench, Place("as found", 2), is_open=False, as_found=(FOUND,))
    with reading(bench) as conn:
        opened = guide_of(conn, "d4")
    _keep(bench, Place("supplies"), did=("set spindle speed",))
    with reading(bench) as conn:
        worked = place_of(conn, first.service_id)
    _keep(bench, None, outcome="on the bench")

    assert (Place("as found", 2), Place("supplies")) == (opened.place, worked)
    assert opened.said("iso") == "service open since 2026-03-01, next: as found"
    with reading(bench) as conn:
        assert ([], None) == (open_guides(conn), place_of(conn, first.service_id))
        assert [("on the bench", None)] == fetch(conn, "SELECT outcome, guide FROM service")


def test_taking_an_answer_back_brings_its_question_back(bench: Engine) -> None:
    """The last kept answer is found in the journal; undoing the one that opened the service leaves none open."""
    first = _keep(bench, Place("as found", 2), is_open=False, as_found=(FOUND,))
    second = _keep(bench, Place("supplies"), did=("set spindle speed",))
    with reading(bench) as conn:
        assert second.act_id == last_kept(conn, first.service_id)

    undo(bench, second.act_id, today=TODAY, now=NOW)
    with reading(bench) as conn:
        again = place_of(conn, first.service_id), last_kept(conn, first.service_id)
    undo(bench, first.act_id, today=TODAY, now=NOW)

    assert (Place("as found", 2), first.act_id) == again
    with reading(bench) as conn:
        assert (None, "ready") == (place_of(conn, first.service_id), _unit(conn).standing)
        with pytest.raises(Refused, match=r"D4 has no guided service open\. Type: spindlebook service record D4"):
            guide_of(conn, "D4")


def test_a_refused_answer_leaves_the_book_and_the_question_as_they_were(bench: Engine) -> None:
    """What can be put right by a reason or by a word is told apart from what cannot."""
    done = _keep(bench, Place("parts"), is_open=False, as_found=(FOUND,))
    before = digest(bench)

    with pytest.raises(NeedsReason, match="D4 is not called ready"):
        _keep(bench, None, outcome="ready")
    with pytest.raises(NeedsReason, match="D2 is in use"):
        _keep(bench, Place("as left"), parts=(GivenPart("belt", donor="D2"),))
    with pytest.raises(Refused, match="is not a number"):
        _keep(bench, Place("tasks"), as_found=(GivenReading("spindle speed", "fast"),))

    with reading(bench) as conn:
        assert Place("parts") == place_of(conn, done.service_id)
    assert before == digest(bench)


def test_stock_past_its_date_asks_for_a_word(bench: Engine) -> None:
    """Of 210 ml none is within its date in 2028: the same answer goes through once that is confirmed."""
    later = TODAY.replace(year=2028)
    used: dict[str, Any] = {"used": (GivenUse(IPA, "2"),)}
    with pytest.raises(PastDate, match="only 0 ml are within their date"):
        keep_answer(bench, "D4", GivenService(**used), Place("parts"), is_open=False, today=later, now=NOW)

    given = GivenService(**used, past_date_anyway=True)
    done = keep_answer(bench, "D4", given, Place("parts"), is_open=False, today=later, now=NOW)

    with reading(bench) as conn:
        assert [f"2 ml of {IPA} from lot A-1"] == list(kept_uses(conn, done.act_id))


def test_readings_asked_for_first_are_those_of_due_work(bench: Engine) -> None:
    """Then what the unit was read for, then what only has a limit; each with its limit, last value and instrument."""
    read = (GivenReading("surface temperature", "31", instrument="hand strobe"), FOUND)
    record_service(bench, "D4", GivenService(as_found=read, outcome="on the bench"), today=TODAY, now=NOW)
    with reading(bench) as conn:
        due = find_procedures(conn, ["clean head"])
        asked = readings_as_found(conn, _unit(conn), TODAY, due)

    names = [(each.measurement.name, each.point) for each in asked]
    assert [("head condition", ""), ("spindle speed", ""), ("surface temperature", "")] == names[:3]
    assert ("rail voltage", "+5 V") in names[3:]
    assert ("belt condition", "") not in names
    speed = asked[1]
    assert (295.5, 304.5) == (speed.limit and speed.limit.lower, speed.limit and speed.limit.upper)
    assert ("306.1", "2026-03-01", "bench counter") == (speed.last, speed.last_on, speed.instrument)


def test_after_the_work_what_it_retests_and_what_was_out_is_asked_for(bench: Engine) -> None:
    """Cleaning the head retests the head; the speed was out as found, the temperature has no limit to be out of."""
    found = (FOUND, GivenReading("surface temperature", "31", instrument="hand strobe"))
    done = _keep(bench, Place("tasks"), is_open=False, as_found=found)
    _keep(bench, Place("supplies"), did=("clean head",))

    with reading(bench) as conn:
        asked = [each.measurement.name for each in readings_as_left(conn, _unit(conn), done.service_id, TODAY)]
        speed = fetch(conn, "SELECT id FROM measurement WHERE name = 'spindle speed'")[0][0]
        assert "bench counter" == instrument_in(conn, done.service_id, speed)
        said = "spindle speed 306.1 r/min, high (295.5 to 304.5)"
        assert [said, "surface temperature 31 °C"] == list(kept_readings(conn, _unit(conn), done.act_id))
    assert ["head condition", "spindle speed"] == asked


def test_a_supply_is_asked_for_once_with_what_all_sheets_say(bench: Engine) -> None:
    """Two tasks take 1 + 2 ml out of the lot that goes first; what a sheet has for some tasks only is marked."""
    with reading(bench) as conn:
        tasks = find_procedures(conn, ["clean head", "clean and re-lube rails", "align head"])
        asked = {each.supply.name: each for each in supplies_asked(conn, tasks, _unit(conn), TODAY)}
        only = supplies_asked(conn, tasks[2:], _unit(conn), TODAY)

    assert (30, False, "A-1", 100) == (asked[IPA].steps, asked[IPA].sometimes, asked[IPA].lot, asked[IPA].held)
    assert (5, "S-1") == (asked[SWAB].steps, asked[SWAB].lot)
    assert ("", 0) == (asked["lint-free cloth"].lot, asked["lint-free cloth"].held)
    assert [(SWAB, 1, True)] == [(each.supply.name, each.steps, each.sometimes) for each in only]


def test_enter_books_what_the_sheets_say_of_one_supply_alone(bench: Engine) -> None:
    """The basis is the sheet, and the other supplies of the sheet are still to be asked for."""
    _keep(bench, Place("supplies"), is_open=False, did=("clean head",))
    done = _keep(bench, Place("supplies", 2), used=(GivenUse(IPA, ""),))

    with reading(bench) as conn:
        sql = "SELECT s.name, m.steps, m.basis FROM movement m JOIN supply s ON s.id = m.supply_id WHERE m.kind = 'use'"
        assert [(IPA, -10, "sheet")] == fetch(conn, sql)
        assert [f"1 ml of {IPA} from lot A-1, by the sheet"] == list(kept_uses(conn, done.act_id))


def test_a_part_is_asked_for_where_a_task_names_it(bench: Engine) -> None:
    """Offered is the belt that fits the model, none from an empty drawer; without such a task no part is asked for."""
    with reading(bench) as conn:
        tasks, other = find_procedures(conn, ["replace belt"]), find_procedures(conn, ["clean head"])
        before = parts_asked(conn, tasks, _unit(conn, "D1"))
        none = parts_asked(conn, other, _unit(conn, "D1"))
    _keep(bench, Place("as left"), is_open=False, tag="D1", parts=(GivenPart("belt", BELT),))
    with reading(bench) as conn:
        after = parts_asked(conn, tasks, _unit(conn, "D1"))
    _keep(bench, Place("as left"), is_open=False, tag="D2", parts=(GivenPart("belt", BELT),))
    with reading(bench) as conn:
        empty = parts_asked(conn, tasks, _unit(conn, "D1"))

    assert [("belt", BELT, "", "")] == [tuple(each) for each in before]
    assert [("belt", BELT, BELT, "2026-03-01")] == [tuple(each) for each in after]
    assert [("belt", "", BELT, "2026-03-01")] == [tuple(each) for each in empty]
    assert none == []


def test_tasks_that_are_due_are_offered_first(bench: Engine) -> None:
    """A fault with read errors makes cleaning the head due; what does not apply to the unit is not offered."""
    with act(bench, "fault add") as work:
        unit_id = find_unit(work.conn, "D4").id
        work.insert("fault", unit_id=unit_id, noticed_on="2026-02-28", symptom="read errors on track 3")
        work.commit("noticed")
    with reading(bench) as conn:
        offered = tasks_offered(conn, _unit(conn), TODAY)

    due = [each.procedure.name for each in offered if each.due]
    names = [each.procedure.name for each in offered]
    assert "clean head" in due
    assert due == names[: len(due)]
    assert "replace belt" not in names


def test_the_last_unit_served_is_another_one(bench: Engine) -> None:
    """The service that ended last, of another unit; without one that is said."""
    with reading(bench) as conn:
        unit = _unit(conn)
        with pytest.raises(Refused, match="No other unit was served yet"):
            last_served(conn, unit.id, TODAY)
    for tag, day in (("D1", "2026-02-28"), ("D3", "2026-02-20"), ("D4", "2026-03-01")):
        record_service(bench, tag, GivenService(on=day, minutes=5), today=TODAY, now=NOW)

    with reading(bench) as conn:
        assert "D1" == last_served(conn, unit.id, TODAY).unit.tag
