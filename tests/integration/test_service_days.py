"""A service that goes on over days, on both databases."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.readings import GivenReading, add_reading
from collection.acts.service_given import GivenPart, GivenService
from collection.acts.service_record import ServiceDone, add_to_service, close_service, open_service, record_service
from collection.acts.undo import undo
from collection.errors import Moved, Refused
from collection.store.engine import fetch, reading
from collection.views.procedures import cautions_before, find_procedures
from collection.views.service_report import cautions_ahead, procedures_ahead, service_report
from collection.views.services import open_service_of
from collection.views.units import find_unit, unit_on
from tests.support.bench import BELT, IPA, SWAB
from tests.support.books import act, digest, scalar
from tests.support.times import NOW, TODAY

SPEED_FOUND = GivenReading("spindle speed", "301", instrument="bench counter")

Act = Callable[..., ServiceDone]


def _do(act: Act, engine: Engine, tag: str = "D1", **given: Any) -> ServiceDone:
    return act(engine, tag, GivenService(**given), today=TODAY, now=NOW)


def _standing(engine: Engine, tag: str = "D1") -> tuple[str, str]:
    with reading(engine) as conn:
        unit = unit_on(conn, find_unit(conn, tag).id, TODAY)
    return unit.standing, unit.standing_from


def test_an_open_service_keeps_the_unit_on_the_bench_until_it_is_closed(bench: Engine) -> None:
    """Opened, added to on another day, closed on a third: one service, three acts, each on its own day."""
    _do(open_service, bench, on="2026-02-20", reason="squeals", as_found=(GivenReading("belt condition", "fail"),))
    on_bench = _standing(bench)
    _do(add_to_service, bench, on="2026-02-22", did=("replace belt",), parts=(GivenPart("belt", BELT),), minutes=30)
    done = _do(
        close_service,
        bench,
        on="2026-02-25",
        as_left=(
            GivenReading("belt condition", "pass"),
            GivenReading("spindle speed", "300", instrument="bench counter"),
        ),
        minutes=5,
        findings="belt glazed",
        outcome="in use",
    )

    with reading(bench) as conn:
        report = service_report(conn, done.service_id, TODAY)
        days = fetch(conn, "SELECT stage, taken_on FROM reading ORDER BY id")
    assert ("on the bench", "2026-02-20") == on_bench
    assert ("in use", "2026-02-25") == _standing(bench)
    assert ("2026-02-20", "2026-02-25", 35) == (report.opened_on, report.closed_on, report.minutes)
    assert ("squeals", "belt glazed", ("replace belt",)) == (report.reason, report.findings, report.procedures)
    assert [("as found", "2026-02-20"), ("as left", "2026-02-25"), ("as left", "2026-02-25")] == days
    assert 1 == scalar(bench, "SELECT count(*) FROM service")


def test_findings_of_several_days_are_kept_one_below_the_other(bench: Engine) -> None:
    """What was seen first is not lost."""
    _do(open_service, bench, findings="dusty")
    done = _do(add_to_service, bench, findings="belt glazed")

    with reading(bench) as conn:
        assert "dusty\nbelt glazed" == service_report(conn, done.service_id, TODAY).findings


def test_by_the_sheet_without_a_procedure_books_what_was_done_so_far_once(bench: Engine) -> None:
    """The sheet of an earlier day is booked later; asking again books nothing twice."""
    _do(open_service, bench)
    _do(add_to_service, bench, did=("clean head",))
    _do(add_to_service, bench, by_the_sheet=True)
    done = _do(add_to_service, bench, by_the_sheet=True)

    with reading(bench) as conn:
        used = service_report(conn, done.service_id, TODAY).used
    assert [(IPA, 10), (SWAB, 2)] == [(row.supply.name, row.steps) for row in used]


def test_what_was_left_undone_on_earlier_days_stands_against_ready(bench: Engine) -> None:
    """The rule looks at the whole service, not at its last day."""
    _do(open_service, bench)
    _do(add_to_service, bench, did=("clean head",))

    with pytest.raises(Refused, match="D1 is not called ready: head condition is missing as left"):
        _do(close_service, bench, outcome="ready")


@pytest.mark.parametrize(
    ("act", "given", "says"),
    [
        (open_service, {}, "D1 has a service open since 2026-02-20. Type: spindlebook service add D1"),
        (record_service, {}, "D1 has a service open since 2026-02-20."),
        (close_service, {}, "How D1 is left is not said. Add --outcome ready"),
        (add_to_service, {"on": "2026-02-19"}, "2026-02-19 is before the service of D1 was opened (2026-02-20)."),
        (close_service, {"on": "2026-02-19", "outcome": "donor"}, "is before the service of D1 was opened"),
    ],
)
def test_what_an_open_service_does_not_allow_is_refused(
    bench: Engine, act: Act, given: dict[str, Any], says: str
) -> None:
    """A second service, a close without outcome and a day before the first are refused; nothing changes."""
    _do(open_service, bench, on="2026-02-20")
    before = digest(bench)

    with pytest.raises(Refused) as refused:
        _do(act, bench, **given)

    assert says in str(refused.value)
    assert before == digest(bench)


@pytest.mark.parametrize("act", [add_to_service, close_service])
def test_without_an_open_service_nothing_can_be_added(bench: Engine, act: Act) -> None:
    """The refusal names both ways to begin."""
    with pytest.raises(Refused, match="D1 has no service open"):
        _do(act, bench, outcome="donor")


def test_acts_of_a_service_are_undone_from_the_last_to_the_first(bench: Engine) -> None:
    """Opening cannot be taken back while the close stands; one after the other brings back the start."""
    before = digest(bench, effective=True)
    opened = _do(open_service, bench)
    closed = _do(close_service, bench, outcome="on the bench")

    with pytest.raises(Moved):
        undo(bench, opened.act_id, today=TODAY, now=NOW)
    undo(bench, closed.act_id, today=TODAY, now=NOW)
    undo(bench, opened.act_id, today=TODAY, now=NOW)

    assert before == digest(bench, effective=True)


def test_a_reading_as_left_joins_the_open_service_or_the_only_one_of_its_day(bench: Engine) -> None:
    """With an open service it is that one, on the day of a closed one that one, else it is refused."""
    condition = GivenReading("head condition", "pass")
    closed = _do(record_service, bench, on="2026-02-10", outcome="on the bench")
    opened = _do(open_service, bench, on="2026-02-20")

    for day in ("2026-02-10", "2026-02-21"):
        add_reading(bench, "D1", condition, stage="as left", on=day, today=TODAY, now=NOW)
    with pytest.raises(Refused, match='"as left" belongs to a service, and D1 has no service on 9 Feb 2026'):
        add_reading(bench, "D1", condition, stage="as left", on="2026-02-09", today=TODAY, now=NOW)

    with reading(bench) as conn:
        assert [(closed.service_id,), (opened.service_id,)] == fetch(conn, "SELECT service_id FROM reading ORDER BY id")


@pytest.mark.parametrize(("done_on", "soon"), [("2025-03-15", True), ("2025-03-31", True), ("2025-04-01", False)])
def test_before_the_work_stands_what_is_due_in_30_days_else_all_that_applies(
    bench: Engine, done_on: str, soon: bool
) -> None:
    """Without history nothing is due, so that the cautions of all procedures for a belt drive are shown."""
    with reading(bench) as conn:
        unit_id = find_unit(conn, "D1").id
        everything = {each.name for each in procedures_ahead(conn, unit_id, TODAY)}
    _do(record_service, bench, on=done_on, did=("dust out",), outcome="on the bench")
    with reading(bench) as conn:
        due = {each.name for each in procedures_ahead(conn, unit_id, TODAY)}

    assert {"replace belt", "dust out", "clean head"} <= everything
    assert "rail and ripple check" not in everything
    assert ({"dust out"} if soon else everything) == due


def test_services_of_one_day_have_names_of_their_own(bench: Engine) -> None:
    """Unit and day name a service; a second one on that day gets a number, another unit's does not count."""
    for tag in ("D1", "D1", "D2"):
        _do(record_service, bench, tag, on="2026-02-10", outcome="on the bench")

    with reading(bench) as conn:
        assert [("D1 2026-02-10",), ("D1 2026-02-10 (2)",), ("D2 2026-02-10",)] == fetch(
            conn, "SELECT name FROM service ORDER BY id"
        )


