"""A service recorded in one go, on both databases."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.readings import GivenReading
from collection.acts.service_given import GivenPart, GivenService, GivenUse
from collection.acts.service_record import ServiceDone, record_service
from collection.acts.undo import undo
from collection.errors import Refused
from collection.store.engine import fetch, reading
from collection.views.service_report import ServiceReport, doubts_of, service_report
from collection.views.units import find_unit, unit_on
from tests.support.bench import BELT, IPA, SWAB
from tests.support.books import act, digest, scalar
from tests.support.times import NOW, TODAY

SPEED = "spindle speed"


def _speed(value: str, unit: str = "", **more: str) -> GivenReading:
    return GivenReading(SPEED, value, measured_in=unit, instrument="bench counter", **more)


def _record(engine: Engine, tag: str, **given: Any) -> ServiceDone:
    return record_service(engine, tag, GivenService(**given), today=TODAY, now=NOW)


def _report(engine: Engine, done: ServiceDone) -> ServiceReport:
    with reading(engine) as conn:
        return service_report(conn, done.service_id, TODAY)


def _doubts(engine: Engine, done: ServiceDone) -> list[str]:
    with reading(engine) as conn:
        return doubts_of(conn, done.act_id)


def _rows(engine: Engine, sql: str, **parameters: Any) -> list[tuple[Any, ...]]:
    with reading(engine) as conn:
        return fetch(conn, sql, **parameters)


def _standing(engine: Engine, tag: str) -> str:
    with reading(engine) as conn:
        return unit_on(conn, find_unit(conn, tag).id, TODAY).standing


def test_a_service_keeps_what_was_told_about_it(bench: Engine) -> None:
    """Days, reason, findings, minutes, person, outcome, tasks with the revision of their procedure."""
    done = _record(
        bench,
        "d1",
        on="2026-02-20",
        reason="club day",
        findings="heads brown",
        minutes=25,
        by="ilse vanterpool",
        did=("clean head",),
        as_left=(GivenReading("head condition", "pass"),),
        outcome="ready",
    )

    report = _report(bench, done)
    assert ("2026-02-20", "2026-02-20", "ready") == (report.opened_on, report.closed_on, report.outcome)
    assert ("club day", "heads brown", 25, "Ilse Vanterpool") == (
        report.reason,
        report.findings,
        report.minutes,
        report.by,
    )
    assert ("clean head",) == report.procedures
    assert [(1, "2026-02-20")] == _rows(bench, "SELECT procedure_revision, done_on FROM task")


def test_the_unit_stands_as_the_outcome_says(bench: Engine) -> None:
    """The outcome is entered as the standing from that day on, tied to the service."""
    done = _record(bench, "D3", on="2026-02-20", outcome="Ready")

    assert ("ready", done.service_id) == _rows(
        bench, "SELECT standing, service_id FROM unit_entry WHERE unit_id = :unit ORDER BY id DESC", unit=done.unit_id
    )[0]


def test_without_an_outcome_the_unit_stands_as_before(bench: Engine) -> None:
    """No entry is written where nothing is said of it."""
    before = scalar(bench, "SELECT count(*) FROM unit_entry")

    _record(bench, "D3", findings="looked at")

    assert before == scalar(bench, "SELECT count(*) FROM unit_entry")
    assert "awaiting parts" == _standing(bench, "D3")


def test_readings_are_converted_and_their_entered_form_is_kept(bench: Engine) -> None:
    """200 ms is 300 r/min (60000 / T); 6 bars a minute on 20 bars at 50 Hz are 0.3 r/min (strobe relation)."""
    _record(
        bench,
        "D4",
        as_found=(_speed("200", "ms"), GivenReading(SPEED, "+6", measured_in="bars/min", instrument="hand strobe")),
        as_left=(_speed("301.25"),),
    )

    assert [
        (300.0, "200", "ms", "as found"),
        (300.3, "+6", "bars/min", "as found"),
        (301.25, "301.25", None, "as left"),
    ] == _rows(bench, "SELECT value, entered, entered_in, stage FROM reading ORDER BY id")


@pytest.mark.parametrize(
    ("value", "rule"),
    [
        ("3000", "ten times nominal; typed wrong?"),
        ("360.2", "+20.07 % from nominal 300 r/min: 360 class? wrong nominal?"),
        ("30", "a tenth of nominal; typed wrong?"),
    ],
)
def test_an_absurd_value_is_booked_and_marked(bench: Engine, value: str, rule: str) -> None:
    """It is doubtful, never refused."""
    done = _record(bench, "D4", as_found=(_speed(value),), outcome="on the bench")

    assert [f"spindle speed {value}: {rule}"] == _doubts(bench, done)
    assert float(value) == scalar(bench, "SELECT value FROM reading")


@pytest.mark.parametrize(("value", "ready"), [("304.4", True), ("304.5", True), ("304.51", False), ("295.4", False)])
def test_a_unit_is_called_ready_only_within_its_limit(bench: Engine, value: str, ready: bool) -> None:
    """Below, at and above the limits of 300 r/min; refused with the value, the limit and what to type."""
    given = {"did": ("set spindle speed",), "as_left": (_speed(value),), "outcome": "ready"}
    if ready:
        _record(bench, "D4", **given)
        assert "ready" == _standing(bench, "D4")
        return
    before = digest(bench)

    with pytest.raises(Refused, match=f"D4 is not called ready: spindle speed as left is {value} r/min, limit"):
        _record(bench, "D4", **given)

    assert before == digest(bench)


def test_a_missing_measurement_and_an_open_fault_are_named_with_what_to_type(bench: Engine) -> None:
    """One refusal names all that is missing or open."""
    _fault(bench, "D1", "squeals")

    with pytest.raises(Refused) as refused:
        _record(bench, "D1", did=("replace belt",), as_left=(_speed("300"),), outcome="in use")

    assert 'D1 is not called in use: belt condition is missing as left; fault "squeals" is open.' == refused.value.what
    assert (
        'Type --as-left "belt condition=VALUE", spindlebook fault close D1, --outcome "on the bench";'
        ' or give a reason: --anyway "REASON".'
    ) == refused.value.hint


def test_with_a_reason_a_unit_is_called_ready_and_marked(bench: Engine) -> None:
    """The reason stands in the journal and, with what stood against it, in the mark."""
    done = _record(bench, "D1", did=("clean head",), outcome="ready", anyway="show on Sunday")

    assert "ready" == _standing(bench, "D1")
    assert ["outcome ready: ready all the same (show on Sunday): head condition is missing as left"] == _doubts(
        bench, done
    )
    assert "show on Sunday" == scalar(bench, "SELECT reason FROM act WHERE id = :id", id=done.act_id)


def test_a_unit_that_stays_ready_is_held_to_the_same_rule(bench: Engine) -> None:
    """Leaving the outcome away does not get round it; on the bench is always allowed."""
    with pytest.raises(Refused, match="D1 is not called ready: head condition is missing as left"):
        _record(bench, "D1", did=("clean head",))

    _record(bench, "D1", did=("clean head",), outcome="on the bench")
    assert "on the bench" == _standing(bench, "D1")


def test_a_second_marginal_result_in_a_row_counts_as_out(bench: Engine) -> None:
    """Marginal as left passes after a pass as found, and not after a marginal one."""
    marginal, passed = GivenReading("head condition", "marginal"), GivenReading("head condition", "pass")
    given = {"did": ("clean head",), "as_left": (marginal,), "outcome": "ready"}

    _record(bench, "D1", as_found=(passed,), **given)
    with pytest.raises(Refused, match="head condition as left is marginal twice in a row"):
        _record(bench, "D1", as_found=(marginal,), **given)


def test_what_was_out_as_found_must_be_measured_again(bench: Engine) -> None:
    """A speed out of its limit as found stands against ready until it is measured as left, whatever was done."""
    given: dict[str, Any] = {"as_found": (_speed("310"),), "findings": "looked at", "outcome": "ready"}
    with pytest.raises(Refused, match="D4 is not called ready: spindle speed is missing as left"):
        _record(bench, "D4", **given)

    _record(bench, "D4", **given, as_left=(_speed("300"),))
    assert "ready" == _standing(bench, "D4")


def test_every_rail_with_a_limit_is_wanted_as_left(bench: Engine) -> None:
    """A supply unit whose 12 V rail was not measured again is not ready, nor without its ripple."""
    with pytest.raises(Refused) as refused:
        _record(
            bench,
            "P1",
            did=("rail and ripple check",),
            as_left=(GivenReading("rail voltage", "5.02", "+5v"),),
            outcome="ready",
        )

    assert "rail voltage[+12 V] is missing as left; ripple[+5 V] is missing as left" in refused.value.what


def test_supplies_leave_the_lot_that_expires_first_and_are_split_over_lots(bench: Engine) -> None:
    """12 ml with 10 ml in the lot that expires first: two rows of one group, measured and planned by the sheet."""
    _record(bench, "D1", did=("clean head",), used=(GivenUse(IPA, "12", "ml"),), outcome="on the bench")

    rows = _rows(
        bench,
        "SELECT l.name, m.steps, m.basis, m.planned, m.entered, m.entered_in, p.name, m.group_key FROM movement m"
        " JOIN lot l ON l.id = m.lot_id JOIN procedure p ON p.id = m.procedure_id WHERE m.kind = 'use' ORDER BY m.id",
    )
    told = ("measured", 1, "12", "ml", "clean head")
    assert [("A-1", -100, *told), ("A-2", -20, *told)] == [row[:-1] for row in rows]
    assert 1 == len({row[-1] for row in rows})


def test_what_the_book_does_not_have_becomes_a_marked_short_row(bench: Engine) -> None:
    """Three belts where two are in the book: two are used, one is short, and the mark says to count."""
    done = _record(bench, "D1", used=(GivenUse(BELT, "3"),), outcome="on the bench")

    assert [("use", -2), ("short", 1)] == _rows(
        bench, "SELECT kind, steps FROM movement WHERE service_id IS NOT NULL ORDER BY id"
    )
    assert [f"{BELT} 1 piece: 3 pieces used, 2 pieces in the book: please count"] == _doubts(bench, done)
    assert [(False, 2, 0), (True, 1, 0)] == [(row.short, row.steps, row.left) for row in _report(bench, done).used]


def test_an_amount_up_to_what_is_there_is_no_shortage(bench: Engine) -> None:
    """Exactly all of it leaves nothing and no mark."""
    done = _record(bench, "D1", used=(GivenUse(BELT, "2"),), outcome="on the bench")

    assert [] == _doubts(bench, done)
    assert [(False, 2, 0)] == [(row.short, row.steps, row.left) for row in _report(bench, done).used]


def test_a_lot_past_its_date_is_used_only_when_that_is_said(bench: Engine) -> None:
    """On its last day it is used as any other; the day after it is refused until --past-date-anyway."""
    with act(bench) as work:
        sql = "UPDATE lot SET expires_on = '2026-02-27' WHERE name = 'A-2'"
        work.conn.exec_driver_sql(sql)
        work.commit("moved a date")
    given: dict[str, Any] = {"used": (GivenUse(f"{IPA}/A-2", "1", "ml"),), "outcome": "on the bench"}

    _record(bench, "D1", on="2026-02-27", **given)
    with pytest.raises(Refused, match="--past-date-anyway"):
        _record(bench, "D1", on="2026-02-28", **given)
    done = _record(bench, "D1", on="2026-02-28", past_date_anyway=True, **given)

    assert [True] == [row.past_date for row in _report(bench, done).used]


def test_by_the_sheet_takes_what_the_procedures_say_except_what_was_told(bench: Engine) -> None:
    """The told amount takes the place of the sheet's; what is used only sometimes is left open and said."""
    done = _record(
        bench,
        "D1",
        did=("clean head", "replace belt"),
        used=(GivenUse(IPA, "3", "ml"),),
        by_the_sheet=True,
        outcome="on the bench",
    )

    assert [(IPA, 30, "measured"), (SWAB, 4, "sheet")] == [
        (row.supply.name, row.steps, row.basis) for row in _report(bench, done).used
    ]
    assert done.notes == ("Not booked, as it is not always used: 1 piece of lint-free cloth; if it was, type --used.",)


