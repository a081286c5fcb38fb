"""What a calendar is told of a book, on both databases."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.store.book import open_book
from collection.store.engine import fetch, reading
from collection.views.calendar import BENCH, DUE, EXPIRY, KINDS, LOAN, Entry, calendar_entries, sequence
from tests.support.cli import run_cli
from tests.support.shelf import shelf
from tests.support.times import NOW, TODAY


def entries(engine: Engine, *kinds: str, today: date = TODAY, with_people: bool = True) -> list[Entry]:
    """Return the entries of some kinds, of all kinds where none is named."""
    with reading(engine) as conn:
        return calendar_entries(conn, today, open_book(conn), {}, kinds or KINDS, with_people=with_people)


def test_next_opening_of_a_unit_has_all_that_goes_along(engine: Engine) -> None:
    """One entry a unit on its earliest day; what comes due within 30 days goes along, the rest is told as later."""
    with shelf(engine) as made:
        made.no_procedures()
        for name, months in (("look", 12), ("clean", 13), ("grease", 14)):
            made.procedure(name, every_months=months)
        unit = made.unit("D1")
        made.location(unit, "shelf A")
        made.service(unit, "2025-05-02", "look")
        made.service(unit, "2025-05-01", "clean")
        made.service(unit, "2025-04-02", "grease")
    (entry,) = entries(engine, DUE)
    assert (date(2026, 5, 2), "shelf A") == (entry.day, entry.place)
    # 30 days after 2 May is 1 June; 2 June is a day too late.
    assert entry.title == "due D1: look, clean"
    assert entry.about[-1] == "later: grease, 2026-06-02"


def test_overdue_work_stands_on_today_and_says_since_when(engine: Engine) -> None:
    """A day that is over is looked at by nobody; due today is not overdue."""
    with shelf(engine) as made:
        made.no_procedures()
        made.procedure("look", every_months=12)
        made.service(made.unit("D1"), "2025-02-28", "look")
        made.service(made.unit("D2"), "2025-03-01", "look")
        made.service(made.unit("D3"), "2025-03-02", "look")
    found = entries(engine, DUE)
    assert [TODAY, TODAY, TODAY + timedelta(days=1)] == [entry.day for entry in found]
    assert [True, False, False] == [entry.about[0] == "overdue since 2026-02-28" for entry in found]


def test_entry_keeps_its_identity_when_its_day_moves(engine: Engine) -> None:
    """After a service the same UID stands on the next day with a higher sequence: RFC 5545, 3.8.4.7 and 3.8.7.4."""
    with shelf(engine) as made:
        made.no_procedures()
        made.procedure("look", every_months=12)
        unit = made.unit("D1")
        made.service(unit, "2025-04-02", "look")
    (before,) = entries(engine, DUE)
    with reading(engine) as conn:
        earlier = sequence(conn)
    with shelf(engine) as made:
        made.service(unit, "2026-03-01", "look")
    (after,) = entries(engine, DUE)
    with reading(engine) as conn:
        assert earlier < sequence(conn)
    assert replace(before, day=date(2027, 3, 1), about=after.about) == after
    undo(engine, None, today=TODAY, now=NOW)
    assert [before] == entries(engine, DUE)


def test_loans_are_told_until_they_are_back_and_then_as_ended(engine: Engine) -> None:
    """Out, overdue, borrowed, back within a year and longer ago; without people no name and no loan is told."""
    with shelf(engine) as made:
        made.lend(made.unit("D1"), "2026-01-01", "2026-04")
        made.lend(made.unit("D2"), "2026-01-01", "2026-02-28")
        made.lend(made.unit("D3"), "2026-01-01", "2026-05-01", direction="in")
        made.lend(made.unit("D4"), "2024-12-01", "2025-03-05", back_on="2025-03-01")
        made.lend(made.unit("D5"), "2024-12-01", "2025-03-05", back_on="2025-02-28")
    found = {entry.title: entry for entry in entries(engine, LOAN)}
    assert {
        "D1 is due back from Ilva": (date(2026, 4, 30), False),
        "D2 is due back from Ilva": (TODAY, False),
        "D3 is due back to Ilva": (date(2026, 5, 1), False),
        "D4 is due back from Ilva": (date(2025, 3, 5), True),
    } == {title: (entry.day, entry.ended) for title, entry in found.items()}
    assert found["D2 is due back from Ilva"].about[0] == "overdue since 2026-02-28"
    without = entries(engine, LOAN, with_people=False)
    assert {entry.uid for entry in found.values()} == {entry.uid for entry in without}
    assert not any("Ilva" in str(entry) or entry.personal or "loan L" in str(entry) for entry in without)


def test_a_reservation_stands_on_its_first_day_and_is_ended_when_it_is_over_or_closed(engine: Engine) -> None:
    """Its last day may be today; one that ended over a year ago is told no more, and no name without people."""
    spans = (("D1", "2026-02-20", "2026-03-01", None), ("D2", "2026-02-20", "2026-02-28", None),
             ("D3", "2026-05-01", "2026-05-02", "2026-03-01"), ("D4", "2025-01-01", "2025-02-28", None))  # fmt: skip
    with shelf(engine) as made:
        for tag, first, last, closed_on in spans:
            days = {"from_date": first, "to_date": last, "closed_on": closed_on}
            made.work.insert("reservation", unit_id=made.unit(tag), person_id=made.person("Ilva"), **days)

    assert [
        ("D1 is reserved for Ilva", date(2026, 2, 20), ("until 2026-03-01",), False),
        ("D2 is reserved for Ilva", date(2026, 2, 20), ("until 2026-02-28",), True),
        ("D3 is reserved for Ilva", date(2026, 5, 1), ("until 2026-05-02",), True),
    ] == [(entry.title, entry.day, entry.about, entry.ended) for entry in entries(engine, LOAN)]
    without = entries(engine, LOAN, with_people=False)
    assert not any("Ilva" in str(entry) or entry.personal for entry in without)


def _arrival(tag: str, on: str, by: str = "", sender: str = "Ilva Tarn") -> list[str]:
    words = ["arrival", tag, "--model", "VK 410", "--kind", "drive", "--on", on, "--from", sender, "--for", "her talk"]
    return [*words, *(["--return-by", by] if by else [])]


def test_what_was_brought_for_a_time_is_told_until_it_went_back(book_url: str, engine: Engine) -> None:
    """On the last of its days, or today where that is over; what is borrowed has the day of its loan alone."""
    for line in (
        ["person", "add", "Ilva Tarn"],
        _arrival("D1", "2026-02-01", "2026-04"),
        _arrival("D2", "2026-02-01", "2026-02-28"),
        _arrival("D3", "2026-02-01"),
        _arrival("D4", "2026-02-01", "2026-05-01"),
        ["loan", "in", "D4", "--from", "Ilva Tarn", "--due", "2026-05-02"],
        _arrival("D5", "2024-12-01", "2025-01-01"),
        _arrival("D6", "2024-12-01", "2025-01-01"),
        ["unit", "enter", "D5", "--standing", "gone", "--reason", "back with her", "--on", "2025-03-01"],
        ["unit", "enter", "D6", "--standing", "gone", "--reason", "back with her", "--on", "2025-02-28"],
    ):
        ran = run_cli(line, db=book_url)
        assert ran.code == 0, (line, ran.err)

    found = {entry.title: entry for entry in entries(engine, LOAN)}
    assert {
        "D1 goes back to Ilva Tarn": (date(2026, 4, 30), False),
        "D2 goes back to Ilva Tarn": (TODAY, False),
        "D4 goes back to Ilva Tarn": (date(2026, 5, 1), True),
        "D4 is due back to Ilva Tarn": (date(2026, 5, 2), False),
        "D5 goes back to Ilva Tarn": (date(2025, 1, 1), True),
    } == {title: (entry.day, entry.ended) for title, entry in found.items()}
    assert ("to go back since 2026-02-28", "entry E2", "her talk") == found["D2 goes back to Ilva Tarn"].about
    without = entries(engine, LOAN, with_people=False)
    assert {entry.uid for entry in found.values()} == {entry.uid for entry in without}
    assert not any("Ilva" in str(entry) or "talk" in str(entry) or entry.personal for entry in without)
    with reading(engine) as conn:
        keys = {f"arrival-{row[0]}" for row in fetch(conn, "SELECT key FROM arrival")}
    assert 4 == len(keys & {entry.uid for entry in without})


def test_bench_days_expiries_and_units_that_left(book_url: str, engine: Engine) -> None:
    """Each bench day of eight weeks is told, lots until they are used up, policies until they end, a unit as gone."""
    assert entries(engine, BENCH) == []
    for line in (
        ["book", "set", "--bench-days", "sat", "--bench-minutes", "60"],
        ["supply", "receive", "isopropyl alcohol 99 %", "500", "ml", "--lot", "A-1", "--expires", "2026-06-30"],
        ["policy", "add", "HP-1", "--from", "2026-01-01", "--to", "2026-12-31"],
    ):
        ran = run_cli(line, db=book_url)
        assert ran.code == 0, ran.err
    with shelf(engine) as made:
        made.no_procedures()
        made.procedure("look", every_months=12)
        made.service(made.unit("D1"), "2025-03-20", "look")
        made.standing(made.unit("D2"), "gone", "2025-03-01")
        made.standing(made.unit("D3"), "gone", "2025-02-28")
    bench = entries(engine, BENCH)
    assert [date(2026, 3, 7) + timedelta(weeks=week) for week in range(8)] == [entry.day for entry in bench]
    assert [entry.day for entry in bench if "D1" in entry.title] == [date(2026, 3, 14)]
    expiring = {entry.title: entry.day for entry in entries(engine, EXPIRY)}
    assert {
        "last day of isopropyl alcohol 99 %, lot A-1": date(2026, 6, 30),
        'policy "HP-1" ends': date(2026, 12, 31),
    } == expiring
    assert [("D2 is gone", True)] == [(entry.title, entry.ended) for entry in entries(engine, DUE) if entry.ended]
    taken = run_cli(["supply", "use", "isopropyl alcohol 99 %", "500", "ml", "--reason", "spilt"], db=book_url)
    assert taken.code == 0, taken.err
    assert [True, False] == [entry.ended for entry in entries(engine, EXPIRY)]


def test_every_entry_is_known_by_the_key_of_its_row(book_url: str, engine: Engine) -> None:
    """Never by a number or a name: another book has the same numbers, and a name may be given to another thing."""
    for line in (
        ["book", "set", "--bench-days", "sat"],
        ["supply", "receive", "isopropyl alcohol 99 %", "500", "ml", "--lot", "A-1", "--expires", "2026-06-30"],
        ["policy", "add", "HP-1", "--from", "2026-01-01", "--to", "2026-12-31"],
    ):
        ran = run_cli(line, db=book_url)
        assert ran.code == 0, ran.err
    with shelf(engine) as made:
        made.no_procedures()
        made.procedure("look", every_months=12)
        unit = made.unit("D1")
        made.service(unit, "2025-03-20", "look")
        made.standing(made.unit("D2"), "gone", "2025-03-01")
        made.lend(unit, "2026-01-01", "2026-04")
    tables = {"due": "unit", "loan": "loan_item", "lot": "lot", "policy": "policy"}
    with reading(engine) as conn:
        keys = {f"{kind}-{row[0]}" for kind, table in tables.items() for row in fetch(conn, f"SELECT key FROM {table}")}
        bench = f"bench-{open_book(conn).key}-"
    found = {entry.uid for entry in entries(engine)} | {entry.uid for entry in entries(engine, with_people=False)}
    rows = {uid for uid in found if not uid.startswith(bench)}
    assert rows <= keys
    assert sorted(uid.partition("-")[0] for uid in rows) == ["due", "due", "loan", "lot", "policy"]
