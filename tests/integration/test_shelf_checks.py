"""A shelf against the book, sightings, moves and the inventory, on both databases."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.loan_back import take_back
from collection.acts.loan_given import ComingBack
from collection.acts.loan_out import lend
from collection.acts.sightings import GivenShelfCheck, GivenSighting, add_sightings, check_shelf
from collection.acts.undo import undo
from collection.acts.unit_moves import move_units
from collection.acts.units import enter
from collection.acts.who import engine_of
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.inventory import inventory, last_seen, usual_owner
from collection.views.places import location_list
from collection.views.shelf_check import sightings
from collection.views.unit_list import Wanted
from collection.views.unit_places import places_of
from collection.views.units import find_unit, unit_on
from collection.views.verify import verify
from tests.integration.test_verify import rewrite
from tests.support.books import digest
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY

TIMES: dict[str, Any] = {"today": TODAY, "now": NOW}
BOTH_KINDS = GivenShelfCheck("cupboard", ("D1", "d4", "D9", "X 7"), move=True, call_missing=True, by="wen salloway")


@pytest.fixture
def rooms(engine: Engine) -> Engine:
    """Return an engine on a book with D1 and D2 in a cupboard, D3 in a box in it, and D4 on the bench."""
    with shelf(engine) as made:
        for tag, place in (("D1", "cupboard"), ("D2", "cupboard"), ("D3", "box"), ("D4", "bench")):
            made.location(made.unit(tag), place)
        made.work.update("location", made.named("location", "box"), inside_id=made.named("location", "cupboard"))
        made.work.insert("unit_alias", unit_id=1, alias="D9", alias_folded="d9")
        taken_away = made.work.insert("unit_alias", unit_id=2, alias="X 7", alias_folded="x 7")
        made.work.set_void("unit_alias", [taken_away], void=True)
        made.person("Wen Salloway")
    return engine


def _findings(engine: Engine, given: GivenShelfCheck, **more: Any) -> dict[str, str]:
    return {row.tag: row.finding for row in check_shelf(engine, given, **more, **TIMES).findings}


def _where(engine: Engine, tag: str) -> tuple[str, str]:
    with reading(engine) as conn:
        unit = unit_on(conn, find_unit(conn, tag).id, TODAY)
    return unit.location, unit.standing


def test_a_shelf_takes_in_what_is_inside_it_unless_only_itself_is_meant(rooms: Engine) -> None:
    """D3 is right in its box; where the box does not count, it is found elsewhere than the book says."""
    found = ("D1", "D2", "D3")

    assert dict.fromkeys(found, "here") == _findings(rooms, GivenShelfCheck("Cupboard", found))
    assert {"D1": "here", "D2": "here", "D3": "here, and elsewhere in the book"} == _findings(
        rooms, GivenShelfCheck("cupboard", found, inside=False)
    )
    assert {"D3": "here"} == _findings(rooms, GivenShelfCheck("box", ("D3",)), on="2026-02-01")
    with reading(rooms) as conn:
        checked = {place.location: place.checked_on for place in location_list(conn)}
    assert {"bench": None, "box": "2026-03-01", "cupboard": "2026-03-01"} == checked
    undo(rooms, 3, **TIMES)
    with reading(rooms) as conn:
        assert "2026-02-01" == next(place.checked_on for place in location_list(conn) if place.location == "box")


def test_a_shelf_check_is_one_act_that_enters_what_it_found_and_undo_takes_back(rooms: Engine) -> None:
    """Moves and missing units are entered when that is asked for, and every unit has a sighting."""
    before = digest(rooms, effective=True)

    made = check_shelf(rooms, BOTH_KINDS, on="2026-02-28", **TIMES)

    assert [
        ("D1", "here", ()),
        ("D4", "here, and elsewhere in the book", ("entered: at cupboard from 2026-02-28",)),
        ("X 7", "not known", ('if it is new: spindlebook unit add "X 7" --model MODEL --location cupboard',)),
        ("D2", "not here", ("entered: missing from 2026-02-28",)),
        ("D3", "not here", ("entered: missing from 2026-02-28",)),
    ] == [(row.tag, row.finding, row.do) for row in made.findings]
    assert (("cupboard", "ready"), ("cupboard", "missing")) == (_where(rooms, "D4"), _where(rooms, "D2"))
    with reading(rooms) as conn:
        assert [] == verify(conn).broken
        rows = sightings(conn)
        assert ["Wen Salloway", ""] == [place.by for place in places_of(conn, find_unit(conn, "D4").id)]
    assert [("D1", "seen"), ("D4", "seen"), ("D2", "not found"), ("D3", "not found"), ("X 7", "not known")] == [
        (row.tag, row.says) for row in rows
    ]
    assert {("2026-02-28", "cupboard", True, "Wen Salloway")} == {
        (row.seen_on, row.location, row.shelf_check, row.by) for row in rows
    }
    undo(rooms, None, **TIMES)
    with reading(rooms) as conn:
        assert [] == sightings(conn)
    assert before == digest(rooms, effective=True)


def test_a_dry_run_tells_the_same_and_writes_nothing(rooms: Engine) -> None:
    """Neither do refusals write; a shelf with nothing on it has to be called so."""
    before = digest(rooms)
    told = check_shelf(rooms, BOTH_KINDS, dry_run=True, **TIMES).findings

    for given, says in (
        (GivenShelfCheck("cupboard", ()), "No tag was typed or scanned."),
        (GivenShelfCheck("cupboard", ("D1",), empty=True), "D1 was found, yet --empty says that nothing is there."),
        (GivenShelfCheck("attic", ("D1",)), 'There is no location "attic".'),
        (GivenShelfCheck("cupboard", ("D1",), by="Nobody"), 'There is no person "Nobody".'),
        (GivenShelfCheck("cupboard", ("D" * 201,)), "is no tag: 201 characters"),
        (GivenShelfCheck("cupboard", ("D\x1b1",)), "is no tag: 3 characters, or signs that none has"),
        (GivenShelfCheck("cupboard", ("D1",) * 10_001), "10001 tags are more than 10000."),
        (GivenShelfCheck("cupboard", tuple(f"{at:0200}" for at in range(100))), "Most of what was found is no tag"),
    ):
        with pytest.raises(Refused) as refused:
            check_shelf(rooms, given, **TIMES)
        assert says in str(refused.value)

    assert before == digest(rooms)
    assert told == check_shelf(rooms, BOTH_KINDS, **TIMES).findings


def test_an_empty_shelf_and_the_longest_tag_that_there_can_be_are_taken(rooms: Engine) -> None:
    """All that the book has there is not here; a tag has up to 200 characters, and 10,000 may be scanned."""
    assert {"D1": "not here", "D2": "not here", "D3": "not here"} == _findings(
        rooms, GivenShelfCheck("cupboard", (), empty=True)
    )
    assert {"D3": "here", "D" * 200: "not known"} == _findings(rooms, GivenShelfCheck("box", ("D3", "D" * 200) * 5_000))


def test_sightings_say_what_to_do_where_book_and_eye_differ(rooms: Engine) -> None:
    """They move nothing; a unit is seen where the book has it unless another place is told."""
    keeper = engine_of(rooms, "Wen Salloway")
    with pytest.raises(Refused, match="is a member, who reads the book"):
        add_sightings(keeper, ["D1"], GivenSighting(), **TIMES)
    with pytest.raises(Refused, match="D1 is named twice"):
        add_sightings(rooms, ["D1", "d9"], GivenSighting(), **TIMES)

    at_bench = add_sightings(rooms, ["D1", "D4"], GivenSighting("bench"), on="2026-02-20", **TIMES)
    in_vain = add_sightings(rooms, ["D2"], GivenSighting(found=False, by="Wen Salloway"), on="2026-02-21", **TIMES)

    assert (["D1", "D4"], ["The book says cupboard: spindlebook unit move D1 --to bench"]) == at_bench
    assert (["D2"], ["If it is nowhere: spindlebook unit enter D2 --standing missing"]) == in_vain
    assert ("cupboard", "ready") == _where(rooms, "D1")
    with reading(rooms) as conn:
        rows = {row.tag: row for row in inventory(conn, TODAY, Wanted())}
    assert ("2026-02-20", "sighting", "") == (rows["D1"].last_seen, rows["D1"].evidence, rows["D1"].by)
    assert ("2020-01-01", "moved", "2026-02-21") == (
        rows["D2"].last_seen,
        rows["D2"].evidence,
        rows["D2"].not_found_on,
    )


def test_a_sighting_of_what_is_missing_brings_it_back_and_of_what_is_gone_is_none(rooms: Engine) -> None:
    """Looking for it once more in vain asks for nothing; whoever writes looked, where nobody else is named."""
    with shelf(rooms) as made:
        made.named("person", "Ida Keep", role="keeper", salt="salt")
    enter(rooms, "D1", standing="missing", **TIMES)
    enter(rooms, "D2", standing="gone", reason="sold", **TIMES)

    with pytest.raises(Refused, match="D2 is gone since 2026-03-01"):
        add_sightings(rooms, ["D1", "D2"], GivenSighting(), **TIMES)
    in_vain = add_sightings(rooms, ["D1"], GivenSighting(found=False), **TIMES)
    seen = add_sightings(engine_of(rooms, "Ida Keep"), ["D1"], GivenSighting(), **TIMES)
    check_shelf(engine_of(rooms, "Ida Keep"), GivenShelfCheck("box", ("D3",)), **TIMES)

    assert [] == in_vain[1]
    assert ['It is here again: spindlebook unit enter D1 --standing "on the bench"'] == seen[1]
    with reading(rooms) as conn:
        assert ["", "Ida Keep", "Ida Keep"] == [row.by for row in sightings(conn)]
        assert {""} == {row.not_found_on for row in inventory(conn, TODAY, Wanted())}


def test_units_are_moved_with_who_moved_them_and_earlier_places_stay(rooms: Engine) -> None:
    """What stands there already is not moved again, and a day before a later entry changes nothing of today."""
    moved = move_units(rooms, ["D1", "D4"], to="Bench", by="wen salloway", note="open day", on="2026-02", **TIMES)
    late = move_units(rooms, ["D1"], to="box", on="2025", **TIMES)

    assert [("D1", "cupboard", "bench", "bench")] == [(tag, one.before, one.after, one.now) for tag, one in moved]
    assert [("cupboard", "box", "bench")] == [(one.before, one.after, one.now) for _, one in late]
    with reading(rooms) as conn:
        places = places_of(conn, find_unit(conn, "D1").id)
    assert [
        ("bench", "2026-02", "", "Wen Salloway", "open day"),
        ("box", "2025", "2026-02", "", ""),
        ("cupboard", "2020-01-01", "2025", "", ""),
    ] == [tuple(place) for place in places]
    assert [] == move_units(rooms, ["D1"], to="bench", **TIMES)


def test_a_unit_was_seen_last_when_the_newest_evidence_says_so(rooms: Engine) -> None:
    """Each kind of evidence counts by its own day; what lies ahead and what was taken back does not."""
    with shelf(rooms) as made:
        made.reading(made.series(1), "2025-03-01", 300.0)
        made.service(2, "2025-02-27", closed_on="2025-02-28")
        made.work.insert("fault", unit_id=3, noticed_on="2025-03-02", symptom="hums", no_fault_found=0)
        made.work.insert("attachment", unit_id=4, content_id=made.work.append(
            "attachment_content", sha256="0" * 64, size=1, content=b"x"), title="x", media_type="image/png",
            taken_on="2026-03-02",
        )  # fmt: skip
    since = date(2025, 3, 1)
    with reading(rooms) as conn:
        seen = {unit: (one.day, one.what) for unit, one in last_seen(conn, TODAY).items()}
        not_seen = [row.tag for row in inventory(conn, TODAY, Wanted(), not_seen_since=since)]
        alone = [last_seen(conn, TODAY, unit)[unit][:2] for unit in seen]

    assert {
        1: ("2025-03-01", "reading"),
        2: ("2025-02-28", "service"),
        3: ("2025-03-02", "fault"),
        4: ("2020-01-01", "moved"),
    } == seen
    assert list(seen.values()) == alone
    assert ["D4", "D2"] == not_seen
    undo(rooms, None, **TIMES)
    with reading(rooms) as conn:
        assert {"2020-01-01"} == {one.day for one in last_seen(conn, TODAY).values()}


def test_what_did_not_come_back_from_a_loan_was_seen_when_it_went_out(rooms: Engine) -> None:
    """Its loan ends on the day it is called lost; what came back that day was seen."""
    lend(rooms, ["D1", "D2"], to="Wen Salloway", due="2026-06-01", all_the_same="x", on="2026-02-01", **TIMES)
    take_back(rooms, [ComingBack("D1"), ComingBack("D2", lost="left in the train")], on="2026-02-20", **TIMES)

    with reading(rooms) as conn:
        seen = {row.tag: (row.last_seen, row.evidence) for row in inventory(conn, TODAY, Wanted())}
    assert [("2026-02-20", "loan back"), ("2026-02-01", "loan out")] == [seen["D1"], seen["D2"]]


def test_the_usual_owner_is_who_owns_most(rooms: Engine) -> None:
    """Nobody where none is known; of two who own as much the first by name."""
    with reading(rooms) as conn:
        rows = inventory(conn, TODAY, Wanted())
    owned = [row._replace(owner=owner) for row, owner in zip(rows, ("Wen", "Ada", "Wen", ""), strict=True)]

    assert ["", "Wen", "Ada"] == [usual_owner(some) for some in (rows, owned, owned[:2])]


def test_verify_names_a_sighting_that_is_not_of_its_shelf_check(rooms: Engine) -> None:
    """Day, place and act are those of the check."""
    check_shelf(rooms, GivenShelfCheck("box", ("D3",)), **TIMES)

    rewrite(rooms, "UPDATE sighting SET seen_on = '2026-02-28'")

    with reading(rooms) as conn:
        assert "what was seen at a shelf-check was seen there and then" in {row.rule for row in verify(conn).broken}