def test_a_part_that_a_sheet_lists_is_planned_and_booked_once(bench: Engine) -> None:
    """With the belt on the sheet of its procedure it is planned work; without, it is a repair nobody planned."""
    given: dict[str, Any] = {"did": ("replace belt",), "parts": (GivenPart("belt", BELT),), "by_the_sheet": True}
    _record(bench, "D1", **given, outcome="on the bench")
    with act(bench) as work:
        ids = [
            fetch(work.conn, f"SELECT id FROM {table} WHERE name = :name", name=name)[0][0]
            for table, name in (("procedure", "replace belt"), ("supply", BELT))
        ]
        work.insert("amount", procedure_id=ids[0], supply_id=ids[1], steps=1, entered="1")
        work.commit("listed the belt")
    _record(bench, "D1", **given, outcome="on the bench")

    assert [(-1, 0, "measured"), (-1, 1, "measured")] == _rows(
        bench,
        "SELECT m.steps, m.planned, m.basis FROM movement m JOIN supply s ON s.id = m.supply_id"
        " WHERE m.kind = 'use' AND s.name = :name ORDER BY m.id",
        name=BELT,
    )


def test_an_amount_of_nothing_keeps_the_sheet_away(bench: Engine) -> None:
    """Zero swabs means that none was used, whatever the sheet says."""
    done = _record(
        bench, "D1", did=("clean head",), used=(GivenUse(SWAB, "0"),), by_the_sheet=True, outcome="on the bench"
    )

    assert [IPA] == [row.supply.name for row in _report(bench, done).used]


