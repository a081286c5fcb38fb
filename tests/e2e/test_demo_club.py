"""What the demo's club notes beside its folder: enough to try lending on it, and there with the rest or not at all."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest

from collection.acts.demo import build_demo
from collection.exchange.demo_folder import demo_import
from collection.store.engine import opened, reading
from collection.views.verify import verify
from tests.support.cli import run_cli
from tests.support.demo import DEMO_DAY
from tests.support.whole_acts import Lender


@pytest.mark.parametrize(
    ("tag", "against"),
    [
        ("P2", ""),
        ("P3", "its electrical safety check of 2025-01-05 is good through 2026-01-05 only."),
        ("P5", "it is fed from the mains and has no electrical safety check; it is in use, not ready."),
        ("D12", "it is reserved from 2026-05-02 to 2026-05-09."),
    ],
)
def test_a_unit_of_the_demo_is_lent_or_says_why_not(lend: Lender, tag: str, against: str) -> None:
    """One mains unit can be lent, one was checked too long ago, one never; one drive is kept for somebody."""
    with lend() as book:
        ran = run_cli(["loan", "out", tag, "--to", "Wen Salloway", "--due", "2026-05-02"], db=book, today=DEMO_DAY)

    assert (1 if against else 0) == ran.code
    assert (against or f"{tag} ") in (ran.err if against else ran.out)


@pytest.mark.parametrize("words", ["safety list", "condition list", "damage list", "loan reservations"])
def test_no_list_of_the_keepers_is_empty_in_the_demo(built_demo: Path, words: str) -> None:
    """And whoever is named in one is a person of the invented club."""
    people = {row["person"] for row in json.loads(run_cli(["person", "list", "--json"], db=built_demo).out)}
    rows = json.loads(run_cli([*words.split(), "--json"], db=built_demo).out)

    named = {row[key] for row in rows for key in ("by", "person", "reported_by") if row.get(key)}
    assert rows
    assert named
    assert named <= people


def test_the_damage_of_the_demo_was_seen_when_a_loan_came_back(built_demo: Path) -> None:
    """Its words say so, and the days of the folder are written elsewhere."""
    loans = json.loads(run_cli(["loan", "list", "--all", "--json"], db=built_demo).out)
    (damage,) = json.loads(run_cli(["damage", "list", "--json"], db=built_demo).out)

    assert (damage["tag"], damage["found_on"]) in {(row["tag"], row["back_on"]) for row in loans}


@pytest.mark.parametrize(
    ("ago", "last"),
    [
        ("1day", f"units not seen since {DEMO_DAY - timedelta(days=1)}. To look: spindlebook shelf-check LOCATION"),
        ("3650days", f"Every unit was seen since {DEMO_DAY - timedelta(days=3650)}."),
    ],
)
def test_what_nobody_saw_for_a_time_is_told_with_the_day_from_which_it_counts(
    built_demo: Path, ago: str, last: str
) -> None:
    """A time that was typed says less than the day, and is not written as a person would."""
    ran = run_cli(["inventory", "--not-seen", ago], db=built_demo, today=DEMO_DAY)

    assert last in ran.out


@pytest.mark.parametrize("day", [date(2028, 2, 29), date(2027, 12, 31), date(2031, 1, 1)])
def test_the_demo_of_any_day_keeps_every_rule(tmp_path: Path, day: date) -> None:
    """What is noted is counted from that day, too."""
    place = tmp_path / "demo"
    noon = datetime.combine(day, time(12), UTC)
    build_demo(place, "invented", demo_import(day), today=day, now=noon)

    with opened(str(place)) as engine, reading(engine) as conn:
        assert [] == verify(conn).broken


def test_a_demo_that_breaks_off_before_its_last_act_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing where nothing was, and the earlier demo as it was, to the byte; a later try works."""
    place = tmp_path / "demo"

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    def tried() -> int:
        with monkeypatch.context() as patch:
            patch.setattr("collection.acts.demo_club.reserve", full)
            return run_cli(["demo"], db=place, today=DEMO_DAY).code

    assert (1, []) == (tried(), [each for each in tmp_path.iterdir() if each.name != "home"])
    assert 0 == run_cli(["demo"], db=place, today=DEMO_DAY).code
    before = place.read_bytes()
    assert (1, before) == (tried(), place.read_bytes())
    assert [place] == [each for each in tmp_path.iterdir() if each.name != "home"]
    assert 0 == run_cli(["demo"], db=place, today=DEMO_DAY).code
