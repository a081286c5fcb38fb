"""Swapped mechanisms in a book: what counts as the last reading, what the card and the lists show, late, undone."""

from __future__ import annotations

from typing import Any

from sqlalchemy.engine import Engine

from collection.acts.parts import edit, fit, remove
from collection.acts.service_given import GivenPart
from collection.acts.undo import undo
from collection.store.engine import reading
from collection.views.due import due_facts
from collection.views.mechanism_readings import readings_with_mechanism
from collection.views.mechanisms import Sits, mechanism_in, spans_of
from collection.views.readings import last_readings
from collection.views.rounds import Chosen, stops_of, subject_of
from collection.views.units import find_unit, unit_on
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
MECHANISM = "mechanism"


def set_up(engine: Engine) -> None:
    """Two drives and a donor with a speed each in January, D1's out of its limit; and one read error on D1."""
    with shelf(engine) as made:
        units = [made.unit(tag, standing=standing) for tag, standing in (("D1", "ready"), ("D2", "ready"))]
        units.append(made.unit("X1", standing="donor"))
        made.model("MX-5", kind=MECHANISM)
        units.append(made.unit("M1", "MX-5"))
        for unit, value in zip(units, (310.0, 300.0, 301.0, 302.0), strict=True):
            made.reading(made.series(unit), "2026-01-10", value)
        made.reading(made.series(units[0], "read errors"), "2026-01-10", 1.0)
        made.reading(made.series(units[0], "azimuth"), "2026-01-10", "fail")


def speeds(engine: Engine, *tags: str) -> list[float | None]:
    """Return the last speed of each unit, None for none; asked of one unit and of all alike."""
    with reading(engine) as conn:
        ids = [find_unit(conn, tag).id for tag in tags]
        of_all = {row.unit_id: row.value for row in last_readings(conn) if _is_speed(row)}
        of_each = [{row.unit_id: row.value for row in last_readings(conn, id_) if _is_speed(row)} for id_ in ids]
    assert [of_all.get(id_) for id_ in ids] == [found.get(id_) for id_, found in zip(ids, of_each, strict=True)]
    return [of_all.get(id_) for id_ in ids]


def _is_speed(row: Any) -> bool:
    return row.value is not None and row.value > 100


def out_of_limit(engine: Engine, tag: str) -> list[tuple[str, str]]:
    """Return what is out on a unit, and since when."""
    with reading(engine) as conn:
        facts = due_facts(conn, TODAY, find_unit(conn, tag).id)
    return [(each.measurement, each.day) for each in facts.of_units[0].findings]


def swap(engine: Engine, tag: str, day: str, **source: str) -> None:
    """Fit a mechanism."""
    fit(engine, tag, GivenPart(MECHANISM, **source), on=day, anyway="swap", **AT)


def test_the_last_reading_is_of_the_mechanism_that_is_in_the_unit_now(engine: Engine) -> None:
    """A former mechanism's bad speed and azimuth hold nothing against the unit; what is not measured on it stays."""
    set_up(engine)
    assert ["azimuth", "spindle speed"] == [name for name, _ in out_of_limit(engine, "D1")]

    swap(engine, "D1", "2026-02-01", donor="X1")

    assert [301.0, 300.0, None] == speeds(engine, "D1", "D2", "X1")
    assert [] == out_of_limit(engine, "D1")
    with reading(engine) as conn:
        d1 = find_unit(conn, "D1").id
        kept = {row.value for row in last_readings(conn, d1)}
        assert Sits("mechanism of X1", "2026-02-01", ("X1",), "", "2026-02-01") == mechanism_in(conn, d1)
        assert 2 == len(spans_of(conn, d1))
    assert {301.0, 1.0} == kept


def test_a_bad_mechanism_is_due_since_it_is_in_the_unit(engine: Engine) -> None:
    """What it read elsewhere long ago is no work left undone here."""
    set_up(engine)
    swap(engine, "D2", "2026-02-01", donor="D1")

    assert [("azimuth", "2026-02-01"), ("spindle speed", "2026-02-01")] == out_of_limit(engine, "D2")
    assert [310.0, None] == speeds(engine, "D2", "D1")


def test_undoing_a_swap_gives_each_its_readings_back(engine: Engine) -> None:
    """Nothing was written to the readings, so nothing is lost."""
    set_up(engine)
    before = speeds(engine, "D1", "D2", "X1")
    swap(engine, "D1", "2026-02-01", donor="X1")
    undo(engine, None, **AT)

    assert before == speeds(engine, "D1", "D2", "X1")
    with reading(engine) as conn:
        assert mechanism_in(conn, find_unit(conn, "D1").id) is None