def test_a_reading_between_stands_in_no_column_of_its_service(bench: Engine) -> None:
    """Read during the work, it is neither what was found nor what was left."""
    done = _do(record_service, bench, on="2026-02-10", as_found=(SPEED_FOUND,), outcome="on the bench")
    with act(bench) as work:
        ((series, instrument),) = fetch(work.conn, "SELECT series_id, instrument_id FROM reading")
        work.append(
            "reading", series_id=series, taken_on="2026-02-09", value=299.0, entered="299", stage="between",
            instrument_id=instrument, service_id=done.service_id,
        )  # fmt: skip
        work.commit("a reading during the work")

    with reading(bench) as conn:
        (row,) = service_report(conn, done.service_id, TODAY).readings
    assert ("301 r/min", None) == (row.found.shown if row.found else "", row.left)


def test_of_two_open_services_the_newest_is_the_open_one(bench: Engine) -> None:
    """A folder may bring in a second one; what is added belongs to the last that was opened."""
    with act(bench) as work:
        unit = find_unit(work.conn, "D1").id
        for name, day in (("old", "2026-01-01"), ("new", "2026-02-01"), ("older", "2025-12-01")):
            work.insert("service", name=name, unit_id=unit, opened_on=day)
        work.commit("three open services")

    with reading(bench) as conn:
        found = open_service_of(conn, unit)
    assert "new" == (found.name if found else "")


def test_a_point_first_read_as_found_is_wanted_as_left(bench: Engine) -> None:
    """Another head, measured instead, does not answer for it."""
    head = [
        GivenReading("radial alignment", "3", point=f"head {n} track 16", instrument="bench counter") for n in (0, 1)
    ]

    with pytest.raises(Refused, match=r"radial alignment\[head 0 track 16\] is missing as left") as refused:
        _do(record_service, bench, did=("align head",), as_found=head[:1], as_left=head[1:], outcome="ready")
    assert "head 1" not in str(refused.value)


def test_a_unit_is_opened_under_the_cautions_that_its_work_shares(bench: Engine) -> None:
    """Where nothing is due, what holds for few of its procedures waits until one of those is chosen."""
    with reading(bench) as conn:
        unit_id = find_unit(conn, "D1").id
        shared = [each.text for each in cautions_ahead(conn, unit_id, TODAY)]
        every = [each.text for each in cautions_before(conn, procedures_ahead(conn, unit_id, TODAY))]
    _do(record_service, bench, on="2025-03-15", did=("dust out",), outcome="on the bench")
    with reading(bench) as conn:
        due = [each.text for each in cautions_ahead(conn, unit_id, TODAY)]
        of_dust = [each.text for each in cautions_before(conn, find_procedures(conn, ["dust out"]))]

    assert any(text.startswith("Mains inside the case can kill") for text in shared)
    assert not any("tar that stains" in text for text in shared)
    assert any("tar that stains" in text for text in every)
    assert set(shared) < set(every)
    assert due == of_dust