def test_a_fitted_part_leaves_its_lot_and_takes_the_place_of_the_old_one(bench: Engine) -> None:
    """The belt before is removed on that day; two parts of a kind fitted in one service both stay."""
    _record(bench, "D1", on="2026-01-05", parts=(GivenPart("belt", BELT),), outcome="on the bench")
    _record(
        bench, "D1", parts=(GivenPart("Belt", f"{BELT}/B-1"), GivenPart("foot", donor="D7")), outcome="on the bench"
    )

    assert [
        ("belt", "2026-01-05", "2026-03-01", "B-1", None),
        ("Belt", "2026-03-01", None, "B-1", None),
        ("foot", "2026-03-01", None, None, "D7"),
    ] == _rows(
        bench,
        "SELECT f.part, f.fitted_on, f.removed_on, l.name, d.tag FROM fitted_part f LEFT JOIN lot l ON l.id = f.lot_id"
        " LEFT JOIN unit d ON d.id = f.donor_id ORDER BY f.id",
    )
    assert -2 == scalar(bench, "SELECT sum(steps) FROM movement WHERE kind = 'use'")


def test_a_part_entered_late_ends_where_the_next_one_begins(bench: Engine) -> None:
    """A belt of last year does not push out the one that was fitted after it."""
    _record(bench, "D1", on="2026-01-05", parts=(GivenPart("belt", BELT),), outcome="on the bench")
    _record(bench, "D1", on="2025-06-01", parts=(GivenPart("belt", donor="D7"),), outcome="on the bench")

    assert [("2025-06-01", "2026-01-05"), ("2026-01-05", None)] == _rows(
        bench, "SELECT fitted_on, removed_on FROM fitted_part ORDER BY fitted_on"
    )


