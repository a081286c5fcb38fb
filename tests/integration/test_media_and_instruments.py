"""Disks and instruments with a life, on both databases."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.engine import Engine

from collection.acts.instrument_life import (
    GivenUse,
    add_instrument,
    check_instrument,
    edit_instrument,
    instrument_repaired,
    retire_instrument,
)
from collection.acts.media import add_medium, check_medium, edit_medium, retire_medium, use_medium
from collection.acts.readings import GivenReading, add_reading
from collection.acts.rounds import Answer, GivenRound, keep_round
from collection.acts.undo import undo
from collection.errors import Refused
from collection.store.engine import reading
from collection.views.checks import AlsoDue, also_due
from collection.views.instrument_list import InstrumentRow, find_instrument_row
from collection.views.media import MediumRow, find_medium, unknown_disks
from collection.views.verify import verify
from tests.support.books import digest, scalar
from tests.support.times import NOW, TODAY

AT: dict[str, Any] = {"today": TODAY, "now": NOW}
SPEED = "spindle speed"


def _read(engine: Engine, tag: str, value: str = "300", **more: Any) -> tuple[str, ...]:
    acts = {key: more.pop(key) for key in ("on", "stage") if key in more}
    given = GivenReading(SPEED, value, instrument=more.pop("instrument", "bench counter"), **more)
    return add_reading(engine, tag, given, **acts, **AT).doubts


def _medium(engine: Engine, name: str) -> MediumRow:
    with reading(engine) as conn:
        return find_medium(conn, name, TODAY)


def _instrument(engine: Engine, name: str) -> InstrumentRow:
    with reading(engine) as conn:
        return find_instrument_row(conn, name, TODAY)


def _also(engine: Engine, within: int = 0) -> list[AlsoDue]:
    with reading(engine) as conn:
        return also_due(conn, TODAY, within)


def test_a_disk_is_used_once_a_day_or_service_that_names_it_and_as_often_as_noted(bench: Engine) -> None:
    """Its name is folded; two readings of a day are one use; an undone use counts no more."""
    add_medium(bench, "Disk R-1", {"role": "reference"}, **AT)
    for tag, day, disk in (
        ("D1", "2026-02-01", "disk r-1"),
        ("D2", "2026-02-01", "DISK R-1"),
        ("D1", "2026-02-02", "Disk R-1"),
        ("D1", "2026-02-03", "another"),
    ):
        _read(bench, tag, on=day, disk=disk)
    use_medium(bench, "disk r-1", "3", on="2026-02-10", tag="D1", **AT)

    assert (5, "2026-02-10") == (_medium(bench, "Disk R-1").uses, _medium(bench, "Disk R-1").last_used)
    with reading(bench) as conn:
        assert [("another", 1)] == unknown_disks(conn)
    undo(bench, None, **AT)
    assert (2, "2026-02-02") == (_medium(bench, "Disk R-1").uses, _medium(bench, "Disk R-1").last_used)


def test_a_cleaning_disk_is_worn_at_its_last_use_and_a_use_beyond_is_marked(bench: Engine) -> None:
    """It stands among what is due until it is retired; the book keeps its rules."""
    add_medium(bench, "cleaning disk", {"role": "cleaning", "most_uses": "2"}, **AT)
    assert 1 == use_medium(bench, "cleaning disk", **AT).left
    assert [] == _also(bench)
    assert 0 == use_medium(bench, "cleaning disk", **AT).left
    assert [AlsoDue("cleaning disk", None, uses=2, most_uses=2)] == _also(bench)
    assert 0 == scalar(bench, "SELECT count(*) FROM doubt")
    use_medium(bench, "cleaning disk", **AT)
    assert 1 == scalar(bench, "SELECT count(*) FROM doubt WHERE table_name = 'medium'")

    retire_medium(bench, "cleaning disk", reason="worn", **AT)
    assert [] == _also(bench)
    with reading(bench) as conn:
        assert not verify(conn).broken


def test_a_retired_thing_is_refused_after_its_last_day_only(bench: Engine) -> None:
    """Late entries of its last day come in; a later reading is refused, and so is a second retirement."""
    add_medium(bench, "R-1", {"role": "scratch", "from_date": "2026-01"}, **AT)
    retire_medium(bench, "R-1", reason="scratched", on="2026-02-10", **AT)
    retire_instrument(bench, "hand strobe", reason="lamp gone", on="2026-02-10", **AT)
    _read(bench, "D1", on="2026-02-10", disk="R-1")
    _read(bench, "D1", on="2026-02-10", instrument="hand strobe")
    before = digest(bench)

    for more in ({"disk": "r-1"}, {"instrument": "Hand Strobe"}):
        with pytest.raises(Refused, match="was retired on 2026-02-10"):
            _read(bench, "D1", on="2026-02-11", **more)
    with pytest.raises(Refused, match="was retired on"):
        use_medium(bench, "R-1", on="2026-02-11", **AT)
    with pytest.raises(Refused, match="retired since 2026-02-10"):
        retire_instrument(bench, "hand strobe", reason="again", **AT)
    assert before == digest(bench)


def test_a_disk_is_not_retired_before_it_was_there(bench: Engine) -> None:
    """Neither by the day it goes nor, later, by the day it came; on the very day it may."""
    add_medium(bench, "R-2", {"role": "scratch", "from_date": "2026-02-10"}, **AT)
    before = digest(bench)
    with pytest.raises(Refused, match="retired on 2026-02-09, before it was there"):
        retire_medium(bench, "R-2", reason="bent", on="2026-02-09", **AT)
    assert before == digest(bench)

    retire_medium(bench, "R-2", reason="bent", on="2026-02-10", **AT)
    with pytest.raises(Refused, match="before it was there"):
        edit_medium(bench, "R-2", {"from_date": "2026-02-11"}, **AT)
    with reading(bench) as conn:
        assert not verify(conn).broken


def test_a_reading_is_doubtful_from_a_failed_check_until_one_passes(bench: Engine) -> None:
    """On the day of the check and after it, of instruments and of disks; not before."""
    add_medium(bench, "R-1", {"role": "reference"}, **AT)
    check_instrument(bench, "bench counter", "fail", on="2026-02-10", **AT)
    (check,) = _also(bench)
    assert AlsoDue("bench counter", TODAY.replace(month=2, day=10), failed=True, key=check.key) == check
    assert check.key
    assert () == _read(bench, "D1", on="2026-02-09")
    assert ('"bench counter" failed its check on 2026-02-10',) == _read(bench, "D1", on="2026-02-10")

    check_instrument(bench, "bench counter", "pass", on="2026-02-12", **AT)
    check_medium(bench, "R-1", "fail", on="2026-02-12", **AT)
    assert ('"R-1" failed its check on 2026-02-12',) == _read(bench, "D1", on="2026-02-12", disk="R-1")


def test_a_repair_begins_a_period_with_the_figures_of_the_one_before(bench: Engine) -> None:
    """Every measurement gets its new period, the check counts from it, and an earlier day is refused."""
    use = GivenUse(reference_for=(SPEED, "index timing"), from_date="2025-01-05", resolution="0.1")
    add_instrument(bench, "counter 2", {"check_every": "12"}, use, **AT)
    for day in ("2025-01-05", "2025-01-04"):
        with pytest.raises(Refused, match="is not after the day"):
            instrument_repaired(bench, "counter 2", on=day, **AT)
    instrument_repaired(bench, "counter 2", on="2025-01-06", **AT)

    row = _instrument(bench, "counter 2")
    assert 4 == len(row.uses)
    assert {("2025-01-06", True, 0.1)} == {(use[3], use[4], use[5]) for use in row.present.values()}
    assert "2026-01-06" == str(row.check_due)


def _compare(engine: Engine, *tags: str) -> None:
    for name in ("bench counter", "hand strobe"):
        given = GivenRound(SPEED, instrument=name)
        assert keep_round(engine, given, [Answer(tag, "300") for tag in tags], **AT).written


def test_a_reference_goes_when_three_units_were_read_with_both(bench: Engine) -> None:
    """Two are too few and the refusal says how many there are and what to type; the third lets it go."""
    _compare(bench, "D1", "D2")
    before = digest(bench)
    with pytest.raises(Refused) as caught:
        retire_instrument(bench, "bench counter", reason="dropped", **AT)
    assert '2 units were read with it and "hand strobe" on one day since 2025-03-01; 3 are asked' in caught.value.what
    assert 'spindlebook round --of "spindle speed" --instrument "hand strobe"' in caught.value.hint
    assert before == digest(bench)

    _compare(bench, "D4")
    assert "dropped" == retire_instrument(bench, "bench counter", reason="dropped", **AT).retired_reason
    assert 0 == scalar(bench, "SELECT count(*) FROM doubt")


def test_a_reference_goes_without_them_for_a_reason_which_stays_as_a_mark(bench: Engine) -> None:
    """One that was never read goes at once; a reading older than twelve months makes no pair."""
    for tag in ("D1", "D2", "D4"):
        for name in ("bench counter", "hand strobe"):
            _read(bench, tag, on="2025-02-28", instrument=name)
    with pytest.raises(Refused, match="no unit was read"):
        retire_instrument(bench, "bench counter", reason="dropped", **AT)

    retire_instrument(bench, "bench counter", reason="dropped", anyway="it is in pieces", **AT)
    assert "it is in pieces" in scalar(bench, "SELECT rule FROM doubt")
    retire_instrument(bench, "bench meter", reason="never used", **AT)


def test_a_reference_disk_goes_by_the_same_rule(bench: Engine) -> None:
    """Readings of a day that name the one and the other; a disk of another role needs none."""
    for name in ("R-1", "R{2}$"):
        add_medium(bench, name, {"role": "reference"}, **AT)
    for tag in ("D1", "D2", "D4"):
        _read(bench, tag, disk="R-1")
    with pytest.raises(Refused, match="no unit was read with it and") as caught:
        retire_medium(bench, "R-1", reason="worn", **AT)
    assert "spindlebook round --of MEASUREMENT --disk 'R{2}$'. Or" in caught.value.hint
    for tag in ("D1", "D2", "D4"):
        _read(bench, tag, "300.1", disk="r{2}$")
    assert "worn" == retire_medium(bench, "R-1", reason="worn", **AT).retired_reason
    with pytest.raises(Refused, match="only reference"):
        retire_medium(bench, "R{2}$", reason="worn", **AT)


def test_what_does_not_fit_is_refused_and_equal_values_change_nothing(bench: Engine) -> None:
    """Names once, roles of the list, numbers from one on; an edit says what differs."""
    add_medium(bench, "R-1", {"role": "reference", "check_every": "24"}, **AT)
    before = digest(bench)
    wrong: list[tuple[str, dict[str, str]]] = [
        ("r-1", {"role": "scratch"}),
        ("R-2", {}),
        ("R-2", {"role": "alignment"}),
        ("R-2", {"role": "cleaning", "most_uses": "0"}),
        ("R-2", {"role": "scratch", "check_every": "1201"}),
        (" ", {"role": "scratch"}),
    ]
    for name, given in wrong:
        with pytest.raises(Refused):
            add_medium(bench, name, given, **AT)
    with pytest.raises(Refused, match="already"):
        add_instrument(bench, "Bench Counter", {}, GivenUse((SPEED,)), **AT)
    with pytest.raises(Refused, match="measures is not said"):
        add_instrument(bench, "meter 2", {}, GivenUse(), **AT)
    assert () == edit_medium(bench, "R-1", {"role": "Reference", "check_every": "24"}, **AT).changes
    assert before == digest(bench)

    assert (("condition", None, "spotted"), ("check_every_months", 24, None)) == edit_medium(
        bench, "R-1", {"condition": "spotted", "check_every": "never"}, reason="looked at", **AT
    ).changes
    changed = edit_instrument(bench, "bench meter", {"name": "meter 1"}, GivenUse((SPEED,)), **AT)
    assert ("meter 1", (("name", "bench meter", "meter 1"), (SPEED, None, "used"))) == (changed.name, changed.changes)
