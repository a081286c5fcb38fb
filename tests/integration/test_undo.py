"""Undo takes back what an act left, as long as it still stands so; undo of an undo brings it back."""

import random

import pytest
from sqlalchemy.engine import Engine

from collection.acts.undo import undo
from collection.acts.work import Work
from collection.errors import Moved, Refused
from collection.store.engine import fetch, reading
from collection.views.verify import verify
from tests.support.books import act, add_person, add_unit, digest, scalar
from tests.support.long_run import cases
from tests.support.times import NOW, TODAY


def take_back(engine: Engine, number: int | None = None) -> int:
    """Undo and return the number of the undoing act."""
    return undo(engine, number, today=TODAY, now=NOW).by_id


def done(work: Work) -> int:
    """Commit and return the act's number."""
    work.commit("done")
    return work.act_id


def test_the_last_act_is_undone(engine: Engine) -> None:
    """What the last act changed and added is gone from the effective book."""
    with act(engine) as work:
        unit = add_unit(work, rom="1")
        done(work)
    before = digest(engine, effective=True)
    with act(engine) as work:
        work.update("unit", unit, rom="2")
        work.append("unit_entry", unit_id=unit, what="standing", standing="ready", from_date="2026-01-01")
        done(work)

    take_back(engine)

    assert digest(engine, effective=True) == before


def test_undoing_the_undo_brings_everything_back(engine: Engine) -> None:
    """Rows made by the act and values it set count again."""
    with act(engine) as work:
        unit = add_unit(work, rom="1")
        work.append("unit_entry", unit_id=unit, what="standing", standing="ready", from_date="2026-01-01")
        done(work)
    before = digest(engine, effective=True)

    take_back(engine, take_back(engine))

    assert digest(engine, effective=True) == before


def test_acts_are_undone_one_after_the_other_and_brought_back(engine: Engine) -> None:
    """Stepping back twice and forward twice passes through the same states."""
    states = [digest(engine, effective=True)]
    with act(engine) as work:
        unit = add_unit(work, rom="1")
        done(work)
    states.append(digest(engine, effective=True))
    with act(engine) as work:
        work.update("unit", unit, rom="2")
        done(work)
    states.append(digest(engine, effective=True))

    undone_edit = take_back(engine)
    seen = [digest(engine, effective=True)]
    undone_add = take_back(engine)
    seen.append(digest(engine, effective=True))
    take_back(engine, undone_add)
    seen.append(digest(engine, effective=True))
    take_back(engine, undone_edit)
    seen.append(digest(engine, effective=True))

    assert seen == [states[1], states[0], states[1], states[2]]


def test_an_act_whose_record_changed_since_is_refused(engine: Engine) -> None:
    """The refusal names the record and the later act, and changes nothing."""
    with act(engine) as work:
        unit = add_unit(work)
        first = done(work)
    with act(engine) as work:
        work.update("unit", unit, rom="2")
        later = done(work)
    before = digest(engine)

    with pytest.raises(Moved, match=rf"A unit that act {first} wrote has changed since that act \(act {later}\)"):
        take_back(engine, first)
    assert digest(engine) == before


def test_an_act_is_refused_while_a_later_row_refers_to_what_it_made(engine: Engine) -> None:
    """A unit with a reading of its own cannot be undone from under it."""
    with act(engine) as work:
        unit = add_unit(work)
        first = done(work)
    with act(engine) as work:
        work.append("hour_reading", unit_id=unit, read_on="2026-01-01", hours=3.0, reset=0)
        later = done(work)

    with pytest.raises(Moved, match=f"A later hour reading refers to a unit .* first: spindlebook undo {later}"):
        take_back(engine, first)


