"""A computer whose clock was set back writes nothing; whoever types the day is believed."""

from datetime import datetime, timedelta

import pytest
from sqlalchemy.engine import Engine

from collection.acts.clock import by_clock
from collection.acts.people import add_person
from collection.errors import Refused
from tests.support.books import digest
from tests.support.cli import run_cli
from tests.support.times import NOW, TODAY

DAY = timedelta(days=1)
MOMENT = timedelta(microseconds=1)


def _add(engine: Engine, now: datetime, name: str) -> None:
    add_person(engine, name, today=TODAY, now=now)


def test_a_clock_more_than_a_day_behind_the_last_act_is_refused(engine: Engine) -> None:
    """Below, at and above a day; what was typed counts, and the clock is measured against it from then on."""
    clock = by_clock(engine)
    _add(clock, NOW + 10 * DAY, "Ansa")
    _add(clock, NOW + 9 * DAY, "Bela")
    before = digest(engine)

    with pytest.raises(Refused) as refused:
        _add(clock, NOW + 8 * DAY - MOMENT, "Cato")

    assert before == digest(engine)
    assert "says 2026-03-09 11:59 UTC, but the last act of the book is of 2026-03-10 12:00;" in refused.value.what
    assert refused.value.hint.endswith("spindlebook --today 2026-03-09 ...")
    _add(engine, NOW, "Cato")
    _add(clock, NOW - DAY + MOMENT, "Dora")


def test_a_clock_set_back_is_told_in_two_lines_and_lists_go_on(book_url: str) -> None:
    """An act of a day to come, as a clock that was wrong the other way leaves it, stops no list and no typed day."""
    assert 0 == run_cli(["--today", "2999-01-01", "person", "add", "Ansa"], db=book_url, today=None).code

    wrote = run_cli(["person", "add", "Bela"], db=book_url, today=None)
    looked = run_cli(["person", "list"], db=book_url, today=None)
    typed = run_cli(["person", "add", "Bela"], db=book_url, today=TODAY)

    assert (1, "", 2) == (wrote.code, wrote.out, len(wrote.err.splitlines()))
    assert "the last act of the book is of 2999-01-01 12:00; nothing was written" in wrote.err
    assert (0, 0) == (looked.code, typed.code)
    assert 0 == run_cli(["person", "add", "Cato"], db=book_url, today=None).code
