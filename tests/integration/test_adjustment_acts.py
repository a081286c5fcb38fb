"""Screws that were turned, on their own and in a service."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.adjustments import GivenTurn, turn_screw
from collection.acts.service_given import GivenService
from collection.acts.service_record import open_service, record_service
from collection.acts.undo import undo
from collection.analysis.turns import show_net
from collection.errors import Expected
from collection.store.engine import reading
from collection.views.card import card_of
from collection.views.service_report import service_report
from tests.support.books import digest
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

TIMES: dict[str, Any] = {"today": TODAY, "now": NOW}


def turn(engine: Engine, amount: str, direction: str = "clockwise", screw: str = "speed trimmer", on: str = "") -> Any:
    """Turn a screw of D1."""
    return turn_screw(engine, "D1", GivenTurn(screw, amount, direction, "spindle speed"), on=on, **TIMES)


def stands(engine: Engine) -> dict[str, tuple[str, int, str]]:
    """Return where each screw of D1 stands, how often it was turned and when last, as its card says."""
    with reading(engine) as conn:
        return {
            each.screw: (show_net(each.net), each.times, each.last_on) for each in card_of(conn, "D1", TODAY).screws
        }


def test_the_card_says_where_each_screw_stands_after_all_its_turns(engine: Engine) -> None:
    """Whatever the spelling and the order of entry; thirds come back exactly; an undone turn does not count."""
    with shelf(engine) as made:
        made.series(made.unit("D1"))

    turn(engine, "1/3")
    turn(engine, "120 deg", "cw", " Speed  Trimmer ", "2026-01-05")
    made_now, now = turn(engine, "2/3", "CCW", on="2026-02-01")
    turn(engine, "1/8", screw="zero stop", on="2026-02-02")

    assert ("2/3", "counter-clockwise", "spindle speed", 3) == (
        made_now.entered,
        made_now.direction,
        now.measurement,
        now.times,
    )
    assert {
        "speed trimmer": ("where it was", 3, "2026-03-01"),
        "zero stop": ("1/8 turn clockwise", 1, "2026-02-02"),
    } == stands(engine)
    undo(engine, None, **TIMES)
    assert ["speed trimmer"] == list(stands(engine))


def test_a_turn_belongs_to_the_service_in_which_it_was_made(engine: Engine) -> None:
    """Told with the service, or while one is open; one of an earlier day does not."""
    with shelf(engine) as made:
        made.series(made.unit("D1"))
        made.unit("D2")
    given = GivenService(turned=(GivenTurn("head clamp", "45 deg", "counter-clockwise"),))
    done = record_service(engine, "D2", given, **TIMES)
    opened = open_service(engine, "D1", GivenService(on="2026-02-10"), **TIMES)

    services = [turn(engine, "1/8", on=on)[0].service for on in ("2026-02-09", "2026-02-10", "")]

    assert ["", "D1 2026-02-10", "D1 2026-02-10"] == services
    with reading(engine) as conn:
        told = service_report(conn, done.service_id, TODAY).turned
        kept = service_report(conn, opened.service_id, TODAY).turned
    assert [("head clamp", "45 deg", "counter-clockwise")] == [
        (each.screw, each.entered, each.direction) for each in told
    ]
    assert 2 == len(kept)


REFUSED = [
    (GivenTurn(" ", "1/8", "cw"), "", "Which screw"),
    (GivenTurn("trimmer", "0", "cw"), "", "above nothing"),
    (GivenTurn("trimmer", "1/8", "up"), "", '"up" is no direction'),
    (GivenTurn("trimmer", "1/8", "cw", "luck"), "", "luck"),
    (GivenTurn("trimmer", "1/8", "cw"), "2026-03-02", "has not come yet"),
    (GivenTurn("x" * 201, "1/8", "cw"), "", "201 characters"),
]


def test_what_is_no_turn_changes_nothing(engine: Engine) -> None:
    """Each refusal names what was seen; in a service nothing else of it stays either."""
    with shelf(engine) as made:
        made.series(made.unit("D1"))
    was = digest(engine)

    for given, on, said in REFUSED:
        with pytest.raises(Expected, match=said):
            turn_screw(engine, "D1", given, on=on, **TIMES)
        with pytest.raises(Expected, match=said):
            record_service(engine, "D1", GivenService(turned=(given,), on=on), **TIMES)

    assert was == digest(engine)