def test_a_donor_that_is_relied_on_gives_a_part_only_for_a_reason(bench: Engine) -> None:
    """A ready drive would be left without it; with a reason it gives the part and is marked."""
    given: dict[str, Any] = {"parts": (GivenPart("belt", donor="D1"),), "outcome": "on the bench"}
    with pytest.raises(Refused, match="D1 is ready: taking its belt would leave it without one"):
        _record(bench, "D2", **given)

    done = _record(bench, "D2", anyway="D1 goes to scrap", **given)

    assert ["belt D1: D1 was ready when it gave its belt: D1 goes to scrap"] == _doubts(bench, done)


def test_a_supply_that_does_not_fit_the_model_is_marked(bench: Engine) -> None:
    """The belt lists the models it fits; on another it is fitted all the same."""
    done = _record(bench, "D4", parts=(GivenPart("belt", BELT),), outcome="on the bench")

    assert [f"belt {BELT}: it fits DM-8; D4 is Halverby DS-3"] == _doubts(bench, done)


@pytest.mark.parametrize(("tag", "expected"), [("D1", 1), ("D4", 0)])
def test_the_sheet_takes_a_supply_only_for_the_models_it_fits(bench: Engine, tag: str, expected: int) -> None:
    """Replacing the belt by the sheet takes the belt of this model, and never that of another."""
    with act(bench) as work:
        belt = fetch(work.conn, "SELECT id FROM supply WHERE name = :name", name=BELT)[0][0]
        procedure = fetch(work.conn, "SELECT id FROM procedure WHERE name = 'replace belt'")[0][0]
        work.insert("amount", procedure_id=procedure, supply_id=belt, steps=1, entered="1", entered_in="piece")
        work.commit("sheet")

    _record(bench, tag, did=("replace belt",), by_the_sheet=True, outcome="on the bench")

    sql = "SELECT count(*) FROM movement WHERE supply_id = :belt AND kind = 'use'"
    assert expected == scalar(bench, sql, belt=belt)


