"""Changing what records say from the command line, on both databases."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.limits import Whose, add_limit, drop_limit, edit_limit
from collection.acts.procedures import add_procedure, edit_procedure, set_amount
from collection.acts.undo import undo
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.limit_list import limit_list
from collection.views.procedure_sheet import procedure_sheet
from collection.views.verify import verify
from tests.support.bench import BELT, IPA, set_up_bench
from tests.support.books import digest
from tests.support.times import NOW, TODAY

AT: Any = {"today": TODAY, "now": NOW}


@pytest.fixture
def bench(engine: Engine) -> Engine:
    """Return an engine on a book with a small shelf in it."""
    set_up_bench(engine, TODAY, NOW)
    return engine


def _refused(engine: Engine, says: str, act: Callable[[], Any]) -> None:
    """Hold an act to a refusal in these words that changes nothing."""
    before = digest(engine)
    with pytest.raises(Refused) as refused:
        act()
    assert says in str(refused.value)
    assert before == digest(engine)


def test_another_interval_raises_the_revision_of_a_procedure_and_another_source_does_not(bench: Engine) -> None:
    """Work done before keeps the revision it was done by; undo brings both back."""

    def revision() -> tuple[int, int | None]:
        with reading(bench) as conn:
            sheet = procedure_sheet(conn, "clean head")
        return sheet.revision, sheet.every_months

    edit_procedure(bench, "clean head", {"source": "our own bench", "minutes": "11"}, **AT)
    assert (1, 12) == revision()
    _refused(bench, "needs a reason", lambda: edit_procedure(bench, "clean head", {"every_months": "18"}, **AT))
    edit_procedure(bench, "Clean Head", {"every_months": "18"}, reason="dusty", **AT)
    assert (2, 18) == revision()
    edit_procedure(bench, "clean head", {"every_months": "18"}, **AT)
    assert (2, 18) == revision()

    undo(bench, None, **AT)
    assert (1, 12) == revision()


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"every_months": "0"}, 'every months "0" must be 1 or more'),
        ({"triggers": "after supper"}, "after supper"),
        ({"retests": "spimdle speed"}, "Nearest: spindle speed."),
        ({"procedure": "DUST OUT"}, 'There is a procedure "dust out" already.'),
        ({"procedure": " "}, "cannot be without its procedure"),
        ({"minutes": "1,5"}, 'Write "1.5".'),
    ],
)
def test_what_the_due_list_could_not_read_is_refused(bench: Engine, given: dict[str, str], says: str) -> None:
    """By the rules of the folder's columns, in words of the command line."""
    _refused(bench, says, lambda: edit_procedure(bench, "clean head", given, reason="try", **AT))


def test_a_procedure_of_ones_own_has_its_amounts(bench: Engine) -> None:
    """An amount told again replaces the first, with a reason; zero takes it off the sheet."""
    add_procedure(bench, "listen to it", {"triggers": "symptom hum", "every_months": "1"}, **AT)
    set_amount(bench, "listen to it", IPA, "2 ml", chance="0.5", **AT)
    _refused(bench, "needs a reason", lambda: set_amount(bench, "listen to it", IPA, "3 ml", **AT))
    _refused(bench, "not within 0 to 1", lambda: set_amount(bench, "listen to it", BELT, "1", chance="1.01", **AT))
    set_amount(bench, "listen to it", IPA, "3 ml", reason="more", **AT)

    with reading(bench) as conn:
        sheet = procedure_sheet(conn, "listen to it")
    assert (3, ((IPA, "3 ml", None),)) == (sheet.revision, sheet.amounts)
    set_amount(bench, "listen to it", IPA, "0", reason="none", **AT)
    with reading(bench) as conn:
        assert () == procedure_sheet(conn, "listen to it").amounts


def test_a_limit_is_added_changed_with_a_reason_and_dropped(bench: Engine) -> None:
    """Of several the day tells which; a dropped one comes back by undo."""
    rails = Whose("rail voltage", "+5 V", unit="P1")

    def seen() -> list[tuple[str, str]]:
        with reading(bench) as conn:
            return [(row.shown, row.from_date) for row in limit_list(conn, unit="P1")]

    add_limit(bench, rails, {"lower": "4.8", "upper": "5.2"}, **AT)
    add_limit(bench, rails, {"lower": "4.9", "from_date": "2026"}, **AT)
    _refused(bench, "from 2026 already", lambda: add_limit(bench, rails, {"upper": "6", "from_date": "2026"}, **AT))
    _refused(bench, "2 limits", lambda: drop_limit(bench, rails, reason="x", **AT))
    first = Whose("rail voltage", "+5 V", unit="P1", from_date="")
    _refused(bench, "needs a reason", lambda: edit_limit(bench, first, {"upper": "5.1"}, **AT))
    _refused(
        bench, "Lower 4.8 is above upper 4.7", lambda: edit_limit(bench, first, {"upper": "4.7"}, reason="x", **AT)
    )
    edit_limit(bench, first, {"upper": "4.8"}, reason="x", **AT)
    assert [("4.8 to 4.8 V", ""), ("at least 4.9 V", "2026")] == seen()

    drop_limit(bench, first, reason="wrong", **AT)
    assert [("at least 4.9 V", "2026")] == seen()
    undo(bench, None, **AT)
    assert 2 == len(seen())
    with reading(bench) as conn:
        assert not verify(conn).broken


@pytest.mark.parametrize(
    ("whose", "given", "says"),
    [
        (Whose("ripple"), {"upper": "1"}, "none is named"),
        (Whose("ripple", unit="D1", model="DM-8"), {"upper": "1"}, "several are named"),
        (Whose("head condition", unit="D1"), {"upper": "1"}, "is graded"),
        (Whose("ripple", unit="D1"), {"source": "a book"}, "needs a number"),
        (Whose("ripple", unit="D1"), {"upper": "lots"}, 'upper "lots" is not a number'),
        (Whose("ripple", unit="D11"), {"upper": "1"}, 'No unit has the tag "D11"'),
    ],
)
def test_a_limit_that_says_nothing_is_refused(bench: Engine, whose: Whose, given: dict[str, str], says: str) -> None:
    """Nothing is written."""
    _refused(bench, says, lambda: add_limit(bench, whose, given, **AT))