def test_a_chain_and_a_swap_back_are_followed(engine: Engine) -> None:
    """X1 to D1 to D2, a reading on the way; then D1 gets its own again, and D2's goes back."""
    set_up(engine)
    swap(engine, "D1", "2026-02-01", donor="X1")
    with shelf(engine) as made:
        made.reading(made.series(find_unit(made.work.conn, "D1").id), "2026-02-03", 303.0)
    swap(engine, "D2", "2026-02-05", donor="D1")
    assert [None, 303.0] == speeds(engine, "D1", "D2")

    swap(engine, "D1", "2026-02-06", own_of="D1")
    swap(engine, "X1", "2026-02-07", donor="D2")
    swap(engine, "D2", "2026-02-08", own_of="D2")

    assert [310.0, 300.0, 303.0] == speeds(engine, "D1", "D2", "X1")


def test_two_units_that_swap_on_a_day_each_get_the_other_s(engine: Engine) -> None:
    """Named as donors of each other, in whatever order: nobody takes out again what he has just fitted."""
    set_up(engine)
    swap(engine, "D1", "2026-02-01", donor="X1")
    swap(engine, "X1", "2026-02-01", donor="D1")

    assert [301.0, 310.0] == speeds(engine, "D1", "X1")


def test_a_swap_entered_late_or_put_right_moves_the_boundary(engine: Engine) -> None:
    """A reading that was booked before is of the mechanism that was there on its day."""
    set_up(engine)
    with shelf(engine) as made:
        made.reading(made.series(find_unit(made.work.conn, "D1").id), "2026-02-10", 304.0)
    swap(engine, "D1", "2026-02-01", donor="X1")
    assert [304.0] == speeds(engine, "D1")

    edit(engine, "D1", MECHANISM, fitted_on="2026-02-11", reason="it was the week after", **AT)
    assert [301.0] == speeds(engine, "D1")

    remove(engine, "D1", MECHANISM, reason="seized", **AT)
    assert [None] == speeds(engine, "D1")


def test_a_mechanism_that_is_a_unit_of_its_own_brings_its_readings_and_takes_them_back(engine: Engine) -> None:
    """What is read of the drive while it is in there is its own too."""
    set_up(engine)
    swap(engine, "D1", "2026-02-01", donor="M1")
    assert [302.0] == speeds(engine, "D1")
    with shelf(engine) as made:
        made.reading(made.series(find_unit(made.work.conn, "D1").id), "2026-02-03", 303.0)

    remove(engine, "D1", MECHANISM, reason="sold on its own", **AT)

    assert [None, 303.0] == speeds(engine, "D1", "M1")


def test_a_grade_marginal_twice_is_counted_over_both_units(engine: Engine) -> None:
    """Once in the donor, once here: twice of the same mechanism; the host's own marginal one does not count."""
    set_up(engine)
    with shelf(engine) as made:
        conn = made.work.conn
        for tag, day in (("X1", "2026-01-11"), ("D1", "2026-02-02"), ("D2", "2026-01-11")):
            made.reading(made.series(find_unit(conn, tag).id, "head condition"), day, "marginal")
    swap(engine, "D1", "2026-02-01", donor="X1")

    assert [("head condition", "2026-02-02")] == out_of_limit(engine, "D1")
    assert [] == out_of_limit(engine, "D2")


def test_the_list_of_readings_says_whose_mechanism_was_read(engine: Engine) -> None:
    """Those from the donor keep its tag; the former mechanism's stay in the list as its own."""
    set_up(engine)
    swap(engine, "D1", "2026-02-01", donor="X1")

    with reading(engine) as conn:
        rows = readings_with_mechanism(conn, unit_on(conn, find_unit(conn, "D1").id, TODAY), TODAY)

    assert [
        ("D1", "spindle speed", "mechanism of D1"),
        ("D1", "read errors", ""),
        ("D1", "azimuth", "mechanism of D1"),
        ("X1", "spindle speed", "mechanism of X1"),
    ] == [(row.tag, row.measurement, row.mechanism) for row in rows]


def test_a_round_offers_the_last_reading_of_the_mechanism_that_is_in_the_unit(engine: Engine) -> None:
    """Whoever walks the shelf compares with what this mechanism read, not the one that was taken out."""
    set_up(engine)
    swap(engine, "D1", "2026-02-01", donor="X1")

    with reading(engine) as conn:
        subject = subject_of(conn, "spindle speed", "", "")
        stops = stops_of(conn, subject, Chosen(tags=("D1", "D2")), TODAY)

    assert [stop.last.value for stop in stops.at if stop.last] == [301.0, 300.0]