def test_a_procedure_for_other_units_is_marked(bench: Engine) -> None:
    """A belt is not replaced on a drive without one."""
    done = _record(bench, "D4", did=("replace belt",), outcome="on the bench")

    assert ["procedures replace belt: is for belt; D4 is direct adjustable"] == _doubts(bench, done)


def test_a_unit_that_is_lost_is_not_serviced_without_a_reason(bench: Engine) -> None:
    """A missing unit cannot be on the bench; with a reason the service is marked."""
    with pytest.raises(Refused, match="D9 is missing and not at hand"):
        _record(bench, "D9", outcome="on the bench")

    done = _record(bench, "D9", outcome="on the bench", anyway="found behind the shelf")

    assert ["unit D9: missing on that day: found behind the shelf"] == _doubts(bench, done)


REFUSALS: list[tuple[dict[str, Any], str]] = [
    ({"did": ("clean heads",)}, 'There is no procedure "clean heads". Nearest: clean head'),
    ({"as_found": (GivenReading("speed", "300"),)}, 'There is no measurement "speed".'),
    ({"as_found": (GivenReading(SPEED, "300"),)}, "several are used for it: bench counter, hand strobe."),
    ({"as_found": (GivenReading(SPEED, "fast", instrument="bench counter"),)}, '"fast" is not a number'),
    ({"as_found": (GivenReading(SPEED, "pass", instrument="bench counter"),)}, '"pass" is a grade'),
    ({"as_found": (GivenReading("head condition", "3"),)}, 'is graded, and "3" is no grade'),
    ({"as_found": (_speed("5", "V"),)}, "V cannot become r/min"),
    ({"as_found": (_speed("0", "ms"),)}, "Index period 0 ms is not above zero."),
    ({"as_found": (GivenReading("ripple", "40"),)}, '"ripple" is read at a point, and none is named.'),
    ({"as_found": (GivenReading(SPEED, "300", instrument="counter"),)}, 'There is no instrument "counter".'),
    ({"as_found": (GivenReading(SPEED, "300", instrument=" "),), "new_instrument": True}, 'no instrument " ".'),
    ({"as_found": (_speed("300", warm_up_minutes="-1"),)}, "Warm-up of -1 minutes is below zero."),
    ({"as_found": (_speed("300", supply_unit="P9"),)}, 'No unit has the tag "P9".'),
    ({"used": (GivenUse("isopropyl", "2"),)}, 'There is no supply "isopropyl"'),
    ({"used": (GivenUse(f"{IPA}/Z", "2"),)}, f'"{IPA}" has no lot "Z".'),
    ({"used": (GivenUse(IPA, "-2"),)}, "an amount is zero or more"),
    ({"used": (GivenUse(IPA, "2", "mm"),)}, "mm cannot become ml"),
    (
        {"used": (GivenUse(IPA, "2", "ml", procedure="align head"),)},
        "which is not among the procedures done: clean head",
    ),
    ({"parts": (GivenPart("belt", IPA),)}, "A part is taken by the piece"),
    ({"parts": (GivenPart("belt", donor="D1"),)}, "D1 cannot be its own donor."),
    ({"parts": (GivenPart("belt", BELT, donor="D7"),)}, "both are named"),
    ({"by": "Ilse"}, 'There is no person "Ilse". Nearest: Ilse Vanterpool.'),
    ({"minutes": 100_001}, "100001 minutes of work is outside 0 to 100000."),
    ({"outcome": "redy"}, 'Outcome "redy" is none. Nearest: ready'),
    ({"on": "2026-03-02"}, "--on 2026-03-02 has not come yet"),
    ({"findings": "x" * 20_001}, "findings has 20001 characters; at most 20000 are kept."),
    ({"reason": "nul \0"}, "reason holds a character that is none."),
]


