"""Whose act it is, and what the role of who is named may write, on both databases."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy.engine import Engine

from collection.acts.backups import keep
from collection.acts.forget import forget_person
from collection.acts.people import add_person
from collection.acts.restore import restore
from collection.acts.service_given import GivenService
from collection.acts.service_record import record_service
from collection.acts.undo import undo
from collection.acts.who import MAY_WRITE, engine_of
from collection.acts.work import Work
from collection.errors import Refused
from collection.schema.people import ROLES
from collection.store.engine import fetch, open_engine, reading
from tests.support.bench import set_up_bench
from tests.support.books import act, digest, scalar
from tests.support.cli import run_cli
from tests.support.times import NOW, TODAY

LENDING = ("loan out", "loan reserve", "condition add", "damage add", "shelf-check", "sighting add", "fault add")


def _place(engine: Engine, name: str, command: str) -> int:
    with act(engine, command) as work:
        work.insert("location", name=name, name_folded=name)
        work.commit(f"added {name}")
    return work.act_id


def _person(engine: Engine, role: str) -> Engine:
    add_person(engine, f"Ada {role}", role=role, today=TODAY, now=NOW)
    return engine_of(engine, f"ada {role.upper()}")


def _refused(engine: Engine, command: str = "unit edit") -> str:
    before = digest(engine)
    with pytest.raises(Refused) as refusal:
        _place(engine, "loft", command)
    assert before == digest(engine)
    return str(refusal.value)


def test_every_role_is_told_what_it_may_write() -> None:
    """A role without a line would be let in or kept out by accident."""
    assert set(MAY_WRITE) == set(ROLES)


def test_an_act_is_by_the_person_who_is_named(engine: Engine) -> None:
    """The name is folded as every name is; an act without a name is by nobody, and is gated by nothing."""
    keeper = _person(engine, "keeper")
    told: list[Work] = []
    with act(keeper, "unit edit") as work:
        told.append(work)
        work.insert("location", name="loft", name_folded="loft")
        work.commit("added loft")
    nobody = _place(engine, "attic", "unit edit")

    person = scalar(engine, "SELECT id FROM person")
    assert (person, person) == (told[0].who_id, scalar(engine, "SELECT who_id FROM act WHERE command = 'unit edit'"))
    assert scalar(engine, "SELECT who_id FROM act WHERE id = :id", id=nobody) is None


def test_an_issuer_lends_and_checks_and_takes_back_just_that(engine: Engine) -> None:
    """What goes with lending is theirs, undone and brought back too; the rest of the book is a keeper's."""
    issuer = _person(engine, "issuer")
    kept = _place(engine, "attic", "unit edit")
    for number, command in enumerate(LENDING):
        last = _place(issuer, f"shelf {number}", command)
    back = undo(issuer, last, today=TODAY, now=NOW).by_id
    undo(issuer, back, today=TODAY, now=NOW)

    assert 'is an issuer, who lends and checks; "unit edit" is for a keeper' in _refused(issuer)
    assert "is for a keeper" in _refused(issuer, "loaned")
    with pytest.raises(Refused, match='"unit edit" is for a keeper'):
        undo(issuer, kept, today=TODAY, now=NOW)


@pytest.mark.parametrize("role", ["member", "owner", "outside"])
def test_who_only_looks_writes_nothing(engine: Engine, role: str) -> None:
    """Members, owners and people from outside read the book, also when they name themselves; lending is no theirs."""
    assert "writes nothing in it" in _refused(_person(engine, role), "loan out")


def test_who_only_looks_puts_no_backup_in_the_place_of_the_book(sqlite_book: Path, tmp_path: Path) -> None:
    """Nothing is changed and nothing kept aside."""
    engine = open_engine(str(sqlite_book))
    kept = keep(engine, tmp_path / "kept", "", NOW)
    add_person(engine, "Bram Oakhollow", role="member", today=TODAY, now=NOW)

    with pytest.raises(Refused, match="reads the book and writes nothing"):
        restore(engine_of(engine, "Bram Oakhollow"), kept.file, tmp_path / "aside", today=TODAY, now=NOW)
    assert 1 == scalar(engine, "SELECT count(*) FROM person")
    assert not (tmp_path / "aside").exists()


def test_nobody_writes_under_an_unknown_name_or_a_forgotten_one(engine: Engine) -> None:
    """The line says whose name it is about, and how to go on."""
    add_person(engine, "Bram Oakhollow", role="keeper", today=TODAY, now=NOW)
    told = _refused(engine_of(engine, "Bram Oakhallow"))
    assert told.startswith('--who: There is no person "Bram Oakhallow".')
    assert "Nearest: Bram Oakhollow" in told
    left = forget_person(engine, "Bram Oakhollow", reason="left the club", today=TODAY, now=NOW)
    assert "forgotten" in _refused(engine_of(engine, left))


def test_history_shows_by_whom_from_the_option_and_from_the_environment(
    book_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The option wins over the environment, and an empty one names nobody."""
    for role in ("keeper", "issuer"):
        run_cli(["person", "add", f"Ada {role}", "--role", role], db=book_url)
    monkeypatch.setenv("SPINDLEBOOK_WHO", "Ada keeper")
    for place, told in (("attic", []), ("loft", ["--who", ""])):
        assert run_cli([*told, "location", "add", place], db=book_url).code == 0
    refused = run_cli(["--who", "Ada issuer", "location", "add", "cellar"], db=book_url)

    assert (1, 2) == (refused.code, refused.err.count("--who"))
    every = [run_cli(["history", "--csv", more], db=book_url).out.splitlines() for more in ("--acts", "--all")]
    lines = run_cli(["history", "--csv", "--last", "2"], db=book_url).out.splitlines()
    assert ([6, 6], every[0]) == ([len(each) for each in every], every[1])
    assert ["by", "", "Ada keeper"] == [line.split(",")[3] for line in lines]
    assert " by " in run_cli(["history"], db=book_url).out.splitlines()[0]


def test_whoever_writes_did_the_service_unless_somebody_else_is_told(engine: Engine) -> None:
    """Who is named need not be told twice; --by wins, and without either nobody is."""
    set_up_bench(engine, TODAY, NOW)
    ilse = engine_of(engine, "Ilse Vanterpool")
    for tag, by, writes in (("D1", "", ilse), ("D2", "Bram Oakhollow", ilse), ("D4", "", engine)):
        record_service(writes, tag, GivenService(findings="seen", by=by), today=TODAY, now=NOW)

    with reading(engine) as conn:
        sql = "SELECT p.name FROM service s LEFT JOIN person p ON p.id = s.by_id ORDER BY s.id"
        assert ["Ilse Vanterpool", "Bram Oakhollow", None] == [row[0] for row in fetch(conn, sql)]
