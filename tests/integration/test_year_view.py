"""What the book says of a year, on both databases."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.errors import Refused
from collection.quantity import Money
from collection.store.engine import reading
from collection.views.year import Year, year_of
from collection.views.year_work import Faults, Within
from tests.support.shelf import Shelf, shelf
from tests.support.times import NOW, TODAY


def year(engine: Engine, number: int = 2025, today: date = TODAY) -> Year:
    """Return what the book says of a year."""
    with reading(engine) as conn:
        return year_of(conn, number, today)


def test_units_are_counted_at_the_end_of_each_month(engine: Engine) -> None:
    """A standing holds from its day on: that of 31 January is in January, that of 1 February is not; gone is away."""
    with shelf(engine) as made:
        made.unit("D1")
        leaving = made.unit("D2", standing="in use")
        made.standing(leaving, "gone", "2025-02-01")
        for tag, day in (("D3", "2025-01-31"), ("D4", "2025-02-01"), ("D5", "2026-01-01")):
            unit = made.work.insert("unit", tag=tag, tag_folded=tag.lower(), model_id=made.model())
            made.standing(unit, "arrived", day)
        made.work.insert("unit", tag="D6", tag_folded="d6", model_id=made.model(), acquired_on="2025-02")
    found = year(engine)
    assert 13 == len(found.standings)
    before, january, february = found.standings[:3]
    assert (date(2024, 12, 31), {"ready": 1, "in use": 1}) == (before.on, dict(before.units))
    assert (date(2025, 1, 31), {"ready": 1, "in use": 1, "arrived": 1}) == (january.on, dict(january.units))
    assert (date(2025, 2, 28), {"ready": 1, "arrived": 2, "not told": 1}) == (february.on, dict(february.units))
    assert (("D3", "D4", "D6"), ("D2",)) == (found.came, found.left)
    assert found.over


def test_a_year_that_is_not_over_ends_today(engine: Engine) -> None:
    """Of this year what was so far is told; the next one has not begun, and of one without a word nothing is said."""
    with shelf(engine) as made:
        made.unit("D1")
    so_far = year(engine, TODAY.year)
    assert not so_far.over
    assert [date(2025, 12, 31), date(2026, 1, 31), date(2026, 2, 28), TODAY] == [each.on for each in so_far.standings]
    assert 2 == len(year(engine, TODAY.year, date(2026, 1, 31)).standings)
    with pytest.raises(Refused, match="2027 has not begun"):
        year(engine, TODAY.year + 1)
    with pytest.raises(Refused, match="says nothing of 2019") as refused:
        year(engine, 2019)
    assert f"report year {TODAY.year}" in refused.value.hint


def test_a_year_without_a_word_never_leads_back_to_itself(engine: Engine) -> None:
    """A new book says nothing of this year or of the last: either refusal names another year to type."""
    for silent in (TODAY.year, TODAY.year - 1):
        with pytest.raises(Refused, match=f"says nothing of {silent}") as refused:
            year(engine, silent)
        assert str(silent) not in refused.value.hint


def test_services_and_how_units_came_in(engine: Engine) -> None:
    """On the limit is within it; what has no limit, was set aside, read as left or in another year is not counted."""
    with shelf(engine) as made:
        unit, other = made.unit("D1"), made.unit("D2")
        service = made.service(unit, "2025-12-31", "clean head", minutes=40)
        of_some_day = made.service(other, "2025", "clean head", "dust out")
        earlier = made.service(other, "2024-12-31", "dust out", minutes=5)
        made.service(other, "2026-01-01", "dust out", minutes=5)
        speed = made.series(unit)
        for value in (295.5, 304.5, 304.51):  # the limits of 300 r/min, 1.5 % to either side
            made.reading(speed, "2025-12-31", value, "as found", service)
        made.reading(speed, "2025-12-31", 200.0, "as left", service)
        made.set_aside(made.reading(speed, "2025-12-31", 100.0, "as found", service))
        made.reading(made.series(other), "2024-12-31", 300.0, "as found", earlier)
        made.reading(made.series(other, "no such limit"), "2025-06-01", 300.0, "as found", of_some_day)
        graded = made.series(other, "head condition")
        made.reading(graded, "2025-02-01", "marginal", "as found", of_some_day)
        made.reading(graded, "2025-03-01", "marginal", "as found", of_some_day)
        made.work.insert("fault", unit_id=unit, symptom="squeal", noticed_on="2025-05-01", closed_on="2025-06-01")
        made.work.insert("fault", unit_id=unit, symptom="hum", noticed_on="2024-05-01", closed_on="2026-01-01")
    found = year(engine)
    services = found.services
    assert (2, 2, 40, 1, 1) == (services.total, services.units, services.minutes, services.timed, services.no_month)
    assert 1 == services.months[11]
    assert (("clean head", 2), ("dust out", 1)) == services.procedures
    # Two marginal grades in a row are a fail.
    assert {"head condition": Within(1, 2), "spindle speed": Within(2, 3)} == found.as_found.by_measurement
    assert (Within(3, 5), Within(0, 2)) == (found.as_found.readings, found.as_found.openings)
    assert Within(1, 1) == found.as_found_before.readings
    assert Faults(1, 1, 0, 1) == found.faults


def _moved(made: Shelf, lot: int | None, kind: str, steps: int, day: str, **values: int | str) -> int:
    return made.work.append(
        "movement",
        supply_id=made.named("supply", "wool", kind="spare", measured_in="piece", smallest_step="1", tracked="count"),
        lot_id=lot,
        kind=kind,
        steps=steps,
        entered=str(abs(steps)),
        occurred_on=day,
        used_past_date=0,
        **values,
    )


def test_what_a_year_took_and_cost(engine: Engine) -> None:
    """Uses and what was thrown away are valued at the price of their lot; what was taken back or undone is not."""
    with shelf(engine) as made:
        supply = made.named("supply", "wool", kind="spare", measured_in="piece", smallest_step="1", tracked="count")
        told = {"supply_id": supply, "currency": "EUR"}
        lot = made.work.insert("lot", name="W-1", name_folded="w-1", received_on="2025-01-01", price_minor=1000, **told)
        made.work.insert("lot", name="W-2", name_folded="w-2", received_on="2024-12-31", price_minor=700, **told)
        _moved(made, lot, "receive", 100, "2025-01-01")
        _moved(made, lot, "use", -10, "2025-02-01")
        _moved(made, lot, "discard", -5, "2025-12-31", reason="dusty")
        _moved(made, lot, "use", -20, "2026-01-01")
        _moved(made, None, "use", -1, "2025-03-01")
        wrong = _moved(made, lot, "use", -30, "2025-02-01")
        _moved(made, lot, "reverse", 30, "2025-02-01", reverses_id=wrong)
        unit = made.unit("D1", acquired_on="2025-03", price_minor=2500, currency="USD")
        made.unit("D2", acquired_on="2025")
        made.lend(unit, "2024-12-30", "2025-01-02", back_on="2025-01-03")
        made.lend(unit, "2025-12-30", "2026-02-01")
        made.lend(unit, "2025-06-01", "2025-06-02", direction="in")
    with shelf(engine) as made:
        _moved(made, lot, "use", -40, "2025-02-01")
    undo(engine, None, today=TODAY, now=NOW)
    found = year(engine)
    (taken,) = found.taken
    assert ("11 pieces", 2, "5 pieces", 1) == (taken.used, taken.uses, taken.discarded, taken.unpriced)
    assert (Money(150, "EUR"),) == taken.value
    assert ((Money(1000, "EUR"),), 1, 1) == (found.supplies.sums, found.supplies.priced, found.supplies.number)
    assert ((Money(2500, "USD"),), 1, 2) == (found.units.sums, found.units.priced, found.units.number)
    loans = found.loans
    assert (1, 1, 1, 1, 0, 1) == (loans.begun, loans.back, loans.late, loans.out, loans.overdue, loans.borrowed)
    assert 2 + 2 == loans.days  # 1 and 2 January; 30 and 31 December