@pytest.mark.parametrize("rounds", [1, 2])
def test_what_was_brought_back_and_used_since_is_not_taken_out_again(engine: Engine, rounds: int) -> None:
    """However often an act was undone and brought back, a later row on what it made keeps it in the book."""
    with act(engine) as work:
        unit = add_unit(work)
        number = done(work)
    for _ in range(rounds):
        number = take_back(engine, take_back(engine, number))
    with act(engine) as work:
        work.append("hour_reading", unit_id=unit, read_on="2026-01-01", hours=1.0, reset=0)
        done(work)
    before = digest(engine)

    with pytest.raises(Moved, match="A later hour reading refers to a unit that act 2 made"):
        take_back(engine, number)

    assert digest(engine) == before


@pytest.mark.parametrize("rounds", [1, 2])
def test_an_appended_row_is_not_brought_back_while_its_parent_is_gone(engine: Engine, rounds: int) -> None:
    """However often its act was undone and brought back, a reading of a unit that is gone stays away with it."""
    with act(engine) as work:
        unit = add_unit(work)
        made = done(work)
    with act(engine) as work:
        work.append("hour_reading", unit_id=unit, read_on="2026-01-01", hours=1.0, reset=0)
        taken = done(work)
    for _ in range(rounds):
        taken = take_back(engine, take_back(engine, taken))
    gone = take_back(engine, taken)
    take_back(engine, made)

    with pytest.raises(Moved, match="A hour reading that would come back refers to a unit"):
        take_back(engine, gone)


def test_every_undo_moves_the_counters_of_all_that_it_takes_or_brings_back(engine: Engine) -> None:
    """A kept result never outlives a change: rows that come and go by undos of undos raise their counters each time."""
    with act(engine) as work:
        unit = add_unit(work)
        done(work)
    with act(engine) as work:
        work.append("hour_reading", unit_id=unit, read_on="2026-01-01", hours=1.0, reset=0)
        number = done(work)
    keys = [_maintenance_counter(engine)]
    for _ in range(3):
        number = take_back(engine, number)
        keys.append(_maintenance_counter(engine))

    assert len(set(keys)) == 4
    with reading(engine) as connection:
        assert verify(connection).broken == []


def _maintenance_counter(engine: Engine) -> str:
    return str(scalar(engine, "SELECT key FROM counter WHERE subject = 'maintenance' AND row_id = 0"))


def test_an_edit_is_not_brought_back_when_what_it_stood_on_is_gone(engine: Engine) -> None:
    """Bringing back an edit whose unit has been undone meanwhile is refused."""
    with act(engine) as work:
        unit = add_unit(work)
        done(work)
    with act(engine) as work:
        work.update("unit", unit, rom="2")
        done(work)
    undone_edit = take_back(engine)
    take_back(engine)

    with pytest.raises(Moved, match="does not stand as it stood"):
        take_back(engine, undone_edit)


def test_a_row_is_not_brought_back_when_its_parent_is_gone(engine: Engine) -> None:
    """A unit whose model was undone after it stays away until the model is back."""
    with act(engine) as work:
        unit = add_unit(work)
        done(work)
    with act(engine) as work:
        work.append("unit_entry", unit_id=unit, what="standing", standing="ready", from_date="2026-01-01")
        done(work)
    undone_entry = take_back(engine)
    take_back(engine)

    with pytest.raises(Moved, match="taken back since"):
        take_back(engine, undone_entry)


def test_a_tag_is_free_again_when_the_act_that_gave_it_is_undone(engine: Engine) -> None:
    """The same tag can be given anew; then the first cannot come back."""
    with act(engine) as work:
        add_unit(work, "D7")
        done(work)
    undone = take_back(engine)
    with act(engine) as work:
        model = work.insert("model", maker="", maker_folded="", name="X", name_folded="x", kind="drive")
        work.insert("unit", tag="d7", tag_folded="d7", model_id=model)
        done(work)

    with pytest.raises(Moved, match="given again"):
        take_back(engine, undone)


