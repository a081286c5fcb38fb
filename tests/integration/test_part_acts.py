"""Parts fitted, removed and put right outside a service, and what a donor has left."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.parts import edit, fit, remove
from collection.acts.service_given import GivenPart, GivenService
from collection.acts.service_record import open_service, record_service
from collection.acts.undo import undo
from collection.errors import NeedsReason, Refused
from collection.store.engine import reading
from collection.views.parts import parts_of
from collection.views.units import find_unit, unit_on
from tests.support.bench import BELT
from tests.support.books import digest, scalar
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}


def parts(engine: Engine, tag: str) -> list[tuple[str, str, str, str]]:
    """Return part, state, fitted and removed of each row of a unit but what is left."""
    with reading(engine) as conn:
        rows = parts_of(conn, unit_on(conn, find_unit(conn, tag).id, TODAY))
    return [(row.part, row.state, row.fitted_on, row.removed_on) for row in rows if row.state != "left"]


def left(engine: Engine, tag: str) -> list[str]:
    """Return what is left on a unit."""
    with reading(engine) as conn:
        rows = parts_of(conn, unit_on(conn, find_unit(conn, tag).id, TODAY))
    return [row.part for row in rows if row.state == "left"]


def test_a_part_out_of_a_lot_is_booked_out_and_takes_the_place_of_the_old_one(bench: Engine) -> None:
    """One piece; the second belt ends the first on its day; undone, belt and piece are back."""
    fit(bench, "D1", GivenPart("belt", BELT), on="2026-01-05", **AT)
    done = fit(bench, "D1", GivenPart("Belt", f"{BELT}/B-1"), on="2026-02-01", note="tight", **AT)

    assert ("D1", "B-1", "tight", ()) == (done.tag, done.part.lot, done.part.note, done.doubts)
    assert [
        ("belt", "removed", "2026-01-05", "2026-02-01"),
        ("Belt", "fitted", "2026-02-01", ""),
    ] == parts(bench, "D1")
    used = (
        "SELECT coalesce(sum(steps), 0) FROM movement WHERE kind = 'use' AND act_id NOT IN (SELECT act_id FROM undone)"
    )
    assert -2 == scalar(bench, used)
    undo(bench, None, **AT)
    assert ([("belt", "fitted", "2026-01-05", "")], -1) == (parts(bench, "D1"), scalar(bench, used))


def test_a_part_joins_the_open_service_that_had_begun(bench: Engine) -> None:
    """One fitted before the service was opened does not."""
    open_service(bench, "D1", GivenService(on="2026-02-20"), **AT)

    assert "" != fit(bench, "D1", GivenPart("foot", donor="D7"), on="2026-02-20", **AT).part.service
    assert "" == fit(bench, "D1", GivenPart("lamp", donor="D7"), on="2026-02-19", **AT).part.service


def test_a_donor_lists_what_is_left_until_it_is_taken_and_again_when_that_is_undone(bench: Engine) -> None:
    """On both sides: the donor tells to whom and when, the other from whom."""
    whole = ["mechanism", "board", "head", "spindle motor", "stepper motor", "front", "belt"]
    assert (whole, []) == (left(bench, "D7"), left(bench, "D1"))

    fit(bench, "D1", GivenPart("motor", donor="D7"), on="2026-02-01", **AT)

    assert [part for part in whole if part != "spindle motor"] == left(bench, "D7")
    assert [("motor", "taken", "", "2026-02-01")] == parts(bench, "D7")
    undo(bench, None, **AT)
    assert (whole, []) == (left(bench, "D7"), parts(bench, "D7"))


@pytest.mark.parametrize("day", ["2026-01-31", "2026-02-01", "2026-02-02"])
def test_what_was_taken_is_not_taken_twice_without_a_reason(bench: Engine, day: str) -> None:
    """Before, on and after the day it went, outside a service and in one; with a reason the doubt is kept."""
    fit(bench, "D1", GivenPart("board", donor="D7"), on="2026-02-01", **AT)
    before = digest(bench)
    given = GivenPart("Board", donor="D7")
    with pytest.raises(NeedsReason, match="The Board of D7 went to D1 on 2026-02-01"):
        fit(bench, "D2", given, on=day, **AT)
    with pytest.raises(NeedsReason, match="went to D1"):
        record_service(bench, "D2", GivenService(on=day, parts=(given,), outcome="on the bench"), **AT)
    assert before == digest(bench)

    done = fit(bench, "D2", given, on=day, anyway="it had two", **AT)

    assert ("the Board of D7 went to D1 on 2026-02-01: it had two",) == done.doubts


def test_the_own_part_goes_back_once_it_lies_loose(bench: Engine) -> None:
    """Not while it is in its place, nor while it is in another unit."""
    own = GivenPart("board", own_of="D1")
    with pytest.raises(Refused, match="D1 cannot be its own donor"):
        fit(bench, "D1", own, **AT)
    with pytest.raises(Refused, match="The own board of D1 does not lie loose: it is in D1"):
        fit(bench, "D2", own, **AT)
    fit(bench, "D1", GivenPart("board", donor="D7"), on="2026-02-01", **AT)
    fit(bench, "D2", own, on="2026-02-02", **AT)
    with pytest.raises(Refused, match="The own board of D1 does not lie loose: it is in D2"):
        fit(bench, "D1", own, **AT)

    remove(bench, "D2", "board", reason="was the wrong one", on="2026-02-03", **AT)
    fit(bench, "D1", own, on="2026-02-04", **AT)

    assert [
        ("board", "removed", "2026-02-01", "2026-02-04"),
        ("board", "fitted", "2026-02-04", ""),
        ("board", "taken", "", "2026-02-02"),
    ] == parts(bench, "D1")


def test_a_part_is_removed_for_a_reason_whether_it_was_fitted_or_built_in(bench: Engine) -> None:
    """The reason is kept with it; a part the kind does not have, or that is off already, is refused."""
    fit(bench, "D1", GivenPart("belt", BELT), on="2026-01-05", **AT)
    with pytest.raises(Refused, match="fitted 2026-01-05 and removed 2026-01-04"):
        remove(bench, "D1", "belt", reason="worn", on="2026-01-04", **AT)

    assert "worn" == remove(bench, "D1", "belt", reason="worn", on="2026-01-05", **AT).part.note
    remove(bench, "D7", "head", reason="broken off", on="2026-02-01", **AT)

    assert "head" not in left(bench, "D7")
    for tag, part in (("D1", "bellt"), ("D7", "head"), ("D1", "belt")):
        with pytest.raises(Refused, match=f'{tag} has no part "{part}" to go by'):
            remove(bench, tag, part, reason="gone", **AT)
    with pytest.raises(Refused, match="for a reason"):
        remove(bench, "D1", "front", reason=" ", **AT)
    with pytest.raises(NeedsReason, match="The head of D7 was removed on 2026-02-01"):
        fit(bench, "D2", GivenPart("head", donor="D7"), **AT)


def test_a_wrong_day_is_put_right_and_what_made_room_follows(bench: Engine) -> None:
    """The belt before ends on the new day; a day on which another was in its place is refused."""
    for day in ("2026-01-05", "2026-02-01"):
        fit(bench, "D1", GivenPart("belt", BELT), on=day, **AT)

    edit(bench, "D1", "belt", number=2, fitted_on="2026-02-03", reason="read the wrong line", **AT)
    assert [
        ("belt", "removed", "2026-01-05", "2026-02-03"),
        ("belt", "fitted", "2026-02-03", ""),
    ] == parts(bench, "D1")

    with pytest.raises(Refused, match=r"D1 had another belt from 2026-01-05"):
        edit(bench, "D1", "belt", number=2, fitted_on="2026-01-04", reason="x", **AT)
    with pytest.raises(Refused, match="D1 had another belt from 2026-02-03"):
        edit(bench, "D1", "belt", number=1, removed_on="", reason="x", **AT)
    with pytest.raises(Refused, match="it would go before it came"):
        edit(bench, "D1", "belt", removed_on="2026-02-02", reason="x", **AT)
    with pytest.raises(Refused, match='D1 has no part "head" to go by'):
        edit(bench, "D1", "head", removed_on="2026-02-02", reason="x", **AT)
    edit(bench, "D1", "belt", fitted_on="2026-01-05", reason="x", **AT)
    assert "2026-01-05" == parts(bench, "D1")[0][3]
