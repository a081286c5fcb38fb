"""Kept results are found again only while everything they rest on stands still."""

from pathlib import Path

import pytest
from sqlalchemy.engine import Engine

from collection.store import cache as module
from collection.store.cache import Cache, state_key
from collection.store.engine import reading
from tests.support.books import act, add_person, add_unit


def key(engine: Engine, *subjects: str) -> str:
    """The state of some subjects."""
    with reading(engine) as connection:
        return state_key(connection, subjects, "2026-03-01")


def test_an_act_on_a_subject_makes_its_results_stale_and_leaves_others(engine: Engine) -> None:
    """A new unit moves equipment; a new person does not."""
    before = key(engine, "equipment")
    with act(engine) as work:
        add_person(work)
        work.commit("person")
    assert key(engine, "equipment") == before
    with act(engine) as work:
        add_unit(work)
        work.commit("unit")

    assert key(engine, "equipment") != before


def test_a_result_is_found_under_its_own_key_only(tmp_path: Path) -> None:
    """Another key, another name and another book give nothing."""
    cache = Cache(tmp_path, "book-1")
    cache.save("due", "k1", [{"tag": "D1"}])

    assert cache.load("due", "k1") == [{"tag": "D1"}]
    assert cache.load("due", "k2") is None
    assert cache.load("plan", "k1") is None
    assert Cache(tmp_path, "book-2").load("due", "k1") is None


def test_what_is_kept_is_left_aside_once_a_byte_of_it_is_another(tmp_path: Path) -> None:
    """It is computed anew: a result of the right key and another form would be a mistake each time it is asked for."""
    cache = Cache(tmp_path, "book-1")
    cache.save("due", "k1", [{"tag": "D1"}])
    cache.save_text("list", "k1", "D1\r\nD2")
    assert "D1\r\nD2" == cache.load_text("list", "k1")
    for name, load in (("due.json", cache.load), ("list.txt", cache.load_text)):
        file = tmp_path / "book-1" / name
        whole = file.read_bytes()
        for at in range(len(whole)):
            file.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
            assert load(name.partition(".")[0], "k1") is None
        for torn in (b"", b"{half", whole[:-1], whole + b"\n"):
            file.write_bytes(torn)
            assert load(name.partition(".")[0], "k1") is None


def test_another_program_version_computes_anew(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    """A result made by other code is not trusted."""
    before = key(engine, "equipment")
    monkeypatch.setattr(module, "__version__", "99")

    assert key(engine, "equipment") != before


def test_a_place_that_cannot_be_written_keeps_nothing(tmp_path: Path) -> None:
    """A full or forbidden folder is no reason to fail."""
    (tmp_path / "book-1").write_text("a file where the folder should be")
    cache = Cache(tmp_path, "book-1")

    cache.save("due", "k1", [1])

    assert cache.load("due", "k1") is None