def test_an_undone_act_cannot_be_undone_again(engine: Engine) -> None:
    """The refusal says which act to name to bring it back."""
    with act(engine) as work:
        add_unit(work)
        first = done(work)
    by = take_back(engine, first)

    with pytest.raises(Refused, match=rf"taken back already, by act {by}\. .*spindlebook undo {by}"):
        take_back(engine, first)


def test_an_undo_that_was_turned_since_is_not_taken_back(engine: Engine) -> None:
    """Else the act would count for nothing by two undos at once, and one of them taken back would bring half of it."""
    with act(engine) as work:
        add_unit(work)
        first = done(work)
    brought = take_back(engine, take_back(engine, first))
    gone = take_back(engine, first)
    before = digest(engine)

    with pytest.raises(Refused, match=rf"brought act {first} back, and .* taken back since, by act {gone}\. .* {gone}"):
        take_back(engine, brought)
    assert before == digest(engine)

    back = take_back(engine, gone)
    gone_again = take_back(engine, brought)  # the first act counts again, as this one left it
    with pytest.raises(Refused, match=rf"Act {back} brought act {first} back"):
        take_back(engine, back)
    once_more = take_back(engine, take_back(engine, gone_again))
    back = take_back(engine, once_more)
    with reading(engine) as connection:
        assert verify(connection).broken == []
    assert 1 == scalar(engine, "SELECT count(*) FROM unit WHERE void = 0")


def test_there_is_nothing_to_undo_in_a_new_book(engine: Engine) -> None:
    """The act that started the book stays."""
    with pytest.raises(Refused, match="nothing to undo"):
        take_back(engine)
    with pytest.raises(Refused, match="started the book"):
        take_back(engine, 1)
    with pytest.raises(Refused, match="no act 99"):
        take_back(engine, 99)


def test_an_edit_of_a_person_is_undone_from_the_persons_former_state(engine: Engine) -> None:
    """Personal values come back although the journal never held them."""
    with act(engine) as work:
        person = add_person(work, "Ada Quill", email="ada@quill.example")
        done(work)
    before = digest(engine, effective=True)
    with act(engine) as work:
        work.update("person", person, email=None, name="A. Quill", name_folded="a. quill")
        done(work)

    undone = take_back(engine)
    assert digest(engine, effective=True) == before
    take_back(engine, undone)

    assert scalar(engine, "SELECT name FROM person WHERE id = :id", id=person) == "A. Quill"
    with reading(engine) as connection:
        assert verify(connection).broken == []


def _random_act(work: Work, chance: random.Random, units: list[int]) -> None:
    if not units or chance.random() < 0.3:
        units.append(add_unit(work, f"R{work.act_id}"))
        return
    unit = chance.choice(units)
    if chance.random() < 0.5:
        work.update("unit", unit, rom=str(work.act_id), note=chance.choice(["a", "b", None]))
    else:
        work.append("hour_reading", unit_id=unit, read_on="2026-01-01", hours=chance.random(), reset=0)


@pytest.mark.parametrize("seed", range(1, cases(2, 4)))
def test_undoing_all_random_acts_gives_the_state_at_the_start(engine: Engine, seed: int) -> None:
    """Whatever was done in whatever order, stepping all the way back ends where it began, and verify stays clean."""
    chance = random.Random(seed)
    start = digest(engine, effective=True)
    units: list[int] = []
    for _ in range(12):
        if chance.random() < 0.25 and units:
            try:
                take_back(engine, chance.randint(2, scalar(engine, "SELECT max(id) FROM act")))
            except (Moved, Refused):
                continue
            with reading(engine) as connection:
                units = [row[0] for row in fetch(connection, "SELECT id FROM unit WHERE void = 0")]
        else:
            with act(engine) as work:
                _random_act(work, chance, units)
                done(work)
    with reading(engine) as connection:
        assert verify(connection).broken == []

    while digest(engine, effective=True) != start:
        take_back(engine)

    with reading(engine) as connection:
        assert verify(connection).broken == []
