"""Condition checks and electrical safety checks, on both databases."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.attachments import GivenPhoto, add_photo
from collection.acts.condition_checks import GivenCheck, add_check
from collection.acts.readings import GivenReading
from collection.acts.safety_checks import add_safety_check
from collection.acts.settings import set_book
from collection.acts.undo import undo
from collection.acts.units import enter
from collection.acts.who import engine_of
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.attachments import attachments_of
from collection.views.card import card_of
from collection.views.condition_checks import CheckReading, condition_checks
from collection.views.safety import safety_against, safety_against_each, safety_failed, safety_rows
from collection.views.unchecked import unchecked
from collection.views.unit_list import Wanted
from collection.views.units import find_unit
from collection.views.verify import verify
from tests.integration.test_verify import rewrite
from tests.support.books import digest
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

TIMES: dict[str, Any] = {"today": TODAY, "now": NOW}
SIDE = GivenPhoto("side.jpg", b"\xff\xd8\xff\x00\x01side")
LOOKED = GivenCheck(
    "Loan Back",
    " scratch on the left side ",
    grade="Marginal",
    by="ilse vanterpool",
    readings=(GivenReading("spindle speed", "300.2"),),
    instrument="hand strobe",
    photos=(SIDE,),
)


def _against(engine: Engine, tag: str, until: date, on: date | None = None) -> str:
    with reading(engine) as conn:
        return safety_against(conn, find_unit(conn, tag).id, until, on)


def test_a_check_keeps_words_readings_and_pictures_of_its_moment(bench: Engine) -> None:
    """Its readings are readings of the unit, its pictures pictures of the unit; undo takes all of it back."""
    add_photo(bench, "D1", GivenPhoto("front.jpg", b"\xff\xd8\xff\x00\x01front"), **TIMES)
    before = digest(bench, effective=True)

    made = add_check(bench, "d1", LOOKED, on="2026-02-20", **TIMES)

    assert ("D1", "2026-02-20", "loan back", "scratch on the left side", "marginal", "Ilse Vanterpool") == (
        made.tag,
        made.checked_on,
        made.occasion,
        made.condition,
        made.grade,
        made.by,
    )
    assert (CheckReading("spindle speed", "", 300.2, "", "r/min", "hand strobe"),) == made.readings
    assert ((2, "side.jpg"),) == made.photos
    with reading(bench) as conn:
        card = card_of(conn, "D1", TODAY)
        assert [made] == condition_checks(conn) == condition_checks(conn, find_unit(conn, "D1").id)
        assert ["", "2026-02-20"] == [each.taken_on or "" for each in attachments_of(conn, made.unit_id)]
        assert [] == verify(conn).broken
    assert (300.2, 2, made) == (card.readings[0].last.value, card.photos, card.checked)
    undo(bench, None, **TIMES)
    assert before == digest(bench, effective=True)


def test_a_check_is_by_who_writes_where_nobody_is_named(bench: Engine) -> None:
    """The person told with --by comes before the person told with --who."""
    by = [
        add_check(engine_of(bench, "Ilse Vanterpool"), "D1", GivenCheck("other", "whole", by=name), **TIMES).by
        for name in ("", "Bram Oakhollow")
    ]

    assert ["Ilse Vanterpool", "Bram Oakhollow"] == by


REFUSED = (
    ("D1", GivenCheck("other", "  "), "", "The condition of D1 is not said."),
    ("D1", GivenCheck("retrun", "whole"), "", 'Occasion "retrun" is not known. Type one of: loan out, loan back'),
    ("D1", GivenCheck("other", "whole", grade="ok"), "", '"ok" is no grade of a condition.'),
    ("D1", GivenCheck("other", "whole", by="Nobody"), "", 'There is no person "Nobody".'),
    ("D1", GivenCheck("other", "x" * 20_001), "", "condition has 20001 characters"),
    ("D1", GivenCheck("other", "whole"), "2026-03-02", "has not come yet"),
    ("D1", GivenCheck("other", "whole", photos=(SIDE, SIDE)), "", "side.jpg is attached to D1 already"),
    ("D1", GivenCheck("other", "whole", readings=(GivenReading("speed", "1"),)), "", "There is no measurement"),
    ("D4", GivenCheck("other", "whole"), "", "D4 is gone since 2026-02-01, and nobody can look at it."),
)


def test_a_check_is_refused_and_nothing_is_written(bench: Engine) -> None:
    """What is no check leaves no half of one behind."""
    enter(bench, "D4", standing="gone", reason="sold", on="2026-02-01", **TIMES)
    before = digest(bench)

    for tag, given, on, says in REFUSED:
        with pytest.raises(Refused) as refused:
            add_check(bench, tag, given, on=on, **TIMES)
        assert says in str(refused.value)
    with pytest.raises(Refused, match="D4 is gone since 2026-02-01"):
        add_safety_check(bench, "D4", "pass", by="Ilse Vanterpool", **TIMES)

    assert before == digest(bench)


def test_units_that_nobody_checked_for_a_time_are_listed_the_longest_first(bench: Engine) -> None:
    """Checked on the day or later is checked; what is missing cannot be looked at."""
    for tag, day in (("D1", "2025-02-28"), ("D2", "2025-03-01"), ("D3", "2025-03-02"), ("D4", "2024-05-05")):
        add_check(bench, tag, GivenCheck("inventory", "whole"), on=day, **TIMES)

    with reading(bench) as conn:
        found = [row.tag for row in unchecked(conn, TODAY, date(2025, 3, 1), Wanted(kind="drive"))]

    assert ["D7", "D4", "D1"] == found


def test_a_mains_unit_wants_a_check_that_is_good_to_the_end(bench: Engine) -> None:
    """Up to the last day it is good, on the day after it is not; what is not fed from the mains wants none."""
    with reading(bench) as conn:
        assert [("P1", "no check")] == [(row.tag, row.says) for row in safety_rows(conn, TODAY)]
    assert ("", "it is fed from the mains and has no electrical safety check") == (
        _against(bench, "D1", TODAY),
        _against(bench, "P1", TODAY),
    )

    add_safety_check(bench, "P1", "Pass", by="Ilse Vanterpool", on="2026-02-01", good_through="2026-09-30", **TIMES)

    through = date(2026, 9, 30)
    assert "" == _against(bench, "P1", through)
    with reading(bench) as conn:
        assert ["", "lapsed"] == [safety_rows(conn, day)[0].says for day in (through, through + timedelta(days=1))]
    assert "its electrical safety check of 2026-02-01 is good through 2026-09-30 only" == _against(
        bench, "P1", through + timedelta(days=1)
    )
    assert "it is fed from the mains and has no electrical safety check" == _against(
        bench, "P1", through, on=date(2026, 1, 31)
    )


def test_the_rule_of_the_book_counts_where_a_check_names_no_last_day(bench: Engine) -> None:
    """Without a rule a passed check does not lapse; with 12 months it is good through the same day of the next year."""
    add_safety_check(bench, "P1", "pass", by="Ilse Vanterpool", on="2026-02", **TIMES)
    assert "" == _against(bench, "P1", date(2126, 1, 1))

    set_book(bench, {"safety months": "12"}, **TIMES)

    assert ["", "its electrical safety check of 2026-02 is good through 2027-02-01 only"] == [
        _against(bench, "P1", date(2027, 2, day)) for day in (1, 2)
    ]


def test_a_failed_check_stands_until_one_is_passed(bench: Engine) -> None:
    """It does so for a unit that is not known to be fed from the mains, too; undo takes it back."""
    add_safety_check(bench, "D1", "pass", by="Ilse Vanterpool", on="2026-02-01", **TIMES)
    add_safety_check(bench, "D1", "fail", by="Ilse Vanterpool", on="2026-02-02", note="cord cracked", **TIMES)

    with reading(bench) as conn:
        assert ["D1", "P1"] == [row.tag for row in safety_rows(conn, TODAY)]
        assert safety_failed(conn, find_unit(conn, "D1").id)
        assert not safety_failed(conn, find_unit(conn, "D1").id, date(2026, 2, 1))
        rows = safety_rows(conn, TODAY, find_unit(conn, "D1").id)
    assert [("fail", "failed"), ("pass", "")] == [(row.result, row.says) for row in rows]
    assert "its electrical safety check of 2026-02-02 failed" == _against(bench, "D1", TODAY)
    undo(bench, None, **TIMES)
    assert "" == _against(bench, "D1", TODAY)
    enter(bench, "D1", standing="gone", reason="sold", **TIMES)
    with reading(bench) as conn:
        assert ["P1"] == [row.tag for row in safety_rows(conn, TODAY)]


def test_of_checks_of_one_month_the_one_that_was_entered_last_holds(bench: Engine) -> None:
    """A check known to its month may have been made after one of a day of it; one of a later day has not."""
    with reading(bench) as conn:
        unit = find_unit(conn, "P1").id
    held = []
    for result, day in (("pass", "2026-02-05"), ("fail", "2026-02"), ("pass", "2026-02-20"), ("fail", "2026-02-19")):
        add_safety_check(bench, "P1", result, by="Ilse Vanterpool", on=day, **TIMES)
        with reading(bench) as conn:
            held.append(safety_failed(conn, unit))

    assert [False, True, False, False] == held
    with reading(bench) as conn:
        assert [True, True, False] == [safety_failed(conn, unit, date(2026, 2, day)) for day in (4, 19, 20)]
        listed = [row.checked_on for row in safety_rows(conn, TODAY, unit)]
        assert {} == safety_against_each(conn, {unit: TODAY})
    assert ["2026-02-20", "2026-02-19", "2026-02-05", "2026-02"] == listed


def test_a_grade_of_a_service_can_fail_a_unit_and_passes_none(bench: Engine) -> None:
    """Who passed it by which rule is not told with a grade; a check takes a fail away, of one day the later act."""
    with shelf(bench) as made:
        graded = made.series(find_unit(made.work.conn, "P1").id, "electrical safety")
        made.reading(graded, "2026-02-01", "pass")
    assert "it is fed from the mains and has no electrical safety check" == _against(bench, "P1", TODAY)
    with shelf(bench) as made:
        made.reading(graded, "2026-02-03", "fail")
    with reading(bench) as conn:
        assert ["graded fail 2026-02-03"] == [row.says for row in safety_rows(conn, TODAY, find_unit(conn, "P1").id)]
    add_safety_check(bench, "P1", "pass", by="Ilse Vanterpool", on="2026-02-03", **TIMES)
    assert "" == _against(bench, "P1", TODAY)
    with shelf(bench) as made:
        made.reading(graded, "2026-02-03", "fail")

    assert "its electrical safety was graded fail on 2026-02-03" == _against(bench, "P1", TODAY)
    with reading(bench) as conn:
        assert "graded fail 2026-02-03" == card_of(conn, "P1", TODAY).safety.says  # type: ignore[union-attr]
        assert safety_failed(conn, find_unit(conn, "P1").id)
    with shelf(bench) as made:
        service = made.service(find_unit(made.work.conn, "P1").id, "2026-02-10")
        made.reading(graded, "2026-02-10", "pass", "as left", service)
        made.reading(graded, "2026-02-10", "fail", "as found", service)
    assert "" == _against(bench, "P1", TODAY)


SAFETY_REFUSED: tuple[tuple[str, dict[str, Any], str], ...] = (
    ("ok", {"by": "Ilse Vanterpool"}, '"ok" is no result of an electrical safety check. Type pass or fail.'),
    ("pass", {}, "Who checked it is not said"),
    ("fail", {"by": "Ilse Vanterpool", "good_through": "2026-09-30"}, "A check that failed is good through no day."),
    ("pass", {"by": "Ilse Vanterpool", "good_through": "2026-02-28"}, "is before the check of 2026-03-01"),
    ("pass", {"by": "Ilse Vanterpool", "rule": "x" * 201}, "rule has 201 characters"),
)


def test_a_safety_check_is_refused(bench: Engine) -> None:
    """A person answers for each, and its days come in order."""
    before = digest(bench)

    for result, given, says in SAFETY_REFUSED:
        with pytest.raises(Refused) as refused:
            add_safety_check(bench, "P1", result, **given, **TIMES)
        assert says in str(refused.value)

    assert before == digest(bench)


def test_verify_names_checks_that_do_not_belong_together(bench: Engine) -> None:
    """Each rule has its way to be broken behind the program's back."""
    add_check(bench, "D1", LOOKED, **TIMES)
    add_safety_check(bench, "P1", "pass", by="Ilse Vanterpool", good_through="2026-03-01", **TIMES)

    rewrite(
        bench,
        "UPDATE condition_check SET unit_id = (SELECT id FROM unit WHERE tag = 'D2')",
        "UPDATE safety_check SET good_through = '2026-02-28'",
    )

    with reading(bench) as conn:
        found = {(row.rule, row.table) for row in verify(conn).broken}
    rule = "what was taken at a condition check is of its unit and day"
    assert {(rule, "reading"), (rule, "attachment"), ("nothing ends before it begins", "safety_check")} < found
