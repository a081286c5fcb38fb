"""What is to be read again, from the readings in the book to the row of the due list."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy.engine import Engine

from collection.analysis.reasons import RecheckDue
from collection.store.engine import fetch, reading
from collection.views.due import Rechecks, due_view
from collection.views.recheck import from_plain, plain, recheck_dates
from tests.support.shelf import shelf
from tests.support.times import TODAY

LONGEST = date(2026, 12, 1)  # 12 months after the last reading


@pytest.fixture
def fleet(engine: Engine) -> Engine:
    """Return a book of ten belt drives read twice a year for four years.

    D1 drifts up by 1.25 r/min a year and will soon be out; D8 was last read at 305; D9 was set in January and not
    read since; D10 runs at 306; D2 was read by one measurement that has no limits and one that is graded, too.
    """
    with shelf(engine) as made:
        made.few_procedures()
        made.procedure("look at the speed", every_months=12, retests="spindle speed")
        for number in range(1, 11):
            unit = made.unit(f"D{number}")
            level, slope = (306.0, 0.0) if number == 10 else (299.6 + number / 8, 1.25 if number == 1 else 0.0)
            for half in range(8):
                wobble = 0.06 * ((number * 7 + half * 5) % 5 - 2)
                day = f"{2022 + half // 2}-{(6, 12)[half % 2]:02}-01"
                value = 305.0 if (number, half) == (8, 7) else level + slope * (half - 1) / 2 + wobble
                made.reading(made.series(unit), day, round(value, 2))
            if number == 2:
                made.reading(made.series(unit, "fan speed"), day, 1200.0)
                made.reading(made.series(unit, "head condition"), day, "pass")
            if number == 9:
                made.service(unit, "2026-01-10", "set spindle speed")
    return engine


def asked(engine: Engine, risk: float = 0.1) -> dict[str, list[RecheckDue]]:
    """Return by tag what is to be read again on the day of the tests."""
    with reading(engine) as connection:
        tags = dict(fetch(connection, "SELECT id, tag FROM unit ORDER BY id"))
        return {str(tags[unit]): list(asked) for unit, asked in recheck_dates(connection, TODAY, risk).items()}


def test_each_unit_is_read_again_by_its_own_rule(fleet: Engine) -> None:
    """The drifting unit by its risk, sooner where less is accepted; the sound ones after the longest interval."""
    found = asked(fleet)

    assert {tag: [one.rule for one in of] for tag, of in found.items()} == {
        "D1": ["risk"],
        **{f"D{number}": ["longest"] for number in range(2, 8)},
        "D8": ["limit"],
        "D9": ["span"],
        "D10": ["limit"],
    }
    assert (found["D2"][0].measurement, found["D2"][0].day) == ("spindle speed", LONGEST)
    assert found["D1"][0].why == "10 % risk of being outside 295.5 to 304.5 r/min by then"
    assert found["D9"][0].day == date(2026, 3, 1)
    assert found["D10"][0].day == TODAY
    assert asked(fleet, 0.01)["D1"][0].day < found["D1"][0].day < LONGEST
    # The chance on that day: just above what is accepted, next to none for a sound unit, none known after a setting.
    chances = {tag: of[0].chance for tag, of in found.items()}
    assert chances["D1"] == pytest.approx(0.105, abs=0.005)
    assert chances["D2"] == pytest.approx(0.0, abs=0.01)
    assert chances["D9"] is None


def test_the_due_list_asks_the_procedure_that_reads_without_setting(fleet: Engine) -> None:
    """A unit whose last reading is outside is told by that reading alone, kept rechecks read as fresh ones."""
    with reading(fleet) as connection:
        found: Rechecks = recheck_dates(connection, TODAY, 0.1)
        due = due_view(connection, TODAY, 30, found).due
        again = due_view(connection, TODAY, 30, from_plain(plain(found))).due

    assert {row.tag: [(item.procedure, item.why) for item in row.items] for row in due.rows} == {
        "D8": [("set spindle speed", "spindle speed: last reading 305 r/min, limit 304.5")],
        "D9": [
            (
                "look at the speed",
                "spindle speed: recheck by 1 Mar 2026, readings trusted for twice their span, 3 months at least",
            )
        ],
        "D10": [("set spindle speed", "spindle speed: last reading 305.88 r/min, limit 304.5")],
    }
    assert again == due


def test_a_book_without_a_number_asks_for_nothing(engine: Engine) -> None:
    """Grades have their own rule, and nothing is fitted for them."""
    with shelf(engine) as made:
        unit = made.unit("D1")
        made.reading(made.series(unit, "head condition"), "2024-01-01", "fail")

    assert asked(engine) == {}


def test_a_sound_unit_that_a_low_instrument_read_is_not_called_out(engine: Engine) -> None:
    """Last read 2.1 % low by an instrument known for it, it keeps its interval; one that is truly off is out."""
    with shelf(engine) as made:
        made.few_procedures()
        speed = made.id_of("measurement", "spindle speed", lambda: 0)
        counter, strobe = made.named("instrument", "counter"), made.named("instrument", "strobe")
        made.work.insert("instrument_use", instrument_id=counter, measurement_id=speed, reference=1)
        for number in range(1, 9):
            series = made.series(made.unit(f"D{number}"))
            true = 293.7 if number == 8 else 299.5 + number / 8
            for half in range(8):
                low = half % 2 == 1
                value = true * (0.979 if low else 1) + 0.05 * ((number * 7 + half * 5) % 5 - 2)
                made.work.append(
                    "reading",
                    series_id=series,
                    taken_on=f"{2022 + half // 2}-{(6, 12)[half % 2]:02}-01",
                    value=round(value, 2),
                    instrument_id=strobe if low else counter,
                    stage="between",
                    entered="",
                )

    found = asked(engine)
    assert {of[0].rule for tag, of in found.items() if tag != "D8"} == {"longest"}
    assert all(of[0].cleared for tag, of in found.items() if tag != "D8")
    assert (found["D8"][0].rule, found["D8"][0].cleared) == ("limit", False)
    with reading(engine) as connection:
        due = due_view(connection, TODAY, 30, from_plain(plain(recheck_dates(connection, TODAY, 0.1)))).due
    assert [row.tag for row in due.rows] == ["D8"]