def test_a_refused_service_says_why_and_changes_nothing(bench: Engine) -> None:
    """Whatever is wrong, all tables are as before, though other parts of the service were in order."""
    sound = GivenService(
        did=("clean head",),
        as_found=(GivenReading("head condition", "fail"),),
        used=(GivenUse(SWAB, "1"),),
        outcome="on the bench",
    )
    before = digest(bench)
    said = []
    for given, _ in REFUSALS:
        joined: dict[str, Any] = {
            name: (*getattr(sound, name), *value) if isinstance(value, tuple) and name != "did" else value
            for name, value in given.items()
        }
        with pytest.raises(Refused) as refused:
            record_service(bench, "D1", replace(sound, **joined), today=TODAY, now=NOW)
        said.append(str(refused.value))

    assert [] == [(says, text) for (_, says), text in zip(REFUSALS, said, strict=True) if says not in text]
    assert before == digest(bench)


def test_undoing_a_service_brings_back_standing_parts_stock_and_what_is_due(bench: Engine) -> None:
    """All that counts is as it was, and the same service can be recorded again, its readings being the last ones."""
    before, due_before = digest(bench, effective=True), _due(bench)
    given: dict[str, Any] = {
        "did": ("replace belt", "clean head"),
        "as_found": (_speed("310"),),
        "as_left": (
            _speed("300.1"),
            GivenReading("belt condition", "pass"),
            GivenReading("head condition", "pass"),
        ),
        "parts": (GivenPart("belt", BELT),),
        "used": (GivenUse(IPA, "12", "ml"),),
        "outcome": "in use",
    }

    first = _report(bench, _record(bench, "D1", **given))
    changed, due_after = digest(bench, effective=True), _due(bench)
    undo(bench, None, today=TODAY, now=NOW)

    assert before == digest(bench, effective=True) != changed
    assert due_before == _due(bench) != due_after
    again = _report(bench, _record(bench, "D1", **given))
    assert replace(first, unit=again.unit) == again
    assert due_after == _due(bench)


def _due(engine: Engine) -> list[tuple[str, str]]:
    from collection.views.service_report import next_due

    with reading(engine) as conn:
        return [(item.procedure, item.why) for item in next_due(conn, find_unit(conn, "D1").id, TODAY)]


def _fault(engine: Engine, tag: str, symptom: str) -> None:
    with act(engine) as work:
        unit_id = find_unit(work.conn, tag).id
        work.insert("fault", unit_id=unit_id, noticed_on="2026-02-01", symptom=symptom, no_fault_found=0)
        work.commit("noticed a fault")
