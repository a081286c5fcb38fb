"""What the history of one act tells, on both databases."""

from __future__ import annotations

import pytest
from sqlalchemy.engine import Engine

from collection.acts.people import add_person
from collection.acts.records import edit_person
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.history_changes import act_and_changes
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY


def test_an_act_tells_what_it_wrote_by_the_names_of_what_it_refers_to(engine: Engine) -> None:
    """Numbers of rows are no names; what was appended is told as well, and a long run of it counted."""
    with shelf(engine) as made:
        unit = made.unit("D1", serial="77")
        made.owner(unit, "Ilva")
        for number, length in enumerate((20, 21)):
            series = made.series(unit, point=str(number))
            columns = ("series_id", "taken_on", "value", "instrument_id", "stage", "entered")
            disk = made.named("instrument", "disk A")
            made.work.append_many("reading", columns, [(series, "2026-02-01", 300.0, disk, "between", "300")] * length)
        made.work.update("unit", unit, serial="78")

    with reading(engine) as conn:
        act, rows = act_and_changes(conn, 2)

    told = [(row["what"], row["record"], row["rows"]) for row in rows]
    assert ("test", 20) == (act.command, told.count(("append", "reading", 1)))
    assert 1 == told.count(("append", "reading", 21))
    after = [row["after"] for row in rows]
    assert {"tag": "D1", "model": "Varnhall VX-5", "serial": "77"} in after
    assert {"unit": "D1", "what": "owner", "from_date": "2020-01-01", "person": "Ilva"} in after
    assert "D1, spindle speed 0" in [values["series"] for values in after if values and "series" in values]
    assert ({"serial": "77"}, {"serial": "78"}) == (rows[-1]["before"], rows[-1]["after"])


def test_an_act_tells_of_personal_data_hashes_alone(engine: Engine) -> None:
    """Neither the change nor the former state that is kept beside it says what they were."""
    add_person(engine, "Ada Brill", phone="555", today=TODAY, now=NOW)
    edit_person(engine, "Ada Brill", {"phone": "556"}, today=TODAY, now=NOW)

    with reading(engine) as conn:
        _, rows = act_and_changes(conn, 3)

    assert [("update", "person")] == [(row["what"], row["record"]) for row in rows]
    assert all(str(values["phone"]).startswith("sha256:") for values in (rows[0]["before"], rows[0]["after"]))


def test_an_act_that_is_not_there_is_refused(engine: Engine) -> None:
    """The number after the last one, and what lists them."""
    with reading(engine) as conn, pytest.raises(Refused, match=r"There is no act 2 in this book\. .*history"):
        act_and_changes(conn, 2)
