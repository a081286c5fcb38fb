"""Forgetting a person whose history is closed, on both databases: what goes, what stays, and when it is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event
from sqlalchemy.engine import Engine

from collection.acts.arrivals import GivenArrival, record_arrival
from collection.acts.attachments import GivenPhoto, add_photo
from collection.acts.damage import GivenDamage, add_damage, close_damage
from collection.acts.forget import forget_person
from collection.acts.loan_back import take_back
from collection.acts.loan_out import lend
from collection.acts.people import add_person
from collection.acts.records import edit_person
from collection.acts.reservations import reserve, unreserve
from collection.acts.undo import undo
from collection.acts.units import edit_unit, enter
from collection.acts.who import engine_of
from collection.errors import Expected, Refused, fold
from collection.store.engine import fetch, open_engine, reading, writing
from collection.store.traces import sweep
from collection.views.people import find_person
from collection.views.person_history import history_of_person
from collection.views.person_texts import mentions_of
from collection.views.verify import verify
from tests.support.bench import set_up_bench
from tests.support.books import act, digest, scalar
from tests.support.times import NOW, TODAY

BRAM, LEFT = "Bram Oakhollow", "forgotten person 1"
PERSONAL = ("Oakhollow", "oakhollow", "bram@", "5550199", "Tarn Lane")


@pytest.fixture
def bench(engine: Engine) -> Engine:
    """Return an engine on a shelf of which Bram borrowed D1, owned D2, and got another telephone; all of it is over."""
    set_up_bench(engine, TODAY, NOW)
    lend(engine, ["D1"], to=BRAM, due="2026-04-01", today=TODAY, now=NOW)
    take_back(engine, ["D1"], today=TODAY, now=NOW)
    for owner in (BRAM, "Ilse Vanterpool"):
        enter(engine, "D2", owner=owner, today=TODAY, now=NOW)
    known = {"email": "bram@oakhollow.example", "address": "4 Tarn Lane"}
    for given in (known | {"phone": "5550199"}, {"phone": "5550200"}):
        edit_person(engine, BRAM, given, today=TODAY, now=NOW)
    return engine


def _forget(engine: Engine, name: str = BRAM, reason: str = "left the club") -> str:
    return forget_person(engine, name, reason=reason, today=TODAY, now=NOW)


def _refused(engine: Engine, reason: str = "left the club") -> str:
    before = digest(engine)
    with pytest.raises(Refused) as refusal:
        _forget(engine, reason=reason)
    assert before == digest(engine)
    return str(refusal.value)


def test_a_forgotten_person_is_a_number_and_the_book_verifies(bench: Engine) -> None:
    """Name, addresses, earlier states and salts are gone; loans count as before and the chain of acts is whole."""
    loans = scalar(bench, "SELECT count(*) FROM loan_item WHERE void = 0")
    with reading(bench) as conn:
        salts = {row[0] for row in fetch(conn, "SELECT salt FROM person WHERE name_folded = :n", n=fold(BRAM))}
        assert [] == verify(conn).broken

    assert LEFT == _forget(bench)

    with reading(bench) as conn:
        held = repr([fetch(conn, f"SELECT * FROM {name}") for name in ("person", "act", "change", "seal", "doubt")])
        found = history_of_person(conn, LEFT, TODAY)
        assert [] == verify(conn).broken
    assert [] == [word for word in (*PERSONAL, *salts - {"0" * 32}) if word in held]
    assert loans == scalar(bench, "SELECT count(*) FROM loan_item WHERE void = 0")
    assert [("D1", "2026-03-01")] == [(row.tag, row.back_on) for row in found.loans]
    assert ["D2"] == [each.tag for each in found.owned if each.until]
    assert 0 == scalar(bench, "SELECT count(*) FROM person WHERE salt = :s AND former_of_id IS NOT NULL", s="0" * 32)


def test_the_files_of_the_database_hold_no_old_bytes(bench: Engine) -> None:
    """What was written over is not in free space of a SQLite file; PostgreSQL vacuums the table without a warning."""
    _forget(bench)

    assert sweep(bench)
    with bench.connect() as conn:  # what a sweep sets on its connection to a server is met by nobody else
        conn.exec_driver_sql("UPDATE model SET note = 'x'")
        conn.rollback()
        assert not fetch(conn, "SELECT id FROM model WHERE note = 'x'")

    if bench.dialect.name == "sqlite":
        content = Path(str(bench.url.database)).read_bytes()
        assert [] == [word for word in PERSONAL if word.encode() in content]
    with reading(bench) as conn:
        assert [] == verify(conn).broken


def test_what_is_forgotten_is_written_over_before_anybody_sweeps(sqlite_book: Path) -> None:
    """A sweep may find the file in use: no old bytes wait for it, even where SQLite leaves them by default."""
    engine = open_engine(str(sqlite_book))
    set_up_bench(engine, TODAY, NOW)
    edit_person(engine, BRAM, {"email": "bram@oakhollow.example", "address": "4 Tarn Lane"}, today=TODAY, now=NOW)

    @event.listens_for(engine, "connect")
    def leave_old_bytes(connection: Any, _record: object) -> None:
        connection.execute("PRAGMA secure_delete = OFF")  # what this SQLite was built with may be another default

    assert sweep(engine)  # of what was written before
    assert b"Oakhollow" in sqlite_book.read_bytes()

    _forget(engine)

    content = sqlite_book.read_bytes()
    assert [] == [word for word in PERSONAL if word.encode() in content]


def test_what_cannot_be_swept_now_is_said(bench: Engine) -> None:
    """A SQLite file in use, and a table that another account owns: the answer is no, and nothing is raised."""
    if bench.dialect.name == "sqlite":
        with writing(bench):
            assert not sweep(bench)
        return
    with bench.connect().execution_options(isolation_level="AUTOCOMMIT") as conn:
        conn.exec_driver_sql("DROP ROLE IF EXISTS forget_guest")
        conn.exec_driver_sql("CREATE ROLE forget_guest LOGIN")
    try:
        assert not sweep(open_engine(_as("forget_guest", bench)))
    finally:
        with bench.connect().execution_options(isolation_level="AUTOCOMMIT") as conn:
            conn.exec_driver_sql("DROP ROLE forget_guest")


def _as(role: str, engine: Engine) -> str:
    return engine.url.set(username=role).render_as_string(hide_password=False)


def test_no_undo_brings_a_person_back_or_gives_them_anything(bench: Engine) -> None:
    """Not of the forgetting, nor of what was done to their record before, nor of the return of their loan."""
    _forget(bench)
    before = digest(bench)
    acts = {command: act_id for act_id, command in _acts(bench)}

    for command, words in (
        ("person forget", "have been forgotten"),
        ("person edit", "has changed since"),
        ("loan back", "would leave D1 with a person who was forgotten"),
    ):
        with pytest.raises(Expected, match=words):
            undo(bench, acts[command], today=TODAY, now=NOW)
    undone = [act_id for act_id, command in _acts(bench) if command == "unit enter"]
    with pytest.raises(Refused, match="would leave D2 with"):
        undo(bench, undone[-1], today=TODAY, now=NOW)

    assert before == digest(bench)


def _acts(engine: Engine) -> list[tuple[int, str]]:
    with reading(engine) as conn:
        return [(row[0], row[1]) for row in fetch(conn, "SELECT id, command FROM act ORDER BY id")]


def test_nothing_new_is_put_to_a_forgotten_person(bench: Engine) -> None:
    """No loan and no unit; a second one gets a number of their own, and the name is free again."""
    _forget(bench)
    with pytest.raises(Refused, match="stands for somebody who was forgotten"):
        lend(bench, ["D1"], to=LEFT, due="2026-04-01", today=TODAY, now=NOW)
    with pytest.raises(Refused, match="was forgotten already"):
        _forget(bench, LEFT)

    add_person(bench, BRAM, today=TODAY, now=NOW)

    assert "forgotten person 2" == _forget(bench)


def test_an_open_history_is_not_forgotten(bench: Engine) -> None:
    """A loan either way, a unit of theirs, an open service and the last act each refuse, and say what to type."""
    with act(bench) as work:
        person = find_person(work.conn, BRAM).id
        unit = fetch(work.conn, "SELECT id FROM unit WHERE tag = 'D4'")[0][0]
        service = work.insert("service", name="S-9", unit_id=unit, opened_on="2026-02-01", by_id=person)
        days = {"out_on": "2026-02-01", "due_on": "2026-05-01"}
        loan = work.insert("loan", name="L-9", direction="in", person_id=person, **days)
        item = work.insert("loan_item", loan_id=loan, unit_id=unit)
        work.commit("opened")
    enter(bench, "D2", owner=BRAM, today=TODAY, now=NOW)
    lend(bench, ["D1"], to=BRAM, due="2026-04-01", all_the_same="a test", today=TODAY, now=NOW)

    reserve(bench, ["P1"], to=BRAM, first="2026-03-01", last="2026-03-01", today=TODAY, now=NOW)
    told = _refused(bench)
    assert [True, True] == [words in told for words in ("has D1 on loan", "spindlebook loan back D1")]
    take_back(bench, ["D1"], today=TODAY, now=NOW)
    assert "D4 is still borrowed from" in _refused(bench)
    with act(bench) as work:
        work.update("loan_item", item, back_on="2026-03-01")
        work.commit("returned")
    assert "P1 is reserved for" in _refused(bench)
    unreserve(bench, ["P1"], today=TODAY, now=NOW)
    told = _refused(bench)
    assert [True, True] == [words in told for words in ("owns D2", "spindlebook unit enter D2 --owner")]
    enter(bench, "D2", standing="gone", reason="scrapped", today=TODAY, now=NOW)
    told = _refused(bench)
    assert [True, True] == [words in told for words in ("open service of D4", "service close D4")]
    with act(bench) as work:
        work.update("service", service, closed_on="2026-03-01")
        work.commit("closed")
    add_damage(bench, "D4", GivenDamage("damage", "dented", reported_by=BRAM), today=TODAY, now=NOW)
    assert "spindlebook damage close DL1" in _refused(bench)
    close_damage(bench, "DL1", "left so", today=TODAY, now=NOW)
    _act_by_bram(bench)
    assert "is by Bram Oakhollow" in _refused(bench)
    add_person(bench, "Jory Fenwright", today=TODAY, now=NOW)
    assert LEFT == _forget(bench)
    closed = next(act_id for act_id, command in _acts(bench) if command == "damage close")
    with pytest.raises(Refused, match="would leave DL1 with a person who was forgotten"):
        undo(bench, closed, today=TODAY, now=NOW)


def _act_by_bram(engine: Engine) -> None:
    edit_person(engine, BRAM, {"role": "keeper"}, today=TODAY, now=NOW)
    with act(engine_of(engine, BRAM)) as work:
        work.insert("location", name="loft", name_folded="loft")
        work.commit("added loft")


@pytest.mark.parametrize(
    ("reason", "words"),
    [("", "needs a reason"), (" ", "needs a reason"), ("bram asked", "names the person"), ("5550200", "names")],
)
def test_the_reason_is_given_and_names_nobody(bench: Engine, reason: str, words: str) -> None:
    """It is sealed into the history, where it stays for ever."""
    assert words in _refused(bench, reason)


def test_what_came_with_a_unit_can_be_put_right_while_it_came_no_more_since(bench: Engine) -> None:
    """An earlier arrival stays as it is: nothing corrects it."""
    for day, note in (("2026-02-01", "in the van of Bram"), ("2026-02-02", "Bram carried it")):
        record_arrival(bench, "D2", GivenArrival(on=day, texts={"note": note}), today=TODAY, now=NOW)

    with reading(bench) as conn:
        found = [(each.where, each.text, each.command) for each in mentions_of(conn, find_person(conn, BRAM))]

    assert [
        ("arrival D2", "Bram carried it", "spindlebook arrival D2 --correct --reason TEXT --note TEXT"),
        ("arrival", "in the van of Bram", ""),
    ] == found


def test_notes_of_others_and_pictures_that_name_a_person_are_told(bench: Engine) -> None:
    """A picture by its number among those of its unit; what stood in the note of another goes when that one goes."""
    for name in ("a.png", "b.png"):
        seen = GivenPhoto(name, b"\x89PNG\r\n\x1a\n" + name.encode(), title="Bram at the fair")
        add_photo(bench, "D1", seen, today=TODAY, now=NOW)
    for note in ("lives with Bram", "moved in with Bram", ""):
        edit_person(bench, "Ilse Vanterpool", {"note": note}, today=TODAY, now=NOW)
    edit_person(bench, "Ilse Vanterpool", {"address": "c/o Bram Oakhollow"}, today=TODAY, now=NOW)

    with reading(bench) as conn:
        found = [(each.where, each.text, each.command) for each in mentions_of(conn, find_person(conn, BRAM))]

    former = "a former text, in the history: person"
    assert [
        ("attachment D1 1", "Bram at the fair", "spindlebook photo edit D1 1 --title TEXT"),
        ("attachment D1 2", "Bram at the fair", "spindlebook photo edit D1 2 --title TEXT"),
        (
            "person Ilse Vanterpool",
            "c/o Bram Oakhollow",
            'spindlebook person edit "Ilse Vanterpool" --address TEXT',
        ),
        (former, "lives with Bram", ""),
        (former, "moved in with Bram", ""),
    ] == found


def test_a_name_of_two_letters_is_one_and_the_word_between_names_is_none(engine: Engine) -> None:
    """What is told as "Bo" is found; "of" in the name of a club stands in every second sentence."""
    set_up_bench(engine, TODAY, NOW)
    add_person(engine, "Bo Eld of Wick", role="member", today=TODAY, now=NOW)
    for note in ("kept for Bo", "set of belts"):
        edit_unit(engine, "D1", {"note": note}, today=TODAY, now=NOW)

    with pytest.raises(Refused, match="names the person"):
        _forget(engine, "Bo Eld of Wick", "bo asked")

    with reading(engine) as conn:
        assert ["kept for Bo"] == [each.text for each in mentions_of(conn, find_person(conn, "Bo Eld of Wick"))]
    assert LEFT == _forget(engine, "Bo Eld of Wick", "out of the club")


def test_texts_that_name_a_person_are_found_with_what_changes_them(bench: Engine) -> None:
    """Whole words of notes, however spelt, and former texts; what no command changes names none."""
    for note in ("for BRAM OAKHOLLOW", "bramble, oakhollows", "ask Oakhollow"):
        edit_unit(bench, "D1", {"note": note}, today=TODAY, now=NOW)
    enter(bench, "D3", standing="gone", reason="to bram oakhollow", today=TODAY, now=NOW)

    with reading(bench) as conn:
        found = mentions_of(conn, find_person(conn, BRAM))

    assert ("unit D1", "note", "ask Oakhollow", "spindlebook unit edit D1 --note TEXT") == (
        found[0].where, found[0].field, found[0].text, found[0].command,
    )  # fmt: skip
    assert {"for BRAM OAKHOLLOW", "to bram oakhollow"} == {each.text for each in found[1:]}
    assert len(found) == len(set(found))
    assert {""} == {each.command for each in found[1:]}
